"""Whose voice is that? Each seat enrols once; after that every stretch of speech is compared with the seats.

What lives here: the vectors, in memory only, of the seats and of strangers who were heard. What must not: a file, a name of a
person, or what makes a voice somebody's (:mod:`assistant.listening.likeness` says that).

The network is WeSpeaker's ResNet34: 256 numbers a voice, compared by their cosine.
"""

import itertools
from collections import deque
from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from assistant.errors import VoicesError
from assistant.listening import handover
from assistant.listening.endpoint import speech_in
from assistant.listening.features import mel_bands
from assistant.listening.levels import FULL_SCALE, decibels
from assistant.listening.likeness import (
    LEAST_LIKENESS,
    PIECE_SAMPLES,
    SHORTEST_SAMPLES,
    SURE_SAMPLES,
    Answer,
    Vector,
    Voice,
    common,
    each_left_out,
    nearest,
    unit_length,
)
from assistant.listening.networks import WESPEAKER, open_network
from assistant.listening.speech import Detector
from assistant.samples import to_seconds
from assistant.terms import Seat

_STRANGERS_KEPT = 30  # vectors, a minute or two of a visitor's talk; the oldest go first
_ONE_VOICE_MARGIN = 0.45  # on dev1, no stretch with two voices in it came this near to one seat
_DEEPEST_SPLIT = 2  # a stretch falls into four parts at most

ENROL_SECONDS = 8  # of speech, pauses not counted
QUIETEST_DBFS = -55
CLIPPED_SHARE = 0.001  # of the samples at full scale
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
        return unit_length(vectors[0])


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
        least_likeness: of a stretch to a voice, as a share of what is expected.
    """

    owners: tuple[Seat, ...] = ()
    """Whose microphone each is: nobody's, all are heard by one."""

    def __init__(
        self,
        network: Callable[[NDArray[np.int16]], Vector],
        detector: Detector,
        overlap: handover.Overlap = handover.never_overlap,
        least_likeness: float = LEAST_LIKENESS,
    ) -> None:
        self._network = network
        self._detector = detector
        self._overlap = overlap
        self._least_likeness = least_likeness
        self._voices: dict[Seat, Voice] = {}
        self._strangers: deque[Vector] = deque(maxlen=_STRANGERS_KEPT)

    @property
    def seats(self) -> tuple[Seat, ...]:
        """Who is enrolled, in the order of enrolment."""
        return tuple(self._voices)

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
        self._voices[seat] = Voice.of(pieces)
        self._strangers.clear()  # it may have been this voice

    def forget(self, seat: Seat) -> None:
        """Know this seat's voice no longer."""
        self._voices.pop(seat, None)

    def separation(self) -> Separation | None:
        """How well these voices can be told apart, or None where there are not yet two."""
        if len(self._voices) < 2:
            return None
        answers = [(seat, answer) for seat in self._voices for answer in self._left_out(seat)]
        pairs = itertools.combinations(self._voices.items(), 2)
        (one, _), (other, _) = max(pairs, key=lambda pair: float(pair[0][1].vector @ pair[1][1].vector))
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
        return self._identify(samples)[0]

    def parts(self, samples: NDArray[np.int16], microphones: NDArray[np.int16] | None = None) -> list[Part]:
        """Who spoke this stretch of speech, one part for each seat's say, in their order. Strangers in it are remembered.

        Args:
            samples: int16 [n] at 16 kHz.
            microphones: not listened to, the mix is enough.
        """
        return list(self._parts(samples, 0, _DEEPEST_SPLIT))

    def _parts(self, samples: NDArray[np.int16], offset: int, splits: int) -> Iterator[Part]:
        answer, vector = self._identify(samples)
        change = self._change(samples) if splits and answer.margin < _ONE_VOICE_MARGIN else None
        if change is None:
            if answer.is_strange and vector is not None and len(samples) >= SURE_SAMPLES:
                self._strangers.append(vector)
            yield Part(offset, offset + len(samples), answer)
            return
        yield from self._parts(samples[: change.end_sample], offset, splits - 1)
        yield from self._parts(samples[change.start_sample :], offset + change.start_sample, splits - 1)

    def _identify(self, samples: NDArray[np.int16]) -> tuple[Answer, Vector | None]:
        """Whose voice it is, and its vector where it was compared."""
        if not self._voices or len(samples) < SHORTEST_SAMPLES:
            return Answer(Seat.UNSURE, 0.0), None
        vector = self._network(samples)
        return nearest(vector, self._voices, len(samples), self._strangers, self._least_likeness), vector

    def _change(self, samples: NDArray[np.int16]) -> handover.Handover | None:
        if len(self._voices) < 2 or len(samples) < handover.SHORTEST_SAMPLES:
            return None
        starts = handover.window_starts(len(samples))
        windows = np.stack([self._network(samples[start : start + handover.WINDOW_SAMPLES]) for start in starts])
        window = handover.find_change(windows @ np.stack([voice.vector for voice in self._voices.values()]).T)
        return None if window is None else handover.place_change(samples, window, self._overlap)

    def _left_out(self, seat: Seat) -> Iterator[Answer]:
        """What would be answered to each piece of a seat's enrolment if it were not known, and there were no strangers."""
        for piece, rest in each_left_out(self._voices[seat].pieces):
            known = {**self._voices, seat: Voice.of(rest)}
            yield nearest(piece, known, PIECE_SAMPLES, least_likeness=0)

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


def _pieces(speech: NDArray[np.int16]) -> list[NDArray[np.int16]]:
    """Equal pieces of about two seconds: each weighs the same, however long the units were."""
    return np.array_split(speech, max(1, len(speech) // PIECE_SAMPLES))


def _unity(pieces: NDArray[np.float32]) -> float:
    """How alike the two least alike halves are: each two pieces gather those that are nearer to them than to the other.

    Args:
        pieces: float32 [pieces, 256].
    """
    likeness = pieces @ pieces.T
    halves = (likeness[one] >= likeness[other] for one, other in itertools.combinations(range(len(pieces)), 2))
    alike = [
        float(common(list(pieces[half])) @ common(list(pieces[~half])))
        for half in halves
        if _LEAST_HALF <= half.sum() <= len(pieces) - _LEAST_HALF
    ]
    return min(alike, default=1.0)
