"""How loud, when: what the sound itself says about boundaries, and about a microphone's place in a room.

What lives here: levels, the places that they point to, and what they say before a session. What must not: any network, any
voice, the words for a person (``shared/setup/`` has them).

Levels are root mean square in decibels under full scale, where a sine as loud as can be has -3.01 dB.
"""

from collections import deque
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from assistant.samples import FRAME_SAMPLES, Frame, to_samples

FULL_SCALE = 32768
NOTHING_DB = -120.0  # what digital silence is given
_HOP_SAMPLES = to_samples(0.005)
_WIDTH_SAMPLES = to_samples(0.02)
_SPEECH_PERCENTILE = 95  # the level of speech: exceeded by its loudest twentieth
_FADED_DB = 18  # a voice that has sunk this far is over, what follows is the room's echo; chosen on dev1 among 8 to 20


def decibels(samples: NDArray[np.int16]) -> float:
    """The level of a stretch of sound, root mean square under full scale. Nothing at all is -120."""
    if not len(samples):
        return NOTHING_DB
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


# --- before a session: is the microphone in a good place? -----------------------------------------------------------------

_FLOOR_FRAMES = to_samples(10) // FRAME_SAMPLES
_FLOOR_PERCENTILE = 10  # even in lively talk a tenth of the time is a pause
_CLIPPED_SAMPLES = 3  # in a row at full scale: fewer may be a peak that just reached it (common practice, no source)
_ACTIVE_DB = 15.9  # what is further than this under the level of speech is no speech (ITU-T P.56, method B)

SILENT_DB = -70.0  # under any microphone's own noise: it is muted, or the wrong one
FAINT_DB = -55.0  # speech under it cannot be enrolled either
CLIPPED_SHARE = 0.01  # of the frames; a bang on the table is no reason to turn the microphone down
CLEAR_DB = 15.0  # speech over noise that children with language impairments need in a classroom (ASHA 1995)
DROWNED_DB = 10.0  # chosen on the demonstration under noise: one unit in eight has lost its seat (DEVELOPERS.md, "Hearing")


@dataclass(frozen=True, slots=True)
class Level:
    """How loud 30 ms were; ``floor_db`` is the room's own noise, what the last ten seconds hardly ever fell under."""

    peak_db: float
    rms_db: float
    floor_db: float
    clipped: bool


class Meter:
    """Tells how loud each frame is, one after the other."""

    def __init__(self) -> None:
        self._last: deque[float] = deque(maxlen=_FLOOR_FRAMES)

    def hear(self, frame: Frame) -> Level:
        """The level of this frame."""
        samples = np.frombuffer(frame.pcm, dtype=np.int16)
        rms_db, peak = decibels(samples), int(np.abs(samples.astype(np.int32)).max())
        self._last.append(rms_db)
        floor_db = float(np.percentile(self._last, _FLOOR_PERCENTILE))
        peak_db = float(20 * np.log10(peak / FULL_SCALE)) if peak else NOTHING_DB
        return Level(peak_db, rms_db, floor_db, is_clipped(samples))


class Problem(StrEnum):
    """What can be wrong with a microphone's sound, the worst first; ``shared/setup/`` says it to a person, and what helps."""

    SILENT = "silent"  # nothing comes from it at all
    CLIPPED = "clipped"  # speech is louder than it can take
    FAINT = "faint"  # speech hardly reaches it
    DROWNED = "drowned"  # the room is nearly as loud as the voices
    NOISY = "noisy"  # the voices stand out, but not by as much as they should


@dataclass(frozen=True, slots=True)
class Verdict:
    """What a quiet moment and a spoken test say; no ``problem`` means that the microphone is in a good place."""

    noise_db: float
    speech_db: float
    problem: Problem | None

    @property
    def over_noise_db(self) -> float:
        """How far speech stands out."""
        return self.speech_db - self.noise_db


def verdict(quiet: Sequence[Level], spoken: Sequence[Level]) -> Verdict:
    """What is to be thought of a microphone.

    Args:
        quiet: a moment in which nobody speaks; at least one level.
        spoken: a moment in which somebody speaks most of the time, as at the table; at least one level.
    """
    noise_db, speech_db = noise_of(quiet), speech_of(spoken)
    clipped = sum(level.clipped for level in spoken) / len(spoken)
    found = {
        Problem.SILENT: speech_db < SILENT_DB,
        Problem.CLIPPED: clipped > CLIPPED_SHARE,
        Problem.FAINT: speech_db < FAINT_DB,
        Problem.DROWNED: speech_db - noise_db < DROWNED_DB,
        Problem.NOISY: speech_db - noise_db < CLEAR_DB,
    }
    return Verdict(noise_db, speech_db, next((problem for problem, so in found.items() if so), None))


def noise_of(quiet: Sequence[Level]) -> float:
    """The level of a room in which nobody speaks; a cough does not count."""
    return float(np.median([level.rms_db for level in quiet]))


def speech_of(spoken: Sequence[Level]) -> float:
    """The level of speech, pauses left out: the mean power of all frames that are not far under that same mean."""
    powers = np.sort([10 ** (level.rms_db / 10) for level in spoken])[::-1]
    means = np.cumsum(powers) / np.arange(1, len(powers) + 1)
    active = powers >= means * 10 ** (-_ACTIVE_DB / 10)
    return float(10 * np.log10(means[(len(active) if active.all() else int(active.argmin())) - 1]))


def is_clipped(samples: NDArray[np.int16]) -> bool:
    """Whether the sound was cut off at full scale.

    Args:
        samples: int16 [n].
    """
    full = (samples >= FULL_SCALE - 1) | (samples <= -FULL_SCALE)
    if not full.any():  # nearly always
        return False
    runs = np.convolve(full, np.ones(_CLIPPED_SAMPLES, dtype=np.int64), mode="valid")
    return bool(len(samples) >= _CLIPPED_SAMPLES and runs.max() == _CLIPPED_SAMPLES)
