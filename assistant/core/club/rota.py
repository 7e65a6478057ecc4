"""Who has which role when: equal turns in each role, and everybody describes to everybody.

What lives here: the choice of the next round from the rounds before. What must not: when to swap; that is the session's.

One rule makes the whole rota: of all the ways to hand out the roles, take the one that leaves the fewest debts. Debts are, in
this order: a role had more often by one child than by another, one child following another more often than a third does
(counted along engineer, supplier, builder), a role kept over the swap. Without passes three children come out as the six rows
of a Williams design (Williams 1949): equal in roles after three rounds, balanced in who follows whom after six. After a pass
the same rule pays the debt back.
"""

from collections import Counter
from collections.abc import Sequence
from itertools import pairwise, permutations
from typing import Any

from assistant.terms import ROLES_BY_CHILDREN, Role, Seat

Roles = tuple[tuple[Seat, Role], ...]
"""Who has which role, in the order engineer, supplier, builder (with two children: builder, supplier)."""


def next_round(seats: Sequence[Seat], rounds: Sequence[Roles]) -> Roles:
    """Who has which role in the round after these.

    Args:
        seats: the two or three children, in their order.
        rounds: every round so far, as it really was: after a pass, as it was after the pass.
    """
    roles = ROLES_BY_CHILDREN[len(seats)]
    choices = (tuple(zip(order, roles, strict=True)) for order in permutations(seats))
    return min(choices, key=lambda choice: _debts([*rounds, choice]))


def after_pass(roles: Roles, seat: Seat) -> Roles:
    """The roles when ``seat`` passes: it changes places with the next seat in order."""
    seats = sorted(held for held, _ in roles)
    taker = seats[(seats.index(seat) + 1) % len(seats)]
    changed = {seat: taker, taker: seat}
    return tuple((changed.get(held, held), role) for held, role in roles)


def role_of(roles: Roles, seat: Seat) -> Role | None:
    """The role of a seat, None for the facilitator or somebody unsure."""
    return dict(roles).get(seat)


def holder(roles: Roles, role: Role) -> Seat:
    """The seat that has this role.

    Raises:
        KeyError: nobody has it: with two children there is no engineer.
    """
    return {held: seat for seat, held in roles}[role]


def describer(roles: Roles) -> Seat:
    """Who describes: the engineer, or the builder when two children play."""
    return roles[0][0]


def _debts(rounds: Sequence[Roles]) -> tuple[int, int, int]:
    had = Counter(pair for round_ in rounds for pair in round_)
    followed = Counter(pair for round_ in rounds for pair in pairwise(seat for seat, _ in round_))
    kept = sum(before == now for before, now in zip(rounds[-2], rounds[-1], strict=True)) if len(rounds) > 1 else 0
    return _unevenness(had), _unevenness(followed), kept


def _unevenness(counts: Counter[Any]) -> int:
    """The sum of squares: smallest when the counts are even, as their sum is fixed by the number of rounds."""
    return sum(count * count for count in counts.values())
