"""The road, from frames of sound to events: start reading here.

::

    frames ──► ears ──► session ──► events ──► cue desk ──► speaker
               speech?  plan, roles,   │       a gap?       says it, ears shut meanwhile
               whose?   clock, tray    ▼
               words?              terminal, summary, exports: folds over the events

1. A source yields frames of 30 ms (:mod:`assistant.devices.files`, :mod:`assistant.devices.microphone`).
2. The ears turn them into stretches of speech with a seat and words (:mod:`assistant.listening.listener`).
3. The session says what follows (:mod:`assistant.core.club.session`); the desk says when there is room for a cue
   (:mod:`assistant.core.club.cuedesk`).
4. Whoever travels the road gets every event, in order. Nothing here keeps one.

What lives here: the order of these stops. What must not: a clock, a file, a rule of the club. The same frames give the same
events, whether they come from a file at full speed, a file at real pace, or a microphone.
"""

from collections import deque
from collections.abc import Callable, Iterable, Iterator
from typing import Protocol

from assistant.core.club.cuedesk import CueDesk
from assistant.core.club.session import Session
from assistant.errors import OutOfTurnError
from assistant.events import Corrected, CueEnded, CueStarted, Event, Marked, Refused, Tick
from assistant.samples import Frame, to_samples
from assistant.terms import Closing, Seat

ECHO = to_samples(0.2)  # the ears stay shut this long after a cue: the room still rings


class Ears(Protocol):
    """Turns frames into what was heard. :class:`assistant.listening.listener.Listener` is the real one."""

    def hear(self, frame: Frame, muted: bool = False) -> list[Event]:
        """What became known with this frame."""
        ...

    def put_right(self, unit: int, seat: Seat) -> None:
        """Somebody said who spoke this unit."""
        ...

    def finish(self) -> list[Event]:
        """What was still open when the sound ended."""
        ...


class Speaker(Protocol):
    """Says cues aloud, or keeps their time when nobody is to hear them."""

    def say(self, text: str, sample: int) -> None:
        """Begin to say this at this sample."""
        ...

    def is_over(self, sample: int) -> bool:
        """Whether at this sample the last text has been said to its end."""
        ...


def no_marks() -> list[Marked]:
    """Nobody presses a key. A mark's own sample is not looked at: it counts from the frame in which it is taken."""
    return []


class Road:
    """One session under way.

    Args:
        ears: what hears.
        session: what follows; not yet opened.
        speaker: what says the cues; without one they are asked for and never said.
        marks: gives the facilitator's keys since it was last asked.
    """

    def __init__(
        self, ears: Ears, session: Session, speaker: Speaker | None = None, marks: Callable[[], list[Marked]] = no_marks
    ) -> None:
        self.ears = ears
        self.session = session
        self.speaker = speaker
        self.marks = marks
        self.desk = CueDesk()
        self._saying: CueStarted | None = None
        self._shut_until = 0

    def travel(self, frames: Iterable[Frame]) -> Iterator[Event]:
        """Every event of the session, in order, until it is over or the frames are."""
        sample = 0
        for event in self.session.open(sample):
            yield from self._follow(event)
        for frame in frames:
            sample = frame.end_sample
            yield from self._frame(frame)
            if self.session.is_over and (self.desk.is_idle or not self.speaker):
                break
        for event in self.ears.finish():
            yield from self._follow(event)
        yield from self.session.close(sample, Closing.SOUND_ENDED)

    def is_shut_at(self, sample: int) -> bool:
        """Whether the ears are shut, because the tool itself speaks."""
        return self._saying is not None or sample <= self._shut_until

    def _frame(self, frame: Frame) -> Iterator[Event]:
        sample = frame.end_sample
        if self._saying and self.speaker and self.speaker.is_over(sample):
            ended, self._saying, self._shut_until = self._saying, None, sample + ECHO
            yield from self._follow(CueEnded(sample, ended.cue))
        for event in self.ears.hear(frame, muted=self.is_shut_at(sample)):
            yield from self._follow(event)
        for mark in self.marks():
            yield from self._mark(mark, sample)
        yield from self._follow(Tick(sample))

    def _mark(self, mark: Marked, sample: int) -> Iterator[Event]:
        marked = Marked(sample, mark.mark, mark.seat, mark.unit, mark.what)
        try:
            yield from self._follow(marked)
        except OutOfTurnError as error:
            yield Refused(sample, marked.mark, str(error))

    def _follow(self, event: Event) -> Iterator[Event]:
        """An event, then all that follows from it, in order."""
        waiting = deque([event])
        while waiting:
            event = waiting.popleft()
            if not isinstance(event, Tick):
                yield event
            if isinstance(event, Corrected):
                self.ears.put_right(event.unit, event.seat)
            waiting.extend(self.session.receive(event))
            if self.speaker:
                waiting.extend(self.desk.receive(event))
                if isinstance(event, CueStarted):
                    self._saying = event
                    self.speaker.say(event.text, event.sample)
