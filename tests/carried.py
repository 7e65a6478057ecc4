"""Real voices that the moonshine-voice wheel carries: a reader (``two_cities.wav``), and two actors in a scene."""

from pathlib import Path

import moonshine_voice
import numpy as np
import soundfile
import soxr
from numpy.typing import NDArray

from assistant.samples import SAMPLE_RATE, to_samples

_ASSETS = Path(moonshine_voice.__file__).parent / "assets"


def carried(name: str, start_s: float, end_s: float) -> NDArray[np.int16]:
    """A stretch of a carried file: int16 [n] at 16 kHz."""
    samples, rate = soundfile.read(_ASSETS / name, dtype="int16", always_2d=True)
    mono = soxr.resample(samples[:, 0], rate, SAMPLE_RATE)
    return np.array(mono[to_samples(start_s) : to_samples(end_s)], dtype=np.int16)


def reader(start_s: float, end_s: float) -> NDArray[np.int16]:
    """A stretch of the reader's 44 seconds."""
    return carried("two_cities.wav", start_s, end_s)
