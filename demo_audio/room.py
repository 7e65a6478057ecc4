"""The room of the demonstration: its echo, its hush, and hard pieces that knock together. All of it computed, none recorded.

What lives here: sounds that are not speech. What must not: the time line.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.signal import butter, fftconvolve, sosfilt

from assistant.samples import SAMPLE_RATE, to_samples

Sound = NDArray[np.float64]

ECHO_RT60_S = 0.22  # a furnished kitchen, close to the microphone: mild on purpose
ECHO_DB = -15.0  # of the whole echo, under the direct sound
ECHO_DELAY_S = 0.004
KNOCK_HZ = (2_000, 6_500)  # where small hard pieces ring
KNOCK_DECAY_S = (0.004, 0.018)
KNOCK_GAP_S = (0.05, 0.22)  # from one knock to the next
KNOCK_LENGTH_S = 0.09


@dataclass(frozen=True, slots=True)
class Knock:
    """One knock of a burst, ``at`` samples after the burst begins."""

    at: int
    sound: Sound


def echo(sound: Sound, chance: np.random.Generator) -> Sound:
    """The sound with the room's echo after it; the direct sound stays where and as it is."""
    return np.asarray(np.pad(sound, (0, to_samples(ECHO_RT60_S))) + fftconvolve(sound, _tail(chance)))


def _tail(chance: np.random.Generator) -> Sound:
    length = to_samples(ECHO_RT60_S)
    tail = chance.standard_normal(length + 1) * 10 ** (-3 * np.arange(length + 1) / length)  # 60 dB down at its end
    tail[: to_samples(ECHO_DELAY_S)] = 0
    soft = sosfilt(butter(1, 3_500, fs=SAMPLE_RATE, output="sos"), tail)  # walls and curtains swallow the treble
    return np.asarray(soft * 10 ** (ECHO_DB / 20) / np.sqrt(np.sum(soft**2)))


def hush(length: int, chance: np.random.Generator) -> Sound:
    """Room tone: low, soft noise, its power 1."""
    tone = sosfilt(butter(1, [60, 800], btype="band", fs=SAMPLE_RATE, output="sos"), chance.standard_normal(length))
    return np.asarray(tone / np.sqrt(np.mean(tone**2)))


def burst(count: int, chance: np.random.Generator) -> tuple[Knock, ...]:
    """Hard pieces knocking together, each knock with a peak of 0.4 to 1."""
    at = np.cumsum([0.0, *chance.uniform(*KNOCK_GAP_S, count - 1)])
    return tuple(Knock(to_samples(float(place)), _knock(chance)) for place in at)


def _knock(chance: np.random.Generator) -> Sound:
    """A click and a few rings that die away at once."""
    time_s = np.arange(to_samples(KNOCK_LENGTH_S)) / SAMPLE_RATE
    rings = [
        np.sin(2 * np.pi * hz * time_s + phase) * np.exp(-time_s / decay_s)
        for hz, phase, decay_s in zip(
            chance.uniform(*KNOCK_HZ, 5), chance.uniform(0, 2 * np.pi, 5), chance.uniform(*KNOCK_DECAY_S, 5), strict=True
        )
    ]
    click = chance.standard_normal(len(time_s)) * np.exp(-time_s / 0.0015)
    sound = np.sum(rings, axis=0) + 2 * click
    return np.asarray(sound / np.abs(sound).max() * chance.uniform(0.4, 1.0))
