"""From blocks of sound, at any rate and of any length, to frames.

What lives here: mixing to mono, resampling (soxr) and cutting, for a file and a microphone alike. What must not: a file or
a device.
"""

import numpy as np
import soxr
from numpy.typing import NDArray

from assistant.samples import FRAME_BYTES, FRAME_SAMPLES, SAMPLE_RATE, Frame

FULL_SCALE = 32_768  # int16: -32768 .. 32767


def to_int16(sound: NDArray[np.float32]) -> NDArray[np.int16]:
    """Sound of -1 .. 1 as int16, clipped where it is louder. What came from int16 comes back bit for bit."""
    return np.clip(np.rint(sound * FULL_SCALE), -FULL_SCALE, FULL_SCALE - 1).astype(np.int16)


class Framer:
    """Cuts one stretch of sound into frames.

    Args:
        rate: of the blocks, in Hz.
        start_sample: where the stretch begins on the time line.
    """

    def __init__(self, rate: int, start_sample: int = 0) -> None:
        self._resampler = None if rate == SAMPLE_RATE else soxr.ResampleStream(rate, SAMPLE_RATE, 1, dtype="float32")
        self._rest = b""
        self._at = start_sample

    @property
    def end_sample(self) -> int:
        """The first sample after the frames that were given out."""
        return self._at

    def push(self, block: NDArray[np.float32]) -> list[Frame]:
        """The frames that are full now. ``block`` is float32 of shape (samples, channels), -1 .. 1."""
        mono = np.nan_to_num(block.mean(axis=1, dtype=np.float32))
        return self._cut(mono if self._resampler is None else self._resampler.resample_chunk(mono))

    def finish(self) -> list[Frame]:
        """The end of the stretch; the last frame is filled up with silence, so that nothing is lost."""
        tail = np.zeros(0, np.float32)
        frames = self._cut(tail if self._resampler is None else self._resampler.resample_chunk(tail, last=True))
        return frames + self._cut(np.zeros(-len(self._rest) // 2 % FRAME_SAMPLES, np.float32))

    def _cut(self, mono: NDArray[np.float32]) -> list[Frame]:
        pcm = self._rest + to_int16(mono).tobytes()
        whole = len(pcm) - len(pcm) % FRAME_BYTES
        self._rest = pcm[whole:]
        frames = [Frame(self._at + at // 2, pcm[at : at + FRAME_BYTES]) for at in range(0, whole, FRAME_BYTES)]
        self._at += whole // 2
        return frames
