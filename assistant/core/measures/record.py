"""What the measures need to know of a session, read from its events.

What lives here: the fold that puts each utterance together (who, when, in which role, with which words, to what end), with the
facilitator's corrections in it. What must not: any number about it.

The ``?`` rule: speech of somebody unsure is speech, so that nobody's silence is counted through it, but it is nobody's turn.
The rule for words: an utterance without words (a laugh, a call, words that were not kept) is talk and a turn, but no words.
"""

from bisect import bisect_right
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace

from assistant.core.measures.spans import Span
from assistant.events import (
    Corrected,
    Event,
    Heard,
    Lost,
    Muted,
    Passed,
    PhaseBegan,
    RolesSet,
    SessionClosed,
    SessionOpened,
    StepBegan,
    StepDone,
    StepUndone,
    Tallied,
    TallyUndone,
    Understood,
    Word,
)
from assistant.terms import CHILDREN, Phase, Role, Seat


@dataclass(frozen=True, slots=True)
class Utterance:
    """One heard unit and what it was taken to mean. ``step`` is the step that was being built when it became known.

    ``is_corrected``: the facilitator said who it was, so that its margin tells nothing of this seat.
    """

    number: int
    seat: Seat
    role: Role | None
    span: Span
    margin: float
    words: tuple[Word, ...]
    meaning: Understood | None
    step: int | None
    is_corrected: bool

    @property
    def is_child(self) -> bool:
        """Whether one of the children said it, and it is known which."""
        return self.seat in CHILDREN

    @property
    def texts(self) -> tuple[str, ...]:
        """Its words without their times."""
        return tuple(word.text for word in self.words)

    def cut_to(self, spans: Iterable[Span]) -> Iterator["Utterance"]:
        """The parts of it that lie in these spans, with the words that begin there; what it means stays with the first."""
        meaning = self.meaning
        for part in filter(None, (self.span & span for span in spans)):
            if part == self.span:
                yield self
                return
            words = (word for word in self.words if part.start_sample <= word.start_sample < part.end_sample)
            yield replace(self, span=part, words=tuple(words), meaning=meaning)
            meaning = None


@dataclass(frozen=True, slots=True)
class Step:
    """A step that was finished, and when: at the start of the words that said so, or when the key was pressed."""

    number: int
    done_sample: int


@dataclass(frozen=True, slots=True)
class Record:
    """A session, as far as measures care. Spans and utterances are in order of time."""

    span: Span
    children: tuple[Seat, ...]
    plan: str
    utterances: tuple[Utterance, ...]
    muted: tuple[Span, ...]
    lost: tuple[Span, ...]
    steps: tuple[Step, ...]
    steps_in_plan: int
    swaps: int
    passes: int
    tallies: tuple[Tallied, ...]
    corrections: int
    phases: tuple[tuple[Phase, int], ...]
    """Each phase and the sample at which it began."""


def read_record(events: Iterable[Event]) -> Record:
    """The record of a session, whole or still going on."""
    reader = _Reader()
    for event in events:
        reader.take(event)
    return reader.record()


class _Reader:
    def __init__(self) -> None:
        self.opened = SessionOpened(0, "", (), 0, 0)
        self.now = 0
        self.heard: dict[int, Heard] = {}
        self.steps_at: dict[int, int | None] = {}
        self.meanings: dict[int, Understood] = {}
        self.corrected: dict[int, Seat] = {}
        self.rounds: list[RolesSet] = []
        self.step: int | None = None
        self.done: dict[int, StepDone] = {}
        self.muted: list[Span] = []
        self.lost: list[Span] = []
        self.tallies: list[Tallied] = []
        self.phases: list[tuple[Phase, int]] = []
        self.passes = 0
        self.closed_sample: int | None = None

    def take(self, event: Event) -> None:
        self.now = max(self.now, event.sample)
        match event:
            case SessionOpened():
                self.opened = event
            case SessionClosed():
                self.closed_sample = event.sample
            case PhaseBegan():
                self.phases.append((event.phase, event.sample))
            case Heard():
                self.heard[event.unit] = event
                self.steps_at[event.unit] = self.step
                self.now = max(self.now, event.end_sample)
            case Understood():
                self.meanings[event.unit] = event
            case Corrected():
                self.corrected[event.unit] = event.seat
            case Muted():
                self.muted.append(Span(event.start_sample, event.end_sample))
            case Lost():
                self.lost.append(Span(event.start_sample, event.end_sample))
            case RolesSet():
                self.rounds.append(event)
            case Passed():
                self.passes += 1
            case Tallied():
                self.tallies.append(event)
            case TallyUndone():
                self._untally(event)
            case _:
                self._take_step(event)

    def _untally(self, event: TallyUndone) -> None:
        for tally in reversed(self.tallies):
            if (tally.seat, tally.what) == (event.seat, event.what):
                self.tallies.remove(tally)
                return

    def _take_step(self, event: Event) -> None:
        match event:
            case StepBegan():
                self.step = event.step
            case StepDone():
                self.done[event.step] = event
                self.step = None
            case StepUndone():
                self.done.pop(event.step, None)

    def record(self) -> Record:
        end = self.now if self.closed_sample is None else self.closed_sample
        utterances = sorted((self._utterance(heard) for heard in self.heard.values()), key=_by_time)
        return Record(
            span=Span(self.opened.sample, end),
            children=self.opened.seats or tuple(sorted({one.seat for one in utterances if one.is_child})),
            plan=self.opened.plan,
            utterances=tuple(utterances),
            muted=tuple(sorted(self.muted)),
            lost=tuple(sorted(self.lost)),
            steps=tuple(sorted(map(self._step, self.done.values()), key=lambda step: step.done_sample)),
            steps_in_plan=self.opened.steps,
            swaps=self.rounds[-1].round - 1 if self.rounds else 0,
            passes=self.passes,
            tallies=tuple(self.tallies),
            corrections=len(self.corrected),
            phases=tuple(self.phases),
        )

    def _utterance(self, heard: Heard) -> Utterance:
        seat = self.corrected.get(heard.unit, heard.seat)
        meaning = self.meanings.get(heard.unit)
        return Utterance(
            number=heard.unit,
            seat=seat,
            role=self._role(seat, heard.start_sample),
            span=Span(heard.start_sample, heard.end_sample),
            margin=heard.margin,
            words=heard.words,
            meaning=replace(meaning, seat=seat) if meaning else None,
            step=self.steps_at[heard.unit],
            is_corrected=heard.unit in self.corrected,
        )

    def _role(self, seat: Seat, sample: int) -> Role | None:
        """The role that a seat had when it began to speak."""
        at = bisect_right(self.rounds, sample, key=lambda event: event.sample)
        return dict(self.rounds[at - 1].roles).get(seat) if at else None

    def _step(self, done: StepDone) -> Step:
        heard = self.heard.get(done.unit) if done.unit is not None else None
        return Step(done.step, heard.start_sample if heard else done.sample)


def _by_time(utterance: Utterance) -> tuple[int, int, int]:
    return (utterance.span.start_sample, utterance.span.end_sample, utterance.number)
