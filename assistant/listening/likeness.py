"""How alike a stretch of speech and a voice are, and whose voice that makes it.

What lives here: the arithmetic of vectors, and every threshold of an answer. What must not: sound, a network, or what was heard
before.

Two questions are asked of the nearest seat. Is it clearly nearer than the next, or are two voices too alike to say? And is it
near at all, or does a stranger speak, who is nearest to somebody too (open-set speaker identification)?
"""

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from math import sqrt
from statistics import mean

import numpy as np
from numpy.typing import NDArray

from assistant.samples import to_samples
from assistant.terms import Seat

Vector = NDArray[np.float32]
"""float32 [256], of length 1."""

SURE_SAMPLES, SHORTEST_SAMPLES = to_samples(1.0), to_samples(0.4)
LEAST_MARGINS = ((SURE_SAMPLES, 0.05), (SHORTEST_SAMPLES, 0.10))
"""How much nearer the best seat must be than the next, for a stretch at least this long; anything shorter is ``?``. Chosen on
stretches cut from dev1: see DEVELOPERS.md, "Hearing"."""
LEAST_LIKENESS = 0.6
"""How alike (cosine) a stretch must be to the nearest seat's voice, as a share of what that seat's enrolment lets one expect;
anything less is ``?``. Chosen on dev1 as the highest, in steps of 0.05, at which ``?`` rose by no more than two points in any
condition for those who enrolled, even where they had enrolled in another room: see DEVELOPERS.md, "Hearing"."""
CLEAR_MARGIN = 0.2
"""What is so much nearer to one seat than to the next is that seat's, though it be less alike: in noise every voice is. On
dev1 nine in ten stretches of strangers were not so clear."""
PIECE_SAMPLES = to_samples(2)  # an enrolment is learnt in pieces about this long
_SETTLED_SAMPLES = to_samples(4)
"""A stretch this long says as much of the voice as of the words. Chosen on dev1, which has few longer ones: of those no more is
expected."""


@dataclass(frozen=True, slots=True)
class Voice:
    """A seat's voice."""

    vector: Vector
    likeness: float
    """How alike (cosine) a piece of the enrolment is to the rest of it, in the mean."""
    pieces: Sequence[Vector] = ()
    """What it was learnt from."""

    @classmethod
    def of(cls, pieces: Sequence[Vector]) -> "Voice":
        """What at least two pieces have in common."""
        return cls(common(pieces), mean(float(piece @ common(rest)) for piece, rest in each_left_out(pieces)), pieces)

    def expected(self, length: int) -> float:
        """How alike (cosine) a stretch of this many samples is likely to be, if it is this voice.

        Voices that vary more from piece to piece are expected to vary more later. And the shorter a stretch, the more its
        vector owes to the words that happen to be said: they are as noise in a mean, whose power falls with the length.
        """
        return self.likeness * _voiced_share(length) / _voiced_share(PIECE_SAMPLES)


@dataclass(frozen=True, slots=True)
class Answer:
    """Whose voice it is, and by how much (cosine) that seat is nearer than the next; 0 where fewer than two are known."""

    seat: Seat
    margin: float
    is_strange: bool = False
    """It is like no seat's voice, nor clearly nearer to one."""


def nearest(
    vector: Vector,
    voices: Mapping[Seat, Voice],
    length: int,
    strangers: Collection[Vector] = (),
    put_right: Collection[Vector] = (),
    least_likeness: float = LEAST_LIKENESS,
) -> Answer:
    """The seat whose voice is nearest; ``?`` where the next one is nearly as near, or a stranger nearer, or none is near.

    Args:
        vector: float32 [256] of length 1.
        voices: at least one.
        length: of the stretch that the vector stands for, in samples; a short one must be nearer to be believed.
        strangers: what was like no seat's voice before.
        put_right: what was like none either, and was somebody's who has a seat: then it was said who.
        least_likeness: as a share of what is expected.
    """
    ranked = sorted(((float(vector @ voice.vector), seat) for seat, voice in voices.items()), reverse=True)
    best, seat = ranked[0]
    margin = best - ranked[1][0] if len(ranked) > 1 else 0.0
    least = next((least for shortest, least in LEAST_MARGINS if length >= shortest), float("inf"))
    is_between = len(ranked) > 1 and margin < least
    is_strange = margin < CLEAR_MARGIN and best < least_likeness * voices[seat].expected(length)
    nearest_known = max((best, *(float(vector @ known) for known in put_right)))
    is_strangers = margin < CLEAR_MARGIN and any(float(vector @ stranger) > nearest_known for stranger in strangers)
    return Answer(Seat.UNSURE if is_between or is_strange or is_strangers else seat, margin, is_strange)


def _voiced_share(length: int) -> float:
    """The cosine of a stretch with its voice, if the voice itself were known."""
    return 1 / sqrt(1 + _SETTLED_SAMPLES / min(length, _SETTLED_SAMPLES))


def each_left_out(pieces: Sequence[Vector]) -> Iterator[tuple[Vector, Sequence[Vector]]]:
    """Each piece, and the others."""
    return ((piece, [*pieces[:number], *pieces[number + 1 :]]) for number, piece in enumerate(pieces))


def common(vectors: Sequence[Vector]) -> Vector:
    """What these have in common: their mean, of length 1."""
    return unit_length(np.mean(vectors, axis=0))


def unit_length(vector: NDArray[np.float32]) -> Vector:
    """The direction alone."""
    return np.asarray(vector / np.linalg.norm(vector), dtype=np.float32)
