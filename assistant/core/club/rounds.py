"""A whole rota ahead of the club: its rounds, passes included, and what is even about them.

What lives here: the rounds one after another, for paper. What must not: the rule for the next round; that is in ``rota``.
"""

from collections import Counter
from collections.abc import Mapping, Sequence
from itertools import pairwise

from assistant.core.club.rota import Roles, after_pass, next_round
from assistant.terms import Seat


def rounds_of(seats: Sequence[Seat], count: int, passes: Mapping[int, Seat] | None = None) -> list[Roles]:
    """The rounds as they will be, or were: a pass changes its round, and the rounds after it pay it back.

    Args:
        passes: who passed in which round, counted from 1.
    """
    rounds: list[Roles] = []
    for number in range(1, count + 1):
        planned = next_round(seats, rounds)
        passing = (passes or {}).get(number)
        rounds.append(after_pass(planned, passing) if passing else planned)
    return rounds


def roles_even_after(rounds: Sequence[Roles]) -> int | None:
    """The first number of rounds after which every child has had each role equally often, None when that does not come."""
    return next((count for count in range(1, len(rounds) + 1) if _roles_even(rounds[:count])), None)


def followers_even_after(rounds: Sequence[Roles]) -> int | None:
    """The same, and every child has followed every other equally often (Williams 1949), along the order of the roles."""
    even = (count for count in range(1, len(rounds) + 1) if _roles_even(rounds[:count]) and _followers_even(rounds[:count]))
    return next(even, None)


def _roles_even(rounds: Sequence[Roles]) -> bool:
    had = Counter(pair for round_ in rounds for pair in round_)
    return len(had) == len(rounds[0]) ** 2 and len(set(had.values())) == 1


def _followers_even(rounds: Sequence[Roles]) -> bool:
    followed = Counter(pair for round_ in rounds for pair in pairwise(seat for seat, _ in round_))
    seats = len(rounds[0])
    return len(followed) == seats * (seats - 1) and len(set(followed.values())) == 1
