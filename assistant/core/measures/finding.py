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

from assistant.core.measures.asking import Asked
from assistant.core.measures.describing import bits
from assistant.core.measures.table import Table
from assistant.core.plans.model import Plan
from assistant.core.words.lexicon import Lexicon
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
    together. ``named`` are the kinds of attributes that were said; ``shortest`` those that the incremental algorithm would
    name. ``more_than_needed`` is None where the request was not enough. ``landmark_kinds`` counts the kinds of piece in the
    build that fit the landmark it names. All three are None where the plan is not known.
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
    more_than_needed: bool | None
    shortest: tuple[str, ...] | None
    says_where: bool
    landmark_kinds: int | None

    derived: ClassVar[tuple[str, ...]] = ("bits",)

    @property
    def bits(self) -> float | None:
        """What all contributions together told; None when nothing fits."""
        return bits(self.before, self.after)


@dataclass(frozen=True, slots=True)
class Finding:
    """Every request of a session as a description. ``knows_built``: it is known which pieces a landmark could be."""

    requests: tuple[Described, ...]
    knows_built: bool

    derived: ClassVar[tuple[str, ...]] = ("cleared", "verdicts", "more_than_needed", "kinds")

    @property
    def opened(self) -> tuple[Described, ...]:
        """Requests whose first contribution fitted more than one kind."""
        return tuple(one for one in self.requests if one.first is Verdict.OPEN)

    @property
    def cleared(self) -> int:
        """How many of those fitted one kind in the end."""
        return sum(one.whole is Verdict.ENOUGH for one in self.opened)

    @property
    def more_than_needed(self) -> int | None:
        """How many requests would have been enough with a word less; None where the plan is not known."""
        known = [one.more_than_needed for one in self.requests if one.more_than_needed is not None]
        return sum(known) if known else None

    @property
    def verdicts(self) -> dict[Verdict, int]:
        """How many requests ended in each verdict."""
        counts = Counter(one.whole for one in self.requests)
        return {verdict: counts[verdict] for verdict in Verdict}

    @property
    def kinds(self) -> dict[str, int]:
        """How often each kind of attribute was said."""
        return dict(Counter(kind for one in self.requests for kind in one.named))


def finding_of(requests: Sequence[Asked], plan: Plan | None = None, lexicon: Lexicon | None = None) -> Finding:
    """Every request of a session as a description.

    Args:
        plan: without it nothing is said about words that were not needed, or about what is built.
        lexicon: with the plan's words in it; without it nothing is said about landmarks.
    """
    described = tuple(_described(asked, Table.at(plan, lexicon, asked.step)) for asked in requests)
    return Finding(described, knows_built=bool(plan and lexicon))


def verdict(request: Request) -> Verdict:
    """How a request stands to the pieces on the tray; whether a word was spare is not looked at."""
    if request.fits_after == 0:
        return Verdict.NOTHING
    return Verdict.OPEN if request.is_open else Verdict.ENOUGH


def _described(asked: Asked, table: Table | None) -> Described:
    first, whole = asked.first, asked.whole
    in_the_end = verdict(whole)
    piece = table.piece_meant(whole) if table else None
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
        whole=in_the_end,
        named=tuple(dict.fromkeys(kind for kind, _ in whole.attributes)),
        more_than_needed=table.names_more(whole) if table and in_the_end is Verdict.ENOUGH else None,
        shortest=table.shortest(piece) if table and piece else None,
        says_where=bool(whole.where),
        landmark_kinds=table.landmarks(whole) if table else None,
    )
