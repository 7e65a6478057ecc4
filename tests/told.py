"""Small sessions told in a line or two: rulers for speech, and the events around it.

A ruler has one character for each 100 ms: ``"0001111000"`` is silence, 400 ms of speech, silence.
"""

from collections.abc import Iterable
from itertools import groupby

from assistant.core.spans import Span
from assistant.core.turns import Speech
from assistant.events import Event, Heard, Lost, Muted, SessionClosed, SessionOpened, Word
from assistant.terms import Closing, Seat

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
        *(Lost(span.end_sample, span.start_sample, span.end_sample, "the queue was full") for span in ruled(lost)),
        SessionClosed(end, Closing.SOUND_ENDED),
    ]
