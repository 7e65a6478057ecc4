"""How loud, when: what the sound itself says about boundaries.

What lives here: levels, and the places that they point to. What must not: any network, any voice.
"""

import numpy as np
from numpy.typing import NDArray

from assistant.samples import to_samples

FULL_SCALE = 32768
_HOP_SAMPLES = to_samples(0.005)
_WIDTH_SAMPLES = to_samples(0.02)
_SPEECH_PERCENTILE = 95  # the level of speech: exceeded by its loudest twentieth
_FADED_DB = 18  # a voice that has sunk this far is over, what follows is the room's echo; chosen on dev1 among 8 to 20


def decibels(samples: NDArray[np.int16]) -> float:
    """The level of a stretch of sound, root mean square under full scale. Nothing at all is -120."""
    if not len(samples):
        return -120.0
    return float(10 * np.log10(np.mean(np.square(samples / FULL_SCALE)) + 1e-12))


def levels(samples: NDArray[np.int16]) -> NDArray[np.float64]:
    """The level of every 20 ms, each 5 ms, in decibels under full scale.

    Args:
        samples: int16 [n].

    Returns:
        float64 [hops]; hop number h covers samples 80 h to 80 h + 320. Empty where n is under 320.
    """
    energy = np.concatenate(([0.0], np.cumsum(np.square(samples / FULL_SCALE))))
    starts = np.arange(0, len(samples) - _WIDTH_SAMPLES + 1, _HOP_SAMPLES)
    return np.asarray(10 * np.log10((energy[starts + _WIDTH_SAMPLES] - energy[starts]) / _WIDTH_SAMPLES + 1e-12))


def faded(samples: NDArray[np.int16]) -> int:
    """Where a stretch of speech has sunk well under its own level for good: the sample after its last loud 20 ms."""
    loudness = levels(samples)
    if not len(loudness):
        return len(samples)
    loud = np.flatnonzero(loudness > np.percentile(loudness, _SPEECH_PERCENTILE) - _FADED_DB)
    return int(loud[-1]) * _HOP_SAMPLES + _WIDTH_SAMPLES


def quietest(samples: NDArray[np.int16]) -> int:
    """The middle of the quietest 20 ms: the likeliest place for one voice to end and another to begin."""
    loudness = levels(samples)
    if not len(loudness):
        return len(samples) // 2
    return int(np.argmin(loudness)) * _HOP_SAMPLES + _WIDTH_SAMPLES // 2
