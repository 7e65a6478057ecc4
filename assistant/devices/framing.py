"""From blocks of sound, at any rate and of any length, to frames.

What lives here: mixing to mono, keeping apart what each seat's own microphone hears, resampling (soxr) and cutting, for a file
and a microphone alike. What must not: a file or a device.
"""

import numpy as np
import soxr
from numpy.typing import NDArray

from assistant.samples import FRAME_SAMPLES, SAMPLE_RATE, Frame

FULL_SCALE = 32_768  # int16: -32768 .. 32767


def to_int16(sound: NDArray[np.float32]) -> NDArray[np.int16]:
    """Sound of -1 .. 1 as int16, clipped where it is louder. What came from int16 comes back bit for bit."""
    return np.clip(np.rint(sound * FULL_SCALE), -FULL_SCALE, FULL_SCALE - 1).astype(np.int16)


class Framer:
    """Cuts one stretch of sound into frames.

    Args:
        rate: of the blocks, in Hz.
        start_sample: where the stretch begins on the time line.
        picked: the channels that are microphones of one seat each, counted from 1; their mean is the mix, and each alone is
            in ``Frame.channels``. Without any, all channels are mixed.
    """

    def __init__(self, rate: int, start_sample: int = 0, picked: tuple[int, ...] = ()) -> None:
        self._picked = [number - 1 for number in picked]
        self._tracks = 1 + len(picked)
        resampler = None if rate == SAMPLE_RATE else soxr.ResampleStream(rate, SAMPLE_RATE, self._tracks, dtype="float32")
        self._resampler = resampler
        self._rest = np.zeros((0, self._tracks), np.int16)
        self._at = start_sample

    @property
    def end_sample(self) -> int:
        """The first sample after the frames that were given out."""
        return self._at

    def push(self, block: NDArray[np.float32]) -> list[Frame]:
        """The frames that are full now. ``block`` is float32 of shape (samples, channels), -1 .. 1."""
        heard = block[:, self._picked] if self._picked else block
        mix = heard.mean(axis=1, dtype=np.float32, keepdims=True)  # a sum could be louder than int16 can say
        tracks = np.nan_to_num(np.hstack((mix, heard)) if self._picked else mix)
        return self._cut(tracks if self._resampler is None else self._resampler.resample_chunk(tracks))

    def finish(self) -> list[Frame]:
        """The end of the stretch; the last frame is filled up with silence, so that nothing is lost."""
        tail = self._silence(0)
        frames = self._cut(tail if self._resampler is None else self._resampler.resample_chunk(tail, last=True))
        return frames + self._cut(self._silence(-len(self._rest) % FRAME_SAMPLES))

    def _silence(self, samples: int) -> NDArray[np.float32]:
        return np.zeros((samples, self._tracks), np.float32)

    def _cut(self, tracks: NDArray[np.float32]) -> list[Frame]:
        """The frames in float32 [n, tracks], and in what was left over before."""
        sound = np.concatenate((self._rest, to_int16(tracks)))
        whole = len(sound) - len(sound) % FRAME_SAMPLES
        self._rest = sound[whole:]
        frames = [self._frame(at, sound[at : at + FRAME_SAMPLES]) for at in range(0, whole, FRAME_SAMPLES)]
        self._at += whole
        return frames

    def _frame(self, at: int, sound: NDArray[np.int16]) -> Frame:
        mix, *channels = (track.tobytes() for track in sound.T)
        return Frame(self._at + at, mix, tuple(channels))
