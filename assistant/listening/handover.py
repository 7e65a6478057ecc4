"""Where one voice takes over from another within a stretch of speech.

What lives here: finding the change, and how far the two overlap. What must not: who the voices are.

A window of a second slides over the stretch, and each window is compared with every seat. Where two seats explain the windows
better than one, there is a change between them::

    windows     |----1----|
                     |----2----|
                          |----3----|
                               |----4----|
    nearest       A    A    B    B          the change lies between the middles of windows 2 and 3
"""

from collections.abc import Callable
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from assistant.listening.levels import FULL_SCALE, quietest
from assistant.listening.networks import SEGMENTATION, open_network
from assistant.samples import to_samples

WINDOW_SAMPLES = to_samples(1.0)
HOP_SAMPLES = to_samples(0.5)
SHORTEST_SAMPLES = WINDOW_SAMPLES + 2 * HOP_SAMPLES  # under two seconds there is no room for two voices
_LEAST_WINDOWS = 2  # on either side of a change
_LEAST_GAIN = 0.12
"""How much nearer (cosine, summed over the windows) two seats must be than one. On dev1, one voice alone never gained more than
0.09, and two voices nearly always gained more than 0.2."""
_REACH_SAMPLES = to_samples(0.4)  # the change lies within this of where the windows place it

Overlap = Callable[[NDArray[np.int16], int], tuple[int, int] | None]
"""Where, near a change, the first voice ends and the second begins; None where it cannot tell the two apart."""


def never_overlap(samples: NDArray[np.int16], change_sample: int) -> tuple[int, int] | None:
    """For when no network tells the voices apart."""
    return None


class Handover(NamedTuple):
    """Where the first voice ends and where the second begins; the second may begin before the first ends."""

    end_sample: int
    start_sample: int


def window_starts(length: int) -> NDArray[np.intp]:
    """Where the windows begin in a stretch of this many samples: int [windows], evenly spread, about half a second apart."""
    count = max(1, round((length - WINDOW_SAMPLES) / HOP_SAMPLES) + 1)
    return np.linspace(0, length - WINDOW_SAMPLES, count).astype(np.intp)


def find_change(likeness: NDArray[np.float32]) -> int | None:
    """The first window of the second voice, or None where one voice explains all windows well enough.

    Args:
        likeness: float32 [windows, seats], the cosine of each window with each seat.
    """
    before = np.cumsum(likeness, axis=0)[:-1]  # [cuts, seats]: what each seat scores before each cut
    whole = before[-1] + likeness[-1]
    gains = before.max(axis=1) + (whole - before).max(axis=1) - whole.max()
    inner = gains[_LEAST_WINDOWS - 1 : len(gains) - _LEAST_WINDOWS + 1]
    if not len(inner) or inner.max() <= _LEAST_GAIN:
        return None
    return int(np.argmax(inner)) + _LEAST_WINDOWS


def place_change(samples: NDArray[np.int16], window: int, overlap: Overlap) -> Handover:
    """Where in a stretch of speech the change before this window lies.

    Args:
        samples: int16 [n], the stretch.
        window: what ``find_change`` found.
        overlap: asked first; where it cannot tell, the change lies at the quietest place near by.
    """
    starts = window_starts(len(samples))
    near = int(starts[window - 1] + starts[window] + WINDOW_SAMPLES) // 2
    if (found := overlap(samples, near)) is not None:
        return Handover(*found)
    first = max(near - _REACH_SAMPLES, 0)
    place = first + quietest(samples[first : near + _REACH_SAMPLES])
    return Handover(place, place)


class OverlapNetwork:
    """Tells up to three voices apart within ten seconds, without knowing whose they are."""

    _LENGTH_SAMPLES = to_samples(10)
    _STEPS = 589  # of 17 ms
    _VOICED = 0.5
    _NEAR_STEPS = 59  # a second: the voices end and begin within this of the change
    _APART_STEPS = 12  # a fifth of a second around the change says nothing about either voice
    _LEAST_SAMPLES = to_samples(0.1)  # of each voice is left

    def __init__(self) -> None:
        self._session = open_network(SEGMENTATION)

    def __call__(self, samples: NDArray[np.int16], change_sample: int) -> tuple[int, int] | None:
        """Where the voice before the change ends and the one after it begins; None where both seem to be one.

        Args:
            samples: int16 [n], the stretch of speech.
            change_sample: about where the change is.
        """
        first = max(change_sample - self._LENGTH_SAMPLES // 2, 0)
        voices = self._voices(samples[first:])
        step = round((change_sample - first) / self._LENGTH_SAMPLES * self._STEPS)
        earlier = int(voices[: max(step - self._APART_STEPS, 1)].sum(axis=0).argmax())
        later = int(voices[step + self._APART_STEPS :].sum(axis=0).argmax())
        near = slice(max(step - self._NEAR_STEPS, 0), step + self._NEAR_STEPS)
        ends, begins = (np.flatnonzero(voices[near, voice] > self._VOICED) for voice in (earlier, later))
        if earlier == later or not len(ends) or not len(begins):
            return None
        to_sample = self._LENGTH_SAMPLES / self._STEPS
        places = (
            first + round((near.start + int(ends[-1]) + 1) * to_sample),
            first + round((near.start + int(begins[0])) * to_sample),
        )
        end_sample, start_sample = (
            min(max(place, self._LEAST_SAMPLES), len(samples) - self._LEAST_SAMPLES) for place in places
        )
        return end_sample, start_sample

    def _voices(self, samples: NDArray[np.int16]) -> NDArray[np.float32]:
        """How likely each of three voices speaks, float32 [589, 3], zero past the end of the sound."""
        sound = np.zeros((1, 1, self._LENGTH_SAMPLES), dtype=np.float32)
        heard = samples[: self._LENGTH_SAMPLES]
        sound[0, 0, : len(heard)] = heard / np.float32(FULL_SCALE)
        (voices,) = self._session.run(None, {"waveforms": sound})
        return np.asarray(voices[0], dtype=np.float32)
