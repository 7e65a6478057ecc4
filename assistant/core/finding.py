"""Whether what was said is enough to find the piece.

What lives here: for each request how many pieces fitted, what that tells in bits, and whether it named more than was needed.
What must not: a mark. An open request is not wrong: "which one?" is the skill being practised, and longer than needed is
how people help one another.
"""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import ClassVar

from assistant.core.asking import Asked
from assistant.core.describing import bits
from assistant.events import Request
from assistant.terms import Role, Seat


class Verdict(StrEnum):
    """How a request's words stand to the pieces on the tray."""

    ENOUGH = "enough"  # one kind of piece fits
    OPEN = "open"  # more than one kind fits
    NOTHING = "nothing fits"


@dataclass(frozen=True, slots=True)
class Described:
    """One request as a description.

    ``before`` pieces were on the tray; ``after_first`` and ``after`` of them fitted the first contribution and all of them
    together. ``named`` are the kinds of attributes that were said.
    """

    number: int
    seat: Seat
    role: Role | None
    step: int | None
    contributions: int
    before: int
    after_first: int
    after: int
    first: Verdict
    whole: Verdict
    named: tuple[str, ...]
    says_where: bool

    derived: ClassVar[tuple[str, ...]] = ("bits",)

    @property
    def bits(self) -> float | None:
        """What all contributions together told; None when nothing fits."""
        return bits(self.before, self.after)


@dataclass(frozen=True, slots=True)
class Finding:
    """Every request of a session as a description."""

    requests: tuple[Described, ...]

    derived: ClassVar[tuple[str, ...]] = ("opened", "cleared", "verdicts", "kinds")

    @property
    def opened(self) -> tuple[Described, ...]:
        """Requests whose first contribution fitted more than one kind."""
        return tuple(one for one in self.requests if one.first is Verdict.OPEN)

    @property
    def cleared(self) -> int:
        """How many of those fitted one kind in the end."""
        return sum(one.whole is Verdict.ENOUGH for one in self.opened)

    @property
    def verdicts(self) -> dict[Verdict, int]:
        """How many requests ended in each verdict."""
        counts = Counter(one.whole for one in self.requests)
        return {verdict: counts[verdict] for verdict in Verdict}

    @property
    def kinds(self) -> dict[str, int]:
        """How often each kind of attribute was said."""
        return dict(Counter(kind for one in self.requests for kind in one.named))


def finding_of(requests: Sequence[Asked]) -> Finding:
    """Every request of a session as a description."""
    return Finding(tuple(map(_described, requests)))


def verdict(request: Request) -> Verdict:
    """How a request stands to the pieces on the tray."""
    if request.fits_after == 0:
        return Verdict.NOTHING
    return Verdict.OPEN if request.is_open else Verdict.ENOUGH


def _described(asked: Asked) -> Described:
    first, whole = asked.first, asked.whole
    return Described(
        number=asked.number,
        seat=asked.seat,
        role=asked.role,
        step=asked.step,
        contributions=len(asked.contributions),
        before=first.fits_before,
        after_first=first.fits_after,
        after=whole.fits_after,
        first=verdict(first),
        whole=verdict(whole),
        named=tuple(kind for kind, _ in whole.attributes),
        says_where=bool(whole.where),
    )
