"""Is that speech? One probability for every 32 ms of sound.

What lives here: two voice activity detectors, one that wakes the other. What must not: where speech begins and ends
(``endpoint``), whose it is (``voices``).

webrtcvad costs next to nothing but takes a rattling tray for a voice; Silero knows the difference and costs ten times
more. So webrtcvad, at its most permissive, only wakes Silero, and Silero decides::

    frames     480 480 480 480 ...       30 ms each
    webrtcvad   no  no yes yes ...       asleep until a yes; then back to the start of the pre-roll
    slots      |512|512|512|512 ...      32 ms each, one probability from Silero
"""

from collections.abc import Iterator
from typing import NamedTuple, Protocol

import numpy as np
import webrtcvad
from numpy.typing import NDArray

from assistant.listening.levels import FULL_SCALE
from assistant.listening.networks import open_detector
from assistant.samples import FRAME_MS, FRAME_SAMPLES, SAMPLE_RATE, Frame

SLOT_SAMPLES = 512  # 32 ms, the one length that Silero takes at 16 kHz
_CONTEXT_SAMPLES = 64  # Silero also looks at the last 4 ms before its slot

VOICED = 0.3  # probability; both chosen on simulated sessions of real children's voices: see DEVELOPERS.md, "Hearing"
SURE = 0.7  # a knock stays under 0.6, and speech goes over 0.9 within a syllable
_WAKER_MODE = 0  # webrtcvad's most permissive
_PRE_ROLL_SLOTS = 10  # 320 ms: Silero warms up on them, and the start of speech is not cut
_IDLE_SLOTS = 62  # 2 s without a voice: Silero starts afresh, and sleeps if webrtcvad is silent too
_CALM_SLOTS = 31  # 1 s of silence, heard beforehand; from a blank state Silero can stay deaf to a child's voice for seconds

_LOUDEST = 0.3  # of full scale (root mean square of a frame): what the loudest frame of the last seconds is brought to,
_LARGEST_GAIN = 30.0  # for Silero alone: it misses quiet voices. A voice at -60 dBFS is raised to about -30
_LOUDNESS_FADE = 0.5 ** (FRAME_MS / 10_000)  # a frame; the loudest is half forgotten after 10 s


class Slot(NamedTuple):
    """32 ms of sound, and how likely it is that somebody speaks in it."""

    start_sample: int
    probability: float

    @property
    def middle_sample(self) -> int:
        """What the probability stands for."""
        return self.start_sample + SLOT_SAMPLES // 2

    @property
    def end_sample(self) -> int:
        """The first sample after the slot."""
        return self.start_sample + SLOT_SAMPLES

    @property
    def voiced(self) -> bool:
        """Likely enough for the middle of speech."""
        return self.probability >= VOICED

    @property
    def sure(self) -> bool:
        """Likely enough to begin speech."""
        return self.probability >= SURE


class Judge(Protocol):
    """Hears slot after slot, and says how sure it is of speech."""

    def reset(self) -> None:
        """Forget what was heard."""
        ...

    def __call__(self, sound: NDArray[np.float32]) -> float:
        """Probability of speech in the next slot.

        Args:
            sound: float32 [576] in -1..1: the 64 samples before the slot, and its 512.
        """
        ...


class Silero:
    """Silero's network, in a form that costs a third of the published one."""

    def __init__(self) -> None:
        self._session = open_detector()
        self._hidden = self._cell = np.zeros((1, 1, 128), dtype=np.float32)
        for _ in range(_CALM_SLOTS):
            self(np.zeros(_CONTEXT_SAMPLES + SLOT_SAMPLES, dtype=np.float32))
        self._calm = self._hidden, self._cell

    def reset(self) -> None:
        """Forget what was heard, as after a second of silence."""
        self._hidden, self._cell = self._calm

    def __call__(self, sound: NDArray[np.float32]) -> float:
        """Probability of speech in the next slot."""
        given = {"sound": sound[np.newaxis], "hidden": self._hidden, "cell": self._cell}
        probability, self._hidden, self._cell = self._session.run(None, given)
        return float(probability[0, 0])


class Detector:
    """Turns frames into slots. The same frames give the same slots, however fast they come."""

    def __init__(self, judge: Judge) -> None:
        self._judge = judge
        self.reset(0)

    def reset(self, start_sample: int) -> None:
        """Forget what was heard; the next frame begins at ``start_sample``."""
        self._waker = webrtcvad.Vad(_WAKER_MODE)
        self._judge.reset()
        self._loudest = _LOUDEST / _LARGEST_GAIN  # nothing loud was heard yet
        self._idle_slots = _IDLE_SLOTS
        self._heard = np.zeros(_CONTEXT_SAMPLES, dtype=np.int16)  # the context, and what waits to be judged
        self._next_sample = start_sample  # where the next slot begins

    def hear(self, frame: Frame) -> list[Slot]:
        """The slots that are decided now, in their order and without gaps; in quiet they come up to 0.35 s late."""
        samples = np.frombuffer(frame.pcm, dtype=np.int16)
        self._heard = np.concatenate((self._heard, samples))
        self._loudest = max(self._loudest * _LOUDNESS_FADE, _root_mean_square(samples))
        awake = self._waker.is_speech(frame.pcm, SAMPLE_RATE) or self._idle_slots < _IDLE_SLOTS
        return list(self._decide() if awake else self._let_pass())

    def flush(self) -> list[Slot]:
        """The slots that are left, as if silence followed. The detector must be reset before it hears again."""
        missing = -self._waiting() % SLOT_SAMPLES
        self._heard = np.concatenate((self._heard, np.zeros(missing, dtype=np.int16)))
        return list(self._decide())

    def _waiting(self) -> int:
        return len(self._heard) - _CONTEXT_SAMPLES

    def _decide(self) -> Iterator[Slot]:
        while self._waiting() >= SLOT_SAMPLES:
            if self._idle_slots >= _IDLE_SLOTS:
                self._judge.reset()
                self._idle_slots = 0
            sound = self._heard[: _CONTEXT_SAMPLES + SLOT_SAMPLES] * np.float32(self._gain())
            yield self._slot(self._judge(sound))

    def _let_pass(self) -> Iterator[Slot]:
        while self._waiting() >= SLOT_SAMPLES * (_PRE_ROLL_SLOTS + 1):
            yield self._slot(0.0)

    def _gain(self) -> float:
        """From int16 to -1..1, and louder where everything is quiet."""
        return min(max(_LOUDEST / self._loudest, 1.0), _LARGEST_GAIN) / FULL_SCALE

    def _slot(self, probability: float) -> Slot:
        slot = Slot(self._next_sample, probability)
        self._idle_slots = 0 if slot.voiced else self._idle_slots + 1
        self._heard = self._heard[SLOT_SAMPLES:]
        self._next_sample += SLOT_SAMPLES
        return slot


def _root_mean_square(samples: NDArray[np.int16]) -> float:
    sound = samples.astype(np.float32)
    return float(np.sqrt(np.dot(sound, sound) / max(len(sound), 1))) / FULL_SCALE


def frames_of(samples: NDArray[np.int16], start_sample: int = 0) -> Iterator[Frame]:
    """A stretch of sound as frames; the last one is filled up with silence.

    Args:
        samples: int16 [n].
        start_sample: where it begins on the time line.
    """
    pcm = np.concatenate((samples, np.zeros(-len(samples) % FRAME_SAMPLES, dtype=np.int16))).tobytes()
    width = FRAME_SAMPLES * 2
    for place in range(0, len(pcm), width):
        yield Frame(start_sample + place // 2, pcm[place : place + width])
