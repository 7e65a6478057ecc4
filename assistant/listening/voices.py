"""Whose voice is that? Each seat enrols once; after that every stretch of speech is compared with the seats.

What lives here: the vectors, in memory only, and the answer ``?`` where they are too alike to say. What must not: a file, a
name of a person, or a guess.

The network is WeSpeaker's ResNet34: 256 numbers a voice, compared by their cosine.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from assistant.errors import VoicesError
from assistant.listening.endpoint import speech_in
from assistant.listening.features import mel_bands
from assistant.listening.networks import WESPEAKER, open_network
from assistant.listening.speech import Detector
from assistant.samples import to_samples, to_seconds
from assistant.terms import Seat

Vector = NDArray[np.float32]
"""float32 [256], of length 1."""

SHORTEST_SAMPLES = to_samples(0.7)  # under this a voice is not known well enough to answer
LEAST_MARGIN = 0.08
"""How much nearer the best seat must be than the next; see DEVELOPERS.md, "Hearing"."""

ENROL_SECONDS = 8  # of speech, pauses not counted
QUIETEST_DBFS = -50
CLIPPED_SHARE = 0.001  # of the samples at full scale
_FULL_SCALE = 32767
_PIECE_SAMPLES = to_samples(2)


class VoiceNetwork:
    """Turns a stretch of one voice into a vector."""

    def __init__(self) -> None:
        self._session = open_network(WESPEAKER)

    def __call__(self, samples: NDArray[np.int16]) -> Vector:
        """The vector of this voice.

        Args:
            samples: int16 [n] at 16 kHz, at least 25 ms.
        """
        bands = mel_bands(np.divide(samples, _FULL_SCALE + 1, dtype=np.float32))
        weights = np.ones((1, len(bands)), dtype=np.float32)
        (vectors,) = self._session.run(None, {"fbank": bands[np.newaxis], "weights": weights})
        return _unit_length(vectors[0])


@dataclass(frozen=True, slots=True)
class Answer:
    """Whose voice it is, and by how much (cosine) that seat is nearer than the next; 0 where fewer than two are known."""

    seat: Seat
    margin: float


class Voices:
    """The seats' voices, in memory only."""

    def __init__(self, network: Callable[[NDArray[np.int16]], Vector], detector: Detector) -> None:
        self._network = network
        self._detector = detector
        self._vectors: dict[Seat, Vector] = {}

    @property
    def seats(self) -> tuple[Seat, ...]:
        """Who is enrolled, in the order of enrolment."""
        return tuple(self._vectors)

    def enrol(self, seat: Seat, samples: NDArray[np.int16]) -> None:
        """Learn a seat's voice from 10 to 20 s of it alone.

        Args:
            seat: whose voice it is.
            samples: int16 [n] at 16 kHz.

        Raises:
            VoicesError: too quiet, clipped, or too little speech; what was known before is left as it was.
        """
        speech = self._speech(seat, samples)
        pieces = _pieces(speech)
        self._vectors[seat] = _unit_length(np.mean([self._network(piece) for piece in pieces], axis=0))

    def identify(self, samples: NDArray[np.int16]) -> Answer:
        """Whose voice this stretch of speech is.

        Args:
            samples: int16 [n] at 16 kHz.
        """
        if not self._vectors or len(samples) < SHORTEST_SAMPLES:
            return Answer(Seat.UNSURE, 0.0)
        return nearest(self._network(samples), self._vectors)

    def _speech(self, seat: Seat, samples: NDArray[np.int16]) -> NDArray[np.int16]:
        spans = speech_in(samples, self._detector)
        speech = np.concatenate([samples[:0], *(samples[max(start, 0) : end] for start, end in spans)])
        if to_seconds(len(speech)) < ENROL_SECONDS:
            raise VoicesError(
                f"Seat {seat}: {to_seconds(len(speech)):.0f} s of speech were heard, and {ENROL_SECONDS} s are needed. "
                "Say the rhyme again, a little longer and near the microphone."
            )
        if _dbfs(speech) < QUIETEST_DBFS:
            raise VoicesError(f"Seat {seat}: the voice is too quiet. Come nearer to the microphone, or turn its level up.")
        if np.mean(np.abs(speech.astype(np.int32)) >= _FULL_SCALE) > CLIPPED_SHARE:
            raise VoicesError(f"Seat {seat}: the voice is distorted. Turn the microphone's level down, and say it again.")
        return speech


def nearest(vector: Vector, seats: Mapping[Seat, Vector]) -> Answer:
    """The seat whose vector is nearest, or ``?`` where the next one is nearly as near.

    Args:
        vector: float32 [256] of length 1.
        seats: at least one.
    """
    ranked = sorted(((float(vector @ known), seat) for seat, known in seats.items()), reverse=True)
    if len(ranked) == 1:
        return Answer(ranked[0][1], 0.0)
    (best, seat), (second, _) = ranked[:2]
    return Answer(seat if best - second >= LEAST_MARGIN else Seat.UNSURE, best - second)


def _pieces(speech: NDArray[np.int16]) -> list[NDArray[np.int16]]:
    """Equal pieces of about two seconds: each weighs the same, however long the units were."""
    return np.array_split(speech, max(1, len(speech) // _PIECE_SAMPLES))


def _unit_length(vector: NDArray[np.float32]) -> Vector:
    return np.asarray(vector / np.linalg.norm(vector), dtype=np.float32)


def _dbfs(samples: NDArray[np.int16]) -> float:
    power = np.mean(np.square(samples / (_FULL_SCALE + 1), dtype=np.float64))
    return float(10 * np.log10(power + 1e-12))
