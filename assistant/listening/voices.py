"""Whose voice is that? Each seat enrols once; after that every stretch of speech is compared with the seats.

What lives here: the vectors, in memory only, and the answer ``?`` where they are too alike to say. What must not: a file, a
name of a person, or a guess.

The network is WeSpeaker's ResNet34: 256 numbers a voice, compared by their cosine.
"""

import itertools
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from assistant.errors import VoicesError
from assistant.listening import handover
from assistant.listening.endpoint import speech_in
from assistant.listening.features import mel_bands
from assistant.listening.levels import FULL_SCALE, decibels
from assistant.listening.networks import WESPEAKER, open_network
from assistant.listening.speech import Detector
from assistant.samples import to_samples, to_seconds
from assistant.terms import Seat

Vector = NDArray[np.float32]
"""float32 [256], of length 1."""

LEAST_MARGINS = ((to_samples(1.0), 0.05), (to_samples(0.4), 0.10))
"""How much nearer the best seat must be than the next, for a stretch at least this long; anything shorter is ``?``. Chosen on
stretches cut from dev1: see DEVELOPERS.md, "Hearing"."""
_ONE_VOICE_MARGIN = 0.45  # on dev1, no stretch with two voices in it came this near to one seat
_DEEPEST_SPLIT = 2  # a stretch falls into four parts at most

ENROL_SECONDS = 8  # of speech, pauses not counted
QUIETEST_DBFS = -55
CLIPPED_SHARE = 0.001  # of the samples at full scale
_PIECE_SAMPLES = to_samples(2)
_LEAST_HALF = 2  # pieces: a single one may be a cough
_LEAST_UNITY = 0.5
"""How alike the two least alike halves of an enrolment must be (cosine). On dev1, one voice never fell under 0.55."""


class VoiceNetwork:
    """Turns a stretch of one voice into a vector."""

    def __init__(self) -> None:
        self._session = open_network(WESPEAKER)

    def __call__(self, samples: NDArray[np.int16]) -> Vector:
        """The vector of this voice.

        Args:
            samples: int16 [n] at 16 kHz, at least 25 ms.
        """
        bands = mel_bands(np.divide(samples, FULL_SCALE, dtype=np.float32))
        weights = np.ones((1, len(bands)), dtype=np.float32)
        (vectors,) = self._session.run(None, {"fbank": bands[np.newaxis], "weights": weights})
        return _unit_length(vectors[0])


@dataclass(frozen=True, slots=True)
class Answer:
    """Whose voice it is, and by how much (cosine) that seat is nearer than the next; 0 where fewer than two are known."""

    seat: Seat
    margin: float


@dataclass(frozen=True, slots=True)
class Part:
    """The part of a stretch of speech that one seat spoke, as samples of the stretch. Parts may overlap.

    ``track`` is the sound in which its words are clearest: 0 the mix, 1 the first microphone.
    """

    start_sample: int
    end_sample: int
    answer: Answer
    track: int = 0


@dataclass(frozen=True, slots=True)
class Separation:
    """How well the enrolled voices can be told apart, tried on their own enrolments: two seconds at a time, each left out of
    what is known while it is asked about. ``right`` and ``unsure`` count such pieces; the rest were told wrong."""

    right: int
    unsure: int
    pieces: int
    closest: tuple[Seat, Seat]
    """The two seats whose voices are most alike."""

    @property
    def share_right(self) -> float:
        """Of the pieces that were answered; 0 where none was."""
        answered = self.pieces - self.unsure
        return self.right / answered if answered else 0.0

    @property
    def share_unsure(self) -> float:
        """Of all pieces."""
        return self.unsure / self.pieces


class Voices:
    """The seats' voices, in memory only.

    Args:
        network: turns a stretch of sound into a vector.
        detector: finds the speech in an enrolment; not the one that the session listens with.
        overlap: how far two voices overlap where one takes over from the other.
    """

    owners: tuple[Seat, ...] = ()
    """Whose microphone each is: nobody's, all are heard by one."""

    def __init__(
        self,
        network: Callable[[NDArray[np.int16]], Vector],
        detector: Detector,
        overlap: handover.Overlap = handover.never_overlap,
    ) -> None:
        self._network = network
        self._detector = detector
        self._overlap = overlap
        self._pieces: dict[Seat, list[Vector]] = {}

    @property
    def seats(self) -> tuple[Seat, ...]:
        """Who is enrolled, in the order of enrolment."""
        return tuple(self._pieces)

    def enrol(self, seat: Seat, samples: NDArray[np.int16]) -> None:
        """Learn a seat's voice from 10 to 20 s of it alone.

        Args:
            seat: whose voice it is.
            samples: int16 [n] at 16 kHz.

        Raises:
            VoicesError: too quiet, distorted, too little speech, or two voices in it; what was known before is left as it was.
        """
        pieces = [self._network(piece) for piece in _pieces(self._speech(seat, samples))]
        if _unity(np.stack(pieces)) < _LEAST_UNITY:
            raise VoicesError(f"Seat {seat}: more than one voice was heard. Say it again, one person alone, the others quiet.")
        self._pieces[seat] = pieces

    def forget(self, seat: Seat) -> None:
        """Know this seat's voice no longer."""
        self._pieces.pop(seat, None)

    def separation(self) -> Separation | None:
        """How well these voices can be told apart, or None where there are not yet two."""
        if len(self._pieces) < 2:
            return None
        answers = [
            (seat, self._left_out(seat, number)) for seat, pieces in self._pieces.items() for number in range(len(pieces))
        ]
        pairs = itertools.combinations(self._vectors().items(), 2)
        (one, _), (other, _) = max(pairs, key=lambda pair: float(pair[0][1] @ pair[1][1]))
        return Separation(
            right=sum(answer.seat is seat for seat, answer in answers),
            unsure=sum(answer.seat is Seat.UNSURE for _, answer in answers),
            pieces=len(answers),
            closest=(one, other),
        )

    def identify(self, samples: NDArray[np.int16]) -> Answer:
        """Whose voice this stretch of speech is, as a whole.

        Args:
            samples: int16 [n] at 16 kHz.
        """
        if not self._pieces or len(samples) < LEAST_MARGINS[-1][0]:
            return Answer(Seat.UNSURE, 0.0)
        return nearest(self._network(samples), self._vectors(), len(samples))

    def parts(self, samples: NDArray[np.int16], microphones: NDArray[np.int16] | None = None) -> list[Part]:
        """Who spoke this stretch of speech, one part for each seat's say, in their order.

        Args:
            samples: int16 [n] at 16 kHz.
            microphones: not listened to, the mix is enough.
        """
        return list(self._parts(samples, 0, _DEEPEST_SPLIT))

    def _parts(self, samples: NDArray[np.int16], offset: int, splits: int) -> Iterator[Part]:
        answer = self.identify(samples)
        change = self._change(samples) if splits and answer.margin < _ONE_VOICE_MARGIN else None
        if change is None:
            yield Part(offset, offset + len(samples), answer)
            return
        yield from self._parts(samples[: change.end_sample], offset, splits - 1)
        yield from self._parts(samples[change.start_sample :], offset + change.start_sample, splits - 1)

    def _change(self, samples: NDArray[np.int16]) -> handover.Handover | None:
        if len(self._pieces) < 2 or len(samples) < handover.SHORTEST_SAMPLES:
            return None
        starts = handover.window_starts(len(samples))
        windows = np.stack([self._network(samples[start : start + handover.WINDOW_SAMPLES]) for start in starts])
        window = handover.find_change(windows @ np.stack(list(self._vectors().values())).T)
        return None if window is None else handover.place_change(samples, window, self._overlap)

    def _left_out(self, seat: Seat, number: int) -> Answer:
        """What would be answered to a piece of a seat's enrolment if that piece were not known."""
        pieces = self._pieces[seat]
        known = {**self._vectors(), seat: _mean(pieces[:number] + pieces[number + 1 :])}
        return nearest(pieces[number], known, _PIECE_SAMPLES)

    def _vectors(self) -> dict[Seat, Vector]:
        return {seat: _mean(pieces) for seat, pieces in self._pieces.items()}

    def _speech(self, seat: Seat, samples: NDArray[np.int16]) -> NDArray[np.int16]:
        spans = speech_in(samples, self._detector)
        speech = np.concatenate([samples[:0], *(samples[max(start, 0) : end] for start, end in spans)])
        if to_seconds(len(speech)) < ENROL_SECONDS:
            raise VoicesError(
                f"Seat {seat}: {to_seconds(len(speech)):.0f} s of speech were heard, and {ENROL_SECONDS} s are needed. "
                "Say the rhyme again, a little longer and near the microphone."
            )
        if decibels(speech) < QUIETEST_DBFS:
            raise VoicesError(f"Seat {seat}: the voice is too quiet. Come nearer to the microphone, or turn its level up.")
        if np.mean(np.abs(speech.astype(np.int32)) >= FULL_SCALE - 1) > CLIPPED_SHARE:
            raise VoicesError(f"Seat {seat}: the voice is distorted. Turn the microphone's level down, and say it again.")
        return speech


def nearest(vector: Vector, seats: Mapping[Seat, Vector], length: int) -> Answer:
    """The seat whose vector is nearest, or ``?`` where the next one is nearly as near.

    Args:
        vector: float32 [256] of length 1.
        seats: at least one.
        length: of the stretch that the vector stands for, in samples; a short one must be nearer to be believed.
    """
    ranked = sorted(((float(vector @ known), seat) for seat, known in seats.items()), reverse=True)
    best, seat = ranked[0]
    margin = best - ranked[1][0] if len(ranked) > 1 else 0.0
    least = next((least for shortest, least in LEAST_MARGINS if length >= shortest), float("inf"))
    return Answer(seat if len(ranked) == 1 or margin >= least else Seat.UNSURE, margin)


def _pieces(speech: NDArray[np.int16]) -> list[NDArray[np.int16]]:
    """Equal pieces of about two seconds: each weighs the same, however long the units were."""
    return np.array_split(speech, max(1, len(speech) // _PIECE_SAMPLES))


def _unity(pieces: NDArray[np.float32]) -> float:
    """How alike the two least alike halves are: each two pieces gather those that are nearer to them than to the other.

    Args:
        pieces: float32 [pieces, 256].
    """
    likeness = pieces @ pieces.T
    halves = (likeness[one] >= likeness[other] for one, other in itertools.combinations(range(len(pieces)), 2))
    alike = [
        float(_mean(list(pieces[half])) @ _mean(list(pieces[~half])))
        for half in halves
        if _LEAST_HALF <= half.sum() <= len(pieces) - _LEAST_HALF
    ]
    return min(alike, default=1.0)


def _mean(vectors: list[Vector]) -> Vector:
    return _unit_length(np.mean(vectors, axis=0))


def _unit_length(vector: NDArray[np.float32]) -> Vector:
    return np.asarray(vector / np.linalg.norm(vector), dtype=np.float32)
