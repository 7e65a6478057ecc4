"""Where speech begins and ends: a machine of four states over the detector's slots.

What lives here: the states, their table, and the correction of the places. What must not: a look at the
sound itself.

    slots      0 0 0 1 0 1 1 1 1 0 1 1 1 0 0 0 0 0 0
    state      quiet starting speaking . stopping . . quiet
    speech           |.................|

Speech begins and ends where the probability crosses the threshold, on the line between the middles of two slots.
"""

from collections import deque
from collections.abc import Iterator
from dataclasses import dataclass
from enum import Enum
from math import ceil

import numpy as np
from numpy.typing import NDArray

from assistant.listening.speech import SLOT_SAMPLES, VOICED, Detector, Slot, frames_of
from assistant.samples import to_samples

START_WINDOW_SLOTS = 4
START_VOICED_SLOTS = 3  # of the last 4, one of them sure: a knock is shorter than 96 ms, or never sure
SILENCE_SLOTS = ceil(to_samples(0.2) / SLOT_SAMPLES)  # 7: the 200 ms that end an inter-pausal unit, rounded up to slots
LONGEST_SAMPLES = to_samples(15)  # a unit is cut here, so that a noise that never stops cannot fill the memory

START_LAG_SAMPLES = to_samples(0.006)  # how late the first crossing is, in the median over dev1 in its three conditions
END_LAG_SAMPLES = to_samples(0.046)  # and the last: chosen so that starts and ends together are biased by 7 ms at most in each


class State(Enum):
    """What the endpoint believes."""

    QUIET = "quiet"
    STARTING = "starting"
    SPEAKING = "speaking"
    STOPPING = "stopping"


class Sign(Enum):
    """What the last slots say."""

    VOICE = "voice"  # this slot is voiced
    SURE = "sure"  # this slot is voiced, and so are its neighbours, one of them surely
    SILENCE = "silence"  # this slot is not voiced
    EMPTY = "empty"  # nor is any other in the start window
    LASTING = "lasting"  # nor any other for as long as it takes to end a unit


_Q, _STA, _SPE, _STO = State.QUIET, State.STARTING, State.SPEAKING, State.STOPPING
TRANSITIONS: dict[State, dict[Sign, State]] = {
    _Q: {Sign.VOICE: _STA, Sign.SURE: _SPE, Sign.SILENCE: _Q, Sign.EMPTY: _Q, Sign.LASTING: _Q},
    _STA: {Sign.VOICE: _STA, Sign.SURE: _SPE, Sign.SILENCE: _STA, Sign.EMPTY: _Q, Sign.LASTING: _Q},
    _SPE: {Sign.VOICE: _SPE, Sign.SURE: _SPE, Sign.SILENCE: _STO, Sign.EMPTY: _STO, Sign.LASTING: _Q},
    _STO: {Sign.VOICE: _SPE, Sign.SURE: _SPE, Sign.SILENCE: _STO, Sign.EMPTY: _STO, Sign.LASTING: _Q},
}
_OPEN = (State.SPEAKING, State.STOPPING)


@dataclass(frozen=True, slots=True)
class Began:
    """Speech began at this sample."""

    start_sample: int


@dataclass(frozen=True, slots=True)
class Ended:
    """Speech, begun and ended at these samples. ``goes_on``: it was only cut, because it had become too long."""

    start_sample: int
    end_sample: int
    goes_on: bool = False


class Endpoint:
    """Turns slots into stretches of speech."""

    def __init__(self) -> None:
        self.state = State.QUIET
        self._window: deque[tuple[Slot, int]] = deque(maxlen=START_WINDOW_SLOTS)
        self._silent_slots = 0
        self._last = Slot(0, 0.0)
        self._rise_sample = 0  # where the last run of voiced slots began
        self._crowded = False  # enough of the window is voiced
        self._start_sample = 0
        self._voiced_until = 0

    def hear(self, slot: Slot) -> Began | Ended | None:
        """What this slot makes known: that speech began, that it ended, or nothing."""
        before = self.state
        self.state = TRANSITIONS[before][self._sign(slot)]
        return self._change(before, slot)

    def finish(self) -> Ended | None:
        """The speech that is still open, ended where it was last heard. The endpoint is quiet afterwards."""
        open_speech = self._speech() if self.state in _OPEN else None
        self.state = State.QUIET
        self._window.clear()
        return open_speech

    def _sign(self, slot: Slot) -> Sign:
        last, self._last = self._last, slot
        if slot.voiced:
            self._rise_sample = self._rise_sample if last.voiced else _crossing(last, slot)
            self._voiced_until = slot.middle_sample
            self._silent_slots = 0
            self._window.append((slot, self._rise_sample))
            return Sign.SURE if self._is_sure() else Sign.VOICE
        self._voiced_until = _crossing(last, slot) if last.voiced else self._voiced_until
        self._silent_slots += 1
        self._window.append((slot, 0))
        if self._silent_slots >= SILENCE_SLOTS:
            return Sign.LASTING
        return Sign.EMPTY if self._silent_slots >= START_WINDOW_SLOTS else Sign.SILENCE

    def _is_sure(self) -> bool:
        voiced = [(near, rise_sample) for near, rise_sample in self._window if near.voiced]
        crowded = len(voiced) >= START_VOICED_SLOTS
        if self.state not in _OPEN and not (crowded and self._crowded):
            self._start_sample = voiced[0][1] - START_LAG_SAMPLES
        self._crowded = crowded
        return crowded and any(near.sure for near, _ in voiced)

    def _change(self, before: State, slot: Slot) -> Began | Ended | None:
        match self.state, before in _OPEN:
            case State.SPEAKING, False:
                return Began(self._start_sample)
            case State.SPEAKING, True if slot.end_sample - self._start_sample >= LONGEST_SAMPLES:
                return self._cut()
            case State.QUIET, True:
                return self._speech()
        return None

    def _cut(self) -> Ended:
        """Too long: this much is a unit, and the next begins where it ends."""
        part = Ended(self._start_sample, self._voiced_until, goes_on=True)
        self._start_sample = self._voiced_until
        return part

    def _speech(self) -> Ended:
        end_sample = max(self._voiced_until - END_LAG_SAMPLES, self._start_sample)
        return Ended(self._start_sample, end_sample)


def _crossing(one: Slot, other: Slot) -> int:
    """Where, between the middles of two slots, the probability crosses the threshold."""
    share = (VOICED - one.probability) / (other.probability - one.probability)
    return other.middle_sample - SLOT_SAMPLES + round(share * SLOT_SAMPLES)


def speech_in(samples: NDArray[np.int16], detector: Detector) -> list[tuple[int, int]]:
    """Where speech begins and ends in a whole recording, as samples of it.

    Args:
        samples: int16 [n] at 16 kHz.
        detector: it is reset first.
    """
    detector.reset(0)
    return [(ended.start_sample, ended.end_sample) for ended in _ended(samples, detector)]


def _ended(samples: NDArray[np.int16], detector: Detector) -> Iterator[Ended]:
    endpoint = Endpoint()
    slots = [slot for frame in frames_of(samples) for slot in detector.hear(frame)] + detector.flush()
    yield from (change for slot in slots if isinstance(change := endpoint.hear(slot), Ended))
    if (last := endpoint.finish()) is not None:
        yield last
