"""What a screen shows of how loud it is: the loudest moment of the last second, and the room behind it.

What lives here: the second. What must not: what is loud (:mod:`assistant.core.club.loudness`), or how it is measured.
"""

from collections import deque

from assistant.core.club.loudness import Loudness
from assistant.listening.levels import Level, Meter
from assistant.samples import FRAME_SAMPLES, Frame, to_samples

FRAMES_A_SECOND = to_samples(1) // FRAME_SAMPLES


class Gauge:
    """Listens along; ``a_second`` frames of each second are enough where the work must not be seen."""

    def __init__(self, a_second: int = FRAMES_A_SECOND) -> None:
        self._meter = Meter()
        self._second: deque[Level] = deque(maxlen=a_second)

    def hear(self, frame: Frame) -> Level:
        """The level of this frame, which is remembered for a second."""
        self._second.append(self._meter.hear(frame))
        return self._second[-1]

    @property
    def loudness(self) -> Loudness | None:
        """How loud it is; None before the first frame."""
        if not self._second:
            return None
        now_db = max(level.rms_db for level in self._second)
        return Loudness(now_db, self._second[-1].floor_db, any(level.clipped for level in self._second))
