"""What is worth a hint: one small rule each.

What lives here: what each rule waits for. What must not: how often hints come, or their words. A rule sees what was said and
what happened, and names moments at which a hint falls due, each with a question that is asked again at that moment.

No rule looks for a fault in a child, and none knows who is good at what.
"""

from collections import deque
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from enum import StrEnum

from assistant.events import CueStarted, Event, Heard, Lost, Muted, PhaseBegan, Request, StepBegan, StepDone, Understood
from assistant.samples import clock_face, to_samples, to_seconds
from assistant.terms import CHILDREN, Phase, Prompt, Seat

OPEN_FOR_S = 8
OPEN_FOR = to_samples(OPEN_FOR_S)
"""An open request is left alone this long: time to look (3 s or more, Rowe 1986) and to ask back. Chosen, not measured."""

LONG_WAIT = to_samples(3.0)
"""A wait from here on is worth naming: what Rowe 1986 recommends to teachers."""

LONGEST_WAIT = to_samples(30.0)
"""Beyond this nobody was waiting any more. Chosen, not measured."""

SILENT_FOR = to_samples(180.0)
"""A child is quiet for this long before it is mentioned. Chosen, not measured."""

MANY_DIRECT = 4
"""So many direct prompts in two minutes, and more than twice as many as wonderings, are a lot. Chosen, not measured."""

LATELY = to_samples(120.0)

NOT_HEARD = CueStarted | Muted | Lost
"""What shuts the ears or takes sound away: of this time it cannot be said that nobody spoke."""


class HintKind(StrEnum):
    """What a hint is about; the key of its words."""

    QUARREL = "quarrel"
    OPEN = "open"
    ANSWERED = "answered"
    MENDED = "mended"
    WAITED = "waited"
    DIRECT = "direct"
    SILENT = "silent"


@dataclass(frozen=True, slots=True)
class Due:
    """A hint that falls due at a sample, if ``holds`` says yes then. A patient one waits for its minute; others lapse."""

    sample: int
    kind: HintKind
    facts: Mapping[str, object]
    holds: Callable[[], bool] = lambda: True
    patient: bool = False


class Rule:
    """A rule that sees everything and waits for nothing."""

    def said(self, heard: Heard, understood: Understood) -> Iterator[Due]:
        """Somebody said something."""
        yield from ()

    def happened(self, event: Event) -> Iterator[Due]:
        """Something else happened."""
        yield from ()


class OpenRequest(Rule):
    """An open request that nobody asks back about."""

    def __init__(self) -> None:
        self._open: Request | None = None

    def said(self, heard: Heard, understood: Understood) -> Iterator[Due]:
        request = understood.request
        if request and request.is_open:
            self._open = request
            facts = {"seat": heard.seat, "at": heard.start_sample, "kinds": request.kinds_after, "seconds": OPEN_FOR_S}
            yield Due(heard.end_sample + OPEN_FOR, HintKind.OPEN, facts, lambda: self._open is request, patient=True)
        elif request or understood.repair or understood.prompt:
            self._open = None

    def happened(self, event: Event) -> Iterator[Due]:
        if isinstance(event, StepDone | StepBegan | NOT_HEARD):
            self._open = None
        yield from ()


class LongWait(Rule):
    """A child asked, and waited in silence until another child answered."""

    def __init__(self) -> None:
        self._asked: Heard | None = None

    def said(self, heard: Heard, understood: Understood) -> Iterator[Due]:
        asked, self._asked = self._asked, heard if understood.request and heard.seat in CHILDREN else None
        if asked is None or heard.seat not in CHILDREN or heard.seat is asked.seat:
            return
        wait = heard.start_sample - asked.end_sample
        if LONG_WAIT <= wait <= LONGEST_WAIT:
            facts = {"seat": asked.seat, "other": heard.seat, "at": asked.start_sample, "seconds": round(to_seconds(wait))}
            yield Due(heard.sample, HintKind.WAITED, facts)

    def happened(self, event: Event) -> Iterator[Due]:
        if isinstance(event, NOT_HEARD):
            self._asked = None
        yield from ()


class Silence(Rule):
    """A child of whom nothing has been heard for long, while others spoke."""

    def __init__(self, children: tuple[Seat, ...]) -> None:
        self._last = dict.fromkeys(children, 0)

    def said(self, heard: Heard, understood: Understood) -> Iterator[Due]:
        if heard.seat in self._last:
            yield self._after(heard.seat, heard.end_sample)

    def happened(self, event: Event) -> Iterator[Due]:
        if isinstance(event, PhaseBegan) and event.phase is Phase.BUILDING:
            yield from (self._after(seat, event.sample) for seat in self._last)

    def _after(self, seat: Seat, sample: int) -> Due:
        self._last[seat] = sample
        return Due(sample + SILENT_FOR, HintKind.SILENT, {"seat": seat, "at": sample}, lambda: self._holds(seat, sample), True)

    def _holds(self, seat: Seat, sample: int) -> bool:
        return self._last[seat] == sample < max(self._last.values())


class AnsweredFor(Rule):
    """A child added to a request that another child had begun."""

    def __init__(self) -> None:
        self._begun: tuple[int, Seat] | None = None

    def said(self, heard: Heard, understood: Understood) -> Iterator[Due]:
        request = understood.request
        if request is None or heard.seat not in CHILDREN:
            return
        if self._begun is None or self._begun[0] != request.number:
            self._begun = (request.number, heard.seat)
        elif heard.seat is not self._begun[1]:
            facts = {"seat": self._begun[1], "other": heard.seat, "at": heard.start_sample}
            yield Due(heard.sample, HintKind.ANSWERED, facts)


class DirectPrompts(Rule):
    """The adult asks and tells a lot, and wonders less."""

    def __init__(self) -> None:
        self._lately: deque[tuple[int, Prompt]] = deque()

    def said(self, heard: Heard, understood: Understood) -> Iterator[Due]:
        if understood.prompt is None:
            return
        self._lately.append((heard.end_sample, understood.prompt))
        while self._lately[0][0] < heard.end_sample - LATELY:
            self._lately.popleft()
        direct = sum(prompt is Prompt.DIRECT for _, prompt in self._lately)
        if direct >= MANY_DIRECT and direct > 2 * (len(self._lately) - direct):
            self._lately.clear()
            yield Due(heard.sample, HintKind.DIRECT, {"count": direct})


class Quarrel(Rule):
    """Two children want one piece, as far as words tell."""

    def __init__(self, phrases: tuple[str, ...]) -> None:
        self._phrases = phrases

    def said(self, heard: Heard, understood: Understood) -> Iterator[Due]:
        words = f" {heard.text} "
        found = next((phrase for phrase in self._phrases if f" {phrase} " in words), None)
        if found and heard.seat in CHILDREN:
            yield Due(heard.sample, HintKind.QUARREL, {"seat": heard.seat, "words": found, "at": heard.start_sample})


class Mended(Rule):
    """A child asked back, another child answered, and the step was built without asking again."""

    def __init__(self) -> None:
        self._asked_back: Heard | None = None
        self._mended_by: Seat | None = None

    def said(self, heard: Heard, understood: Understood) -> Iterator[Due]:
        if understood.repair:
            self._asked_back, self._mended_by = (heard if heard.seat in CHILDREN else None), None
        elif self._asked_back and not self._mended_by and heard.seat in CHILDREN and heard.seat is not self._asked_back.seat:
            self._mended_by = heard.seat
        yield from ()

    def happened(self, event: Event) -> Iterator[Due]:
        asked, other = self._asked_back, self._mended_by
        if isinstance(event, StepDone):
            self._asked_back = self._mended_by = None
            if asked and other:
                facts = {"seat": asked.seat, "other": other, "at": asked.start_sample}
                yield Due(event.sample, HintKind.MENDED, facts)


def all_rules(children: tuple[Seat, ...], quarrel: tuple[str, ...]) -> tuple[Rule, ...]:
    """Every rule, the one that matters most first."""
    return (Quarrel(quarrel), OpenRequest(), AnsweredFor(), Mended(), LongWait(), DirectPrompts(), Silence(children))


def told(facts: Mapping[str, object], name: Callable[[Seat], str]) -> dict[str, object]:
    """Facts as texts are filled with them: seats by name, ``at`` as a clock shows it."""
    said = {key: name(value) if isinstance(value, Seat) else value for key, value in facts.items()}
    if isinstance(at := facts.get("at"), int):
        said["at"] = clock_face(at)
    return said
