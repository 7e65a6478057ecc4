"""What goes wrong with the sound while it is heard, said once when it begins and once when it is over.

What lives here: telling it from the frames alone, counted in samples. What must not: a device, a clock, the words for a person.

    frame after a gap, the device away  ......  AWAY
    hardly a step of int16 for 10 s     ......  SILENT    a switch, a muted key, a cable
    a second in ten at full scale       ......  CLIPPED   a level that is set too high
    5 s of sound waiting                ......  BEHIND    a computer that is too slow, or busy
    5 % too many or too few samples     ......  RATE      a device that keeps another rate than it says
"""

from collections import deque
from collections.abc import Iterator

import numpy as np

from assistant.events import Trouble
from assistant.listening.levels import FULL_SCALE, is_clipped
from assistant.samples import FRAME_SAMPLES, Frame, to_samples
from assistant.terms import Fault, Loss, Seat

SILENT_STEPS = 4
"""From the lowest to the highest sample of a frame. A bare microphone's own noise spans about six (a sensitivity of -26 dBFS at
94 dB SPL and a signal-to-noise ratio of 65 dB, usual in laptops, leave one step of noise, root mean square)."""
SILENT_SAMPLES = to_samples(10)  # no table with children is so still for so long; chosen, not measured
SOUND_SAMPLES = to_samples(0.3)  # a click is no sound
CLIPPED_OF_FRAMES = 10  # one frame in ten of the last ten seconds: rattle alone stays under it
CLIPPED_WINDOW = to_samples(10) // FRAME_SAMPLES
UNCLIPPED_SAMPLES = to_samples(60)
WRONG_SPEED = 0.05  # 44.1 kHz taken for 48 kHz is 8 % slow; a busy machine that loses 3 s a minute has a wrong clock too
BEHIND_SAMPLES, CAUGHT_UP_SAMPLES = to_samples(5), to_samples(1)  # a long unit takes a second or two, which is no trouble


class Watcher:
    """Watches the frames of one source.

    Args:
        seats: whose microphone each of ``Frame.channels`` is.
    """

    def __init__(self, seats: tuple[Seat, ...] = ()) -> None:
        self._microphones = [_Microphone(seat) for seat in seats] or [_Microphone(None)]
        self._next_sample = 0
        self._wrong = dict.fromkeys((Fault.AWAY, Fault.BEHIND, Fault.RATE), False)

    def hear(self, frame: Frame, muted: bool = False) -> list[Trouble]:
        """What began or was over with this frame.

        Args:
            muted: the tool itself speaks: nothing is told from how loud that is.
        """
        follows = frame.start_sample <= self._next_sample
        self._next_sample = frame.end_sample
        return [*self._device(frame, follows), *(self._sound(frame) if follows and not muted else ())]

    def _device(self, frame: Frame, follows: bool) -> Iterator[Trouble]:
        wrong = {
            Fault.AWAY: not follows and (self._wrong[Fault.AWAY] or frame.lost is Loss.AWAY),
            Fault.BEHIND: frame.behind_samples > (CAUGHT_UP_SAMPLES if self._wrong[Fault.BEHIND] else BEHIND_SAMPLES),
            Fault.RATE: abs(frame.speed - 1) > WRONG_SPEED,
        }
        for fault in wrong:
            if wrong[fault] is not self._wrong[fault]:
                yield Trouble(frame.end_sample, fault, None, over=not wrong[fault])
        self._wrong = wrong

    def _sound(self, frame: Frame) -> Iterator[Trouble]:
        for microphone, pcm in zip(self._microphones, frame.channels or (frame.pcm,), strict=True):
            yield from microphone.hear(pcm, frame.end_sample)


class _Microphone:
    def __init__(self, seat: Seat | None) -> None:
        self._seat = seat
        self._silent = False
        self._other_samples = 0  # how long it has been the other way by now
        self._clipped = False
        self._clips = deque([False] * CLIPPED_WINDOW)
        self._clips_in_window = 0
        self._unclipped_samples = 0

    def hear(self, pcm: bytes, sample: int) -> Iterator[Trouble]:
        sound = np.frombuffer(pcm, dtype=np.int16)
        lowest, highest = int(sound.min()), int(sound.max())
        is_full = highest >= FULL_SCALE - 1 or lowest <= -FULL_SCALE
        if self._silence(silent=highest - lowest <= SILENT_STEPS):
            yield Trouble(sample, Fault.SILENT, self._seat, over=not self._silent)
        if self._clipping(clipped=is_full and is_clipped(sound)):
            yield Trouble(sample, Fault.CLIPPED, self._seat, over=not self._clipped)

    def _silence(self, silent: bool) -> bool:
        """Whether it fell silent, or is heard again."""
        self._other_samples = 0 if silent is self._silent else self._other_samples + FRAME_SAMPLES
        if self._other_samples < (SOUND_SAMPLES if self._silent else SILENT_SAMPLES):
            return False
        self._silent, self._other_samples = silent, 0
        return True

    def _clipping(self, clipped: bool) -> bool:
        """Whether it began to clip, or has not for long."""
        self._clips.append(clipped)
        self._clips_in_window += clipped - self._clips.popleft()
        self._unclipped_samples = 0 if clipped else self._unclipped_samples + FRAME_SAMPLES
        often = self._clips_in_window * CLIPPED_OF_FRAMES > CLIPPED_WINDOW
        now = self._unclipped_samples < UNCLIPPED_SAMPLES if self._clipped else often
        changed = now is not self._clipped
        self._clipped = now
        return changed
