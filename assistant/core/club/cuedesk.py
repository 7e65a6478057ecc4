"""When a cue is said: in a gap, never over a child while that can be avoided, and only while it is still true.

What lives here: the queue of cues and the rule of the gap. What must not: the wording, or how a cue sounds.

::

    speech   ▄▄▄▄▄▄▄▄▄        ▄▄▄▄
    asked          ▲
    gap               ├──0.6 s──┤ would be cut short: wait for the next
    started                         0.6 s after that speech ended
"""

from collections.abc import Iterator

from assistant.events import (
    CueAsked,
    CueDropped,
    CueEnded,
    CueStarted,
    Event,
    Paused,
    Resumed,
    SpeechStarted,
    SpeechStopped,
    Tick,
)
from assistant.samples import to_samples
from assistant.terms import Cue

GAP = to_samples(0.6)  # a cue waits for this much silence; conversation's usual gap is 0.2 s (Levinson & Torreira 2015)
PATIENCE = to_samples(8.0)  # after this a cue takes the next end of speech, however short the silence
LIMIT = to_samples(20.0)  # and after this it is said all the same: somebody has to say that the club is over

_ROLE_CUES = frozenset({Cue.SWAP_SOON, Cue.SWAP, Cue.PASS, Cue.ROLES, Cue.BEGIN})
UNTRUE_AFTER: dict[Cue, frozenset[Cue]] = {
    Cue.SWAP: _ROLE_CUES,
    Cue.PASS: _ROLE_CUES,
    Cue.ROLES: _ROLE_CUES,
    Cue.MODEL_DONE: _ROLE_CUES,
    Cue.CLEAR_AWAY: _ROLE_CUES | {Cue.MODEL_DONE, Cue.TIME_LEFT, Cue.CLEAR_AWAY},
    Cue.END: frozenset(Cue),
}
"""Which waiting cues a newer one makes untrue."""


class CueDesk:
    """Holds the cues that were asked for, and lets each go when there is room for it."""

    def __init__(self) -> None:
        self._waiting: list[CueAsked] = []
        self._speaking = False
        self._playing = False
        self._paused = False
        self._quiet_since = 0

    @property
    def is_idle(self) -> bool:
        """Nothing is waiting and nothing is being said."""
        return not self._waiting and not self._playing

    def receive(self, event: Event) -> tuple[Event, ...]:
        """What the desk makes of an event: a cue that starts now, or cues that are dropped."""
        match event:
            case CueAsked():
                return tuple(self._take(event))
            case SpeechStarted():
                self._speaking = True
            case SpeechStopped():
                self._speaking, self._quiet_since = False, event.end_sample
            case CueEnded():
                self._playing, self._quiet_since = False, event.sample
            case Paused():
                self._paused = True
                return tuple(self._drop(event.sample, frozenset(Cue), "the session is paused"))
            case Resumed():
                self._paused = False
            case Tick():
                return tuple(self._go(event.sample))
        return ()

    def _take(self, asked: CueAsked) -> Iterator[Event]:
        if self._paused:
            yield CueDropped(asked.sample, asked.cue, "the session is paused")
            return
        yield from self._drop(asked.sample, UNTRUE_AFTER.get(asked.cue, frozenset()), f"{asked.cue.value} came after it")
        self._waiting.append(asked)

    def _drop(self, sample: int, cues: frozenset[Cue], why: str) -> Iterator[Event]:
        for asked in [asked for asked in self._waiting if asked.cue in cues]:
            self._waiting.remove(asked)
            yield CueDropped(sample, asked.cue, why)

    def _go(self, sample: int) -> Iterator[Event]:
        if not self._waiting or self._playing:
            return
        asked = self._waiting[0]
        waited = sample - asked.sample
        if not self._may_start(sample - self._quiet_since, waited):
            return
        self._waiting.pop(0)
        self._playing = True
        yield CueStarted(sample, asked.cue, asked.text, waited, over_speech=self._speaking)

    def _may_start(self, silence: int, waited: int) -> bool:
        if self._speaking:
            return waited >= LIMIT
        return silence >= GAP or waited >= PATIENCE
