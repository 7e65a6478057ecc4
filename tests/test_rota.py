"""The rota: equal turns, balanced followers, and passes that are paid back."""

from collections import Counter
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.core.club.rota import Roles, after_pass, describer, holder, next_round, role_of
from assistant.terms import Role, Seat

TWO = (Seat.A, Seat.B)
THREE = (Seat.A, Seat.B, Seat.C)


def rota(seats: tuple[Seat, ...], rounds: int) -> list[Roles]:
    made: list[Roles] = []
    for _ in range(rounds):
        made.append(next_round(seats, made))
    return made


def letters(rounds: list[Roles]) -> list[str]:
    return ["".join(seat for seat, _ in roles) for roles in rounds]


def followers(rounds: list[Roles]) -> Counter[tuple[Seat, Seat]]:
    return Counter(pair for roles in rounds for pair in pairwise(seat for seat, _ in roles))


def test_two_children_take_turns_as_builder_and_supplier() -> None:
    # Facts of the trade (common practice, no source): with two children there is a builder and a supplier.
    assert letters(rota(TWO, 4)) == ["AB", "BA", "AB", "BA"]
    assert rota(TWO, 1)[0] == ((Seat.A, Role.BUILDER), (Seat.B, Role.SUPPLIER))


def test_six_rounds_of_three_are_the_rows_of_a_williams_design() -> None:
    # Williams 1949, design for 3 treatments as R's crossdes prints it: 123, 231, 312, 321, 132, 213 (rows in any order).
    rows = {"123", "231", "312", "321", "132", "213"}
    made = letters(rota(THREE, 6))
    assert {row.translate(str.maketrans("ABC", "123")) for row in made} == rows
    assert made == ["ABC", "BCA", "CAB", "ACB", "BAC", "CBA"]


def test_three_children_are_equal_in_roles_after_three_rounds_and_in_followers_only_after_six() -> None:
    # Williams 1949: an odd number needs twice as many rows; each of the 6 ordered successions then comes twice.
    three, six = rota(THREE, 3), rota(THREE, 6)
    assert set(Counter(pair for roles in three for pair in roles).values()) == {1}
    assert len(followers(three)) == 3
    assert followers(six) == {(a, b): 2 for a in THREE for b in THREE if a != b}


def test_a_pass_changes_places_with_the_next_seat() -> None:
    roles = rota(THREE, 1)[0]
    assert letters([after_pass(roles, Seat.A)]) == ["BAC"]
    assert letters([after_pass(roles, Seat.C)]) == ["CBA"]
    assert letters([after_pass(rota(TWO, 1)[0], Seat.B)]) == ["BA"]


@given(st.dictionaries(st.integers(0, 5), st.sampled_from(THREE), max_size=3))
def test_after_passes_the_rota_mends_itself(passes: dict[int, Seat]) -> None:
    made: list[Roles] = []
    for number in range(12):
        roles = next_round(THREE, made)
        made.append(after_pass(roles, passes[number]) if number in passes else roles)
    had = Counter(pair for roles in made for pair in roles)
    assert set(had.values()) == {4}  # 12 rounds, 3 roles: everybody had each role four times


def test_who_is_what() -> None:
    roles = rota(THREE, 1)[0]
    assert describer(roles) == Seat.A
    assert holder(roles, Role.BUILDER) == Seat.C
    assert role_of(roles, Seat.B) == Role.SUPPLIER
    assert role_of(roles, Seat.FACILITATOR) is None
    with pytest.raises(KeyError):
        holder(rota(TWO, 1)[0], Role.ENGINEER)
