"""Repairs: how what was not clear was made clear.

What lives here: who began, who mended, how long it took, and whether it held. What must not: whether there were too many:
asking is the skill being practised.

The three ways to begin (Dingemanse et al. 2015, PLoS ONE 10:e0136100) are told apart by the words: see ``terms.Repair``.
Whoever said what was not clear mends it by speaking next; so does anybody else who says what piece it is.
"""

from bisect import bisect_right
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import islice, takewhile
from typing import ClassVar

from assistant.core.measures.asking import Asked, names_piece
from assistant.core.measures.record import Record, Utterance
from assistant.core.measures.spread import Spread
from assistant.core.words.lexicon import Lexicon
from assistant.samples import SAMPLE_RATE, to_samples
from assistant.terms import Repair, Seat

MENDED_WITHIN = to_samples(60.0)
"""What is said later than this does not mend. Chosen: far longer than any repair should take, short enough that the next
thing said about something else is not taken for it."""

LOOK_BACK = 10
"""So many utterances before a repair are looked at for whose words were not clear. Chosen: the trouble is nearly always in the
last one."""


@dataclass(frozen=True, slots=True)
class Mending:
    """One repair. ``request`` is the number of the request it is about, None when none had been made.

    ``asked`` is whose words were not clear, UNSURE when nobody knows, None when nobody had spoken. ``lasted_samples`` runs from
    the start of the words that began it to the end of the words that mended it, None when nothing did. ``solved``: it was
    mended in words, or the step was built, and the next repair of the same request, if there is one, was begun by somebody
    else. ``untold``: whether it was made clear cannot be told, because nobody knows who began it, or who spoke then.
    """

    kind: Repair
    start_sample: int
    request: int | None
    began: Seat
    asked: Seat | None
    mended: Seat | None
    lasted_samples: int | None
    solved: bool
    untold: bool = False


@dataclass(frozen=True, slots=True)
class Repairs:
    """The repairs of a session, and the length of it that was heard."""

    repairs: tuple[Mending, ...]
    heard_samples: int

    derived: ClassVar[tuple[str, ...]] = ("kinds", "solved", "told", "lasted", "per_hour")

    @property
    def kinds(self) -> dict[Repair, int]:
        """How many began in each way."""
        counts = Counter(repair.kind for repair in self.repairs)
        return {kind: counts[kind] for kind in Repair}

    @property
    def solved(self) -> int:
        """How many were mended and held."""
        return sum(repair.solved for repair in self.repairs)

    @property
    def told(self) -> int:
        """Of how many it can be told whether they were mended."""
        return sum(not repair.untold for repair in self.repairs)

    @property
    def lasted(self) -> Spread:
        """How long the mended ones took."""
        return Spread.of(repair.lasted_samples for repair in self.repairs if repair.lasted_samples is not None)

    @property
    def per_hour(self) -> float | None:
        """Repairs an hour of the session that was heard; None when nothing was."""
        return len(self.repairs) * 3600 * SAMPLE_RATE / self.heard_samples if self.heard_samples else None


def repairs_of(record: Record, requests: Sequence[Asked], heard_samples: int, lexicon: Lexicon | None = None) -> Repairs:
    """Every repair of a session.

    Args:
        heard_samples: how much of the session was heard; the rate rests on it.
        lexicon: without it, words of somebody who does not ask for pieces mend nothing.
    """
    starts = [asked.start_sample for asked in requests]
    begun = [(at, one) for at, one in enumerate(record.utterances) if one.meaning and one.meaning.repair]
    about = [_about(one, requests, starts) for _, one in begun]
    done = {step.number for step in record.steps}
    mendings = []
    for place, ((at, beginning), asked) in enumerate(zip(begun, about, strict=True)):
        assert beginning.meaning and beginning.meaning.repair
        source = _source(record.utterances, at, asked)
        mend = _mend(record.utterances, at, source, lexicon)
        following = zip(begun[place + 1 :], about[place + 1 :], strict=True)
        held = asked is None or beginning.seat not in [one.seat for (_, one), later in following if later is asked][:1]
        solved = held and (mend is not None or (asked is not None and asked.step in done))
        mendings.append(
            Mending(
                kind=beginning.meaning.repair,
                start_sample=beginning.span.start_sample,
                request=asked.number if asked else None,
                began=beginning.seat,
                asked=source,
                mended=mend.seat if mend else None,
                lasted_samples=mend.span.end_sample - beginning.span.start_sample if mend else None,
                solved=solved,
                untold=not solved and mend is None and _unsure_who(record.utterances, at),
            )
        )
    return Repairs(tuple(mendings), heard_samples)


def _about(beginning: Utterance, requests: Sequence[Asked], starts: Sequence[int]) -> Asked | None:
    """The request that a repair is about: the last one begun before it, in the same step."""
    at = bisect_right(starts, beginning.span.start_sample)
    asked = requests[at - 1] if at else None
    return asked if asked and asked.step == beginning.step else None


def _source(utterances: Sequence[Utterance], at: int, asked: Asked | None) -> Seat | None:
    """Whose words were not clear: the request's, or where its own speaker asks back, those of the last to speak before."""
    seat = utterances[at].seat
    if asked and asked.seat is not seat:
        return asked.seat
    return next((one.seat for one in reversed(utterances[max(0, at - LOOK_BACK) : at]) if one.seat is not seat), None)


def _mend(utterances: Sequence[Utterance], at: int, source: Seat | None, lexicon: Lexicon | None) -> Utterance | None:
    """The utterance that mends the repair begun by the one at ``at``."""
    beginning = utterances[at]
    for later in _within_reach(utterances, at):
        if later.seat is beginning.seat or not later.meaning or later.meaning.repair or later.meaning.prompt:
            continue
        if later.seat is source is not Seat.UNSURE or names_piece(later, lexicon):
            return later
    return None


def _within_reach(utterances: Sequence[Utterance], at: int) -> Iterator[Utterance]:
    """What was said late enough after this utterance to mend it, and early enough."""
    beginning = utterances[at]
    last = beginning.span.start_sample + MENDED_WITHIN
    following = islice(utterances, at + 1, None)
    return takewhile(lambda later: later.span.start_sample <= last and later.step == beginning.step, following)


def _unsure_who(utterances: Sequence[Utterance], at: int) -> bool:
    return any(one.seat is Seat.UNSURE for one in (utterances[at], *_within_reach(utterances, at)))
