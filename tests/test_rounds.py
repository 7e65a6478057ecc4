"""A whole rota: equal after three rounds, balanced after six, and mended after a pass."""

from collections import Counter
from itertools import pairwise

import pytest

from assistant.core.club.rounds import followers_even_after, roles_even_after, rounds_of
from assistant.terms import CHILDREN, Seat

A, B, C = CHILDREN


def orders(children: int, count: int, passes: dict[int, Seat] | None = None) -> str:
    return " ".join("".join(seat for seat, _ in round_) for round_ in rounds_of(CHILDREN[:children], count, passes))


def test_three_children_come_out_as_the_six_rows_of_a_williams_design() -> None:
    """Williams 1949, as R's crossdes gives it for three: 123, 231, 312, 321, 132, 213 (in some order of the rows)."""
    assert set(orders(3, 6).split()) == {"ABC", "BCA", "CAB", "CBA", "ACB", "BAC"}
    assert roles_even_after(rounds_of(CHILDREN, 6)) == 3
    assert followers_even_after(rounds_of(CHILDREN, 6)) == 6


def test_in_those_six_rows_each_of_the_six_successions_comes_twice() -> None:
    """Williams 1949: an odd number of treatments needs twice as many rows, and each succession comes twice."""
    pairs = [pair for row in orders(3, 6).split() for pair in pairwise(row)]

    assert {pair: pairs.count(pair) for pair in pairs} == dict.fromkeys([(a, b) for a in "ABC" for b in "ABC" if a != b], 2)


def test_two_children_take_turns() -> None:
    assert orders(2, 4) == "AB BA AB BA"
    assert roles_even_after(rounds_of((A, B), 2)) == followers_even_after(rounds_of((A, B), 2)) == 2


@pytest.mark.parametrize("passes", [{1: A}, {2: B}, {3: C}, {1: B, 2: B}, {4: A, 5: C}])
def test_after_passes_the_roles_are_even_again_after_nine_rounds(passes: dict[int, Seat]) -> None:
    had = Counter(pair for round_ in rounds_of(CHILDREN, 9, passes) for pair in round_)

    assert rounds_of(CHILDREN, 9, passes) != rounds_of(CHILDREN, 9)
    assert set(had.values()) == {3}


def test_too_few_rounds_are_not_called_even() -> None:
    assert roles_even_after(rounds_of(CHILDREN, 2)) is None
    assert followers_even_after(rounds_of(CHILDREN, 5)) is None
