"""The facilitator's keys: one stroke for what cannot wait, two where a seat has to be named.

What lives here: which key means what. What must not: a keyboard.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from assistant.events import Event, Heard, Marked, Paused, Resumed
from assistant.terms import Mark, Seat

HELP = "h"
PUT_AWAY = "x"
UNSHARE = "o"
KEYS: dict[str, tuple[Mark, str]] = {
    " ": (Mark.PAUSE, "space   calm break: the cues stop, the clock goes on; space again ends it"),
    "d": (Mark.STEP_DONE, "d       this step is done"),
    "b": (Mark.STEP_BACK, "b       back: the last step was not done after all"),
    "s": (Mark.SWAP_NOW, "s       swap the roles now"),
    "r": (Mark.SAY_ROLES, "r       say again who has which role"),
    "p": (Mark.PASS, "p A     this child passes its role (then its letter)"),
    "w": (Mark.WHO, "w A     the last turn was spoken by somebody else (then the letter; f: an adult)"),
    "g": (Mark.BEGIN, "g       go: set-up is over, begin to build"),
    "c": (Mark.CLEAR_AWAY, "c       clear away now"),
    "n": (Mark.WITHDRAW, "n A     no longer: throw away what is kept of this session (then who says so; f: an adult)"),
    "q": (Mark.STOP, "q q     stop the session (twice)"),
}
_WITH_SEAT = frozenset({Mark.PASS, Mark.WHO, Mark.WITHDRAW})


@dataclass(frozen=True, slots=True)
class Waiting:
    """What the keys still need, in words for the screen."""

    text: str


class Keys:
    """Turns strokes into marks; needs to see the events to know what the last turn was."""

    def __init__(self, seats: Sequence[Seat]) -> None:
        self._seats = {seat.value.lower(): seat for seat in (*seats, Seat.FACILITATOR)}
        self._first: str | None = None
        self._unit: int | None = None
        self._paused = False

    def see(self, event: Event) -> None:
        """Take note of an event."""
        match event:
            case Heard():
                self._unit = event.unit
            case Paused():
                self._paused = True
            case Resumed():
                self._paused = False

    def press(self, key: str) -> Marked | Waiting | None:
        """What a stroke means: a mark, a wait for the second stroke, or nothing."""
        key = key.lower()
        if self._first is None:
            return self._one(key)
        first, self._first = self._first, None
        return self._two(KEYS[first][0], first, key)

    def _one(self, key: str) -> Marked | Waiting | None:
        if key not in KEYS:
            return None
        mark = KEYS[key][0]
        if mark in _WITH_SEAT:
            self._first = key
            return Waiting(f"{mark.value}: whose? {' '.join(self._seats)}")
        if mark is Mark.STOP:
            self._first = key
            return Waiting("press q once more to stop the session, any other key to go on")
        return Marked(0, Mark.RESUME if mark is Mark.PAUSE and self._paused else mark)

    def _two(self, mark: Mark, first: str, second: str) -> Marked | None:
        if mark is Mark.STOP:
            return Marked(0, mark) if second == first else None
        seat = self._seats.get(second)
        if seat is None:
            return None
        return Marked(0, mark, seat, self._unit if mark is Mark.WHO else None)


def help_lines() -> tuple[str, ...]:
    """One line a key, for the screen."""
    ours = (
        f"{PUT_AWAY}       put the last hint away",
        f"{UNSHARE}       off: the pages are no longer on the home network (--share)",
        f"{HELP}       this list",
    )
    return (*(text for _, text in KEYS.values()), *ours)
