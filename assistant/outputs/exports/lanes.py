"""What the formats have in common: one lane a seat, what is written on it, and the moments that concern everybody.

What lives here: that fold. What must not: a format.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from itertools import groupby

from assistant.core.measures.record import Record, Utterance
from assistant.core.measures.spans import Span, joined
from assistant.events import CueStarted, Event, Passed, Paused, PhaseBegan, Resumed, RolesSet, StepDone, StepUndone
from assistant.terms import Seat

LANES = {Seat.A: "A", Seat.B: "B", Seat.C: "C", Seat.FACILITATOR: "F", Seat.UNSURE: "unsure"}
"""What each lane is called: ``?`` is not allowed in every format."""


@dataclass(frozen=True, slots=True)
class Moment:
    """Something that concerns everybody, and when."""

    sample: int
    text: str


def label(utterance: Utterance) -> str:
    """What is written on an utterance: its words where they were kept, else what it does."""
    return " ".join(utterance.texts) or doing(utterance)


def doing(utterance: Utterance) -> str:
    """What an utterance does, ``"request, 3 fit"``."""
    meaning = utterance.meaning
    if meaning is None:
        return "speech"
    detail = meaning.repair or meaning.prompt or meaning.praise
    if meaning.request:
        return f"{meaning.act}, {meaning.request.fits_after} fit"
    return f"{meaning.act}, {detail}" if detail else meaning.act.value


def lane(record: Record, seat: Seat) -> tuple[Utterance, ...]:
    """The utterances of a seat, in order and apart: where two overlap, the later one begins when the earlier ends."""
    apart: list[Utterance] = []
    for utterance in record.utterances:
        if utterance.seat is seat:
            start = max(utterance.span.start_sample, apart[-1].span.end_sample if apart else 0)
            if span := Span(start, utterance.span.end_sample):
                apart.append(replace(utterance, span=span))
    return tuple(apart)


def lanes(record: Record) -> dict[Seat, tuple[Utterance, ...]]:
    """Every lane that there is: the children and the facilitator always, somebody unsure when there was one."""
    always = (*record.children, Seat.FACILITATOR)
    found = {seat: lane(record, seat) for seat in LANES}
    return {seat: said for seat, said in found.items() if said or seat in always}


def unheard(record: Record) -> dict[str, tuple[Span, ...]]:
    """The stretches in which silence is not silence: the tool itself spoke, or sound was lost. By their names."""
    return {"muted": joined(record.muted), "lost": joined(record.lost)}


def moments(events: Iterable[Event]) -> tuple[Moment, ...]:
    """Steps, swaps, cues, phases and breaks, each once; those of one sample are joined."""
    found = sorted(((sample, text) for event in events for sample, text in _moment(event)), key=lambda one: one[0])
    return tuple(
        Moment(sample, "; ".join(dict.fromkeys(text for _, text in group)))
        for sample, group in groupby(found, key=lambda one: one[0])
    )


def _moment(event: Event) -> Iterator[tuple[int, str]]:
    match event:
        case RolesSet():
            yield event.sample, "roles: " + ", ".join(f"{seat} {role}" for seat, role in event.roles)
        case StepDone():
            yield event.sample, f"step {event.step} done"
        case StepUndone():
            yield event.sample, f"step {event.step} not done after all"
        case CueStarted():
            yield event.sample, f"cue: {event.cue}"
        case PhaseBegan():
            yield event.sample, f"phase: {event.phase}"
        case Passed():
            yield event.sample, f"{event.seat} passes"
        case Paused() | Resumed():
            yield event.sample, "break" if isinstance(event, Paused) else "break over"
