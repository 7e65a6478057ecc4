"""Small sessions told in a line or two: rulers for speech, stories for what was meant, and the events around them.

A ruler has one character for each 100 ms: ``"0001111000"`` is silence, 400 ms of speech, silence. A story is a list of who said
what from when to when, and what the session took it for.
"""

from collections.abc import Iterable
from itertools import groupby

from assistant.core.measures.spans import Span
from assistant.core.measures.turns import Speech
from assistant.events import (
    Event,
    Heard,
    Lost,
    Muted,
    Request,
    RolesSet,
    SessionClosed,
    SessionOpened,
    StepBegan,
    StepDone,
    Understood,
    Word,
)
from assistant.samples import to_samples
from assistant.terms import ROLES_BY_CHILDREN, Act, Closing, Loss, Praise, Prompt, Repair, Role, Seat

MS = 16  # samples in a millisecond
TENTH = 100 * MS


def ms(start: float, end: float) -> Span:
    """A span in milliseconds."""
    return Span(round(start * MS), round(end * MS))


def seat(letter: str) -> Seat:
    """``"U"`` is a letter that can be a keyword where ``"?"`` cannot."""
    return Seat.UNSURE if letter == "U" else Seat(letter)


def ruled(ruler: str) -> list[Span]:
    """The spans in which a ruler says 1. Spaces are for the eye."""
    spans, at = [], 0
    for sign, run in groupby(ruler.replace(" ", "")):
        length = len(list(run)) * TENTH
        if sign == "1":
            spans.append(Span(at, at + length))
        at += length
    return spans


def speech(**spans_ms: Iterable[tuple[float, float]]) -> list[Speech]:
    """``speech(A=[(0, 1000)], B=[(1200, 1500)])``, in milliseconds."""
    return [Speech(ms(*span), seat(letter)) for letter, spans in spans_ms.items() for span in spans]


def heard(unit: int, who: Seat, span: Span, text: str = "", margin: float = 0.2) -> Heard:
    """A unit as the ears would hand it on, its words spread evenly over it."""
    words = text.split()
    step = span.length // max(1, len(words))
    at = span.start_sample
    said = tuple(Word(word, at + number * step, at + (number + 1) * step) for number, word in enumerate(words))
    return Heard(span.end_sample, unit, span.start_sample, span.end_sample, who, margin, said)


def session(muted: str = "", lost: str = "", seats: str = "ABC", length_s: float | None = None, **lanes: str) -> list[Event]:
    """A session from rulers, one lane a seat; it closes where the longest ruler ends, or after ``length_s``."""
    spans = sorted((span, seat(letter)) for letter, ruler in lanes.items() for span in ruled(ruler))
    rulers = [ruler.replace(" ", "") for ruler in (muted, lost, *lanes.values())]
    end = max(map(len, rulers)) * TENTH if length_s is None else round(length_s * 1000 * MS)
    return [
        SessionOpened(0, "Four-block tower", tuple(map(Seat, seats)), 4, end),
        *(heard(number, who, span) for number, (span, who) in enumerate(spans)),
        *(Muted(span.end_sample, span.start_sample, span.end_sample) for span in ruled(muted)),
        *(Lost(span.end_sample, span.start_sample, span.end_sample, Loss.BEHIND) for span in ruled(lost)),
        SessionClosed(end, Closing.SOUND_ENDED),
    ]


def asked(number: int, *, before: int = 8, after: int = 1, kinds: int = 1, where: str = "", **attributes: str) -> Request:
    """A request, ``asked(1, colour="red", before=8, after=3, kinds=2)``."""
    return Request(number, tuple(attributes.items()), 1, tuple(where.split()), before, after, kinds)


class Story:
    """A session told utterance by utterance. Times are in seconds; roles go to A, B and C in the order of the terms."""

    def __init__(self, seats: str = "ABC") -> None:
        self.seats = tuple(map(Seat, seats))
        self.roles = dict(zip(self.seats, ROLES_BY_CHILDREN[len(seats)], strict=True))
        self.now = 0
        self._units = 0
        self._told: list[Event] = [
            SessionOpened(0, "Little boat", self.seats, 8, to_samples(3600)),
            RolesSet(0, 1, tuple(self.roles.items())),
            StepBegan(0, 1, None),
        ]

    def says(
        self,
        who: str,
        start_s: float,
        end_s: float,
        text: str = "",
        request: Request | None = None,
        repair: Repair | None = None,
        prompt: Prompt | None = None,
        praise: Praise | None = None,
        act: Act | None = None,
    ) -> "Story":
        """Somebody says something. The act follows from what is given, as it does in a session."""
        self._units += 1
        unit = heard(self._units, Seat(who), Span(to_samples(start_s), to_samples(end_s)), text)
        acts = {Act.REQUEST: request, Act.REPAIR: repair, Act.PRAISE: praise, Act.PROMPT: prompt}
        act = act or next((name for name, given in acts.items() if given), Act.OTHER)
        role: Role | None = self.roles.get(unit.seat)
        understood = Understood(unit.sample, self._units, unit.seat, role, act, request, repair, prompt, praise)
        return self.then(unit, understood)

    def done(self, step: int, at_s: float | None = None) -> "Story":
        """A step is done: by the last utterance, or by a key at a time."""
        sample = self.now if at_s is None else to_samples(at_s)
        return self.then(StepDone(sample, step, self._units if at_s is None else None), StepBegan(sample, step + 1, None))

    def then(self, *events: Event) -> "Story":
        """Whatever else happens."""
        self._told.extend(events)
        self.now = max(self.now, *(event.sample for event in events))
        return self

    def ends(self, at_s: float) -> list[Event]:
        """The whole story, with its end."""
        return [*self._told, SessionClosed(to_samples(at_s), Closing.STOPPED)]
