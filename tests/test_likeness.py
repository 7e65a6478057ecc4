"""Whose voice a vector is, and whether it is anybody's."""

import numpy as np
import pytest
from numpy.typing import NDArray

from assistant.listening.likeness import CLEAR_MARGIN, LEAST_LIKENESS, SHORTEST_SAMPLES, Answer, Voice, common, nearest
from assistant.samples import to_samples
from assistant.terms import Seat
from tests.fakes import towards

SECOND, TWO_SECONDS = to_samples(1), to_samples(2)


def at(cosine: float) -> NDArray[np.float32]:
    """A voice this much like A, and not like B at all."""
    return np.array([cosine, 0, np.sqrt(1 - cosine**2)], dtype=np.float32)


A_AND_B = {Seat.A: Voice(towards(0), likeness=1), Seat.B: Voice(towards(1), likeness=1)}
ALONE = {Seat.A: Voice(at(1), likeness=1)}


# --- too alike to say ---------------------------------------------------------------------------------------------------


def test_the_nearest_voice_by_enough_is_the_answer_and_by_less_nobody_is() -> None:
    assert nearest(towards(0), A_AND_B, SECOND).seat is Seat.A
    assert nearest(towards(0), A_AND_B, SECOND).margin == pytest.approx(1)
    assert nearest(towards(0.47), A_AND_B, SECOND).seat is Seat.A
    assert nearest(towards(0.49), A_AND_B, SECOND).seat is Seat.UNSURE
    assert nearest(towards(0.49), A_AND_B, SECOND).margin == pytest.approx(0.022, abs=0.001)


def test_a_short_stretch_must_be_nearer_to_be_believed() -> None:
    assert nearest(towards(0.47), A_AND_B, to_samples(0.9)).seat is Seat.UNSURE
    assert nearest(towards(0.44), A_AND_B, to_samples(0.9)).seat is Seat.A
    assert nearest(towards(0), A_AND_B, SHORTEST_SAMPLES - 1).seat is Seat.UNSURE


def test_one_voice_alone_has_no_margin() -> None:
    assert nearest(at(1), ALONE, SECOND) == Answer(Seat.A, 0.0)


# --- like nobody --------------------------------------------------------------------------------------------------------


def test_what_is_like_no_seats_voice_is_nobodys_though_one_is_nearest() -> None:
    just, less = at(LEAST_LIKENESS + 0.01), at(LEAST_LIKENESS - 0.01)
    assert nearest(just, ALONE, TWO_SECONDS) == Answer(Seat.A, 0.0)
    assert nearest(less, ALONE, TWO_SECONDS) == Answer(Seat.UNSURE, 0.0, is_strange=True)
    assert nearest(less, ALONE, TWO_SECONDS, least_likeness=0).seat is Seat.A


def test_what_is_clearly_nearer_to_one_seat_is_that_seats_though_its_voice_has_changed() -> None:
    voices = {Seat.A: Voice(at(1), likeness=1), Seat.B: Voice(np.array([0, 1, 0], dtype=np.float32), likeness=1)}
    clear, unclear = at(CLEAR_MARGIN + 0.01), at(CLEAR_MARGIN - 0.01)
    assert nearest(clear, voices, TWO_SECONDS, strangers=[at(0.3)]).seat is Seat.A
    assert nearest(unclear, voices, TWO_SECONDS).is_strange


def test_a_voice_that_varies_in_its_enrolment_may_vary_later() -> None:
    even = Voice.of([at(1), at(1), at(1), at(1)])
    varied = Voice.of([towards(0.2), towards(-0.2), towards(0.3), towards(-0.3)])
    assert even.likeness == pytest.approx(1) and varied.likeness < 0.9
    voices = {Seat.A: Voice(at(1), varied.likeness)}
    assert nearest(at(LEAST_LIKENESS - 0.05), voices, TWO_SECONDS).seat is Seat.A


def test_the_shorter_a_stretch_the_less_alike_it_may_be() -> None:
    one, two, four, nine = (Voice(at(1), 0.7).expected(to_samples(seconds)) for seconds in (1, 2, 4, 9))
    assert one < two < four == nine
    assert two == pytest.approx(0.7)
    assert nearest(at(LEAST_LIKENESS - 0.05), ALONE, SECOND).seat is Seat.A
    assert nearest(at(LEAST_LIKENESS + 0.05), ALONE, to_samples(4)).seat is Seat.UNSURE


def test_a_stranger_who_was_heard_before_takes_what_is_nearer_to_her() -> None:
    visitor = [at(0), at(0.4)]
    assert nearest(at(0.9), ALONE, TWO_SECONDS, strangers=visitor).seat is Seat.A
    assert nearest(at(0.7), ALONE, TWO_SECONDS).seat is Seat.A
    assert nearest(at(0.7), ALONE, TWO_SECONDS, strangers=visitor) == Answer(Seat.UNSURE, 0.0)  # 0.93 like the second


def test_a_stranger_takes_nothing_that_is_more_like_what_was_put_right() -> None:
    strangers = [at(0.4)]
    assert nearest(at(0.7), ALONE, TWO_SECONDS, strangers=strangers, put_right=[at(0.4)]).seat is Seat.A
    assert nearest(at(0.7), ALONE, TWO_SECONDS, strangers=strangers, put_right=[at(0)]).seat is Seat.UNSURE


@pytest.mark.parametrize("seconds", [0.5, 1, 2, 4])
def test_words_are_as_noise_in_a_mean(seconds: float) -> None:
    """What is expected, against vectors made as the docstring says: in each quarter of a second the voice, and other words,
    which after four seconds are left as strong as the voice."""
    random = np.random.default_rng(1)
    voice = np.eye(1, 500)[0]

    def cosine(seconds: float) -> float:
        words = random.normal(0, np.sqrt(4 / 0.25 / len(voice)), (200, round(seconds / 0.25), len(voice)))
        heard = voice + words.mean(axis=1)
        return float(np.mean(heard @ voice / np.linalg.norm(heard, axis=1)))

    expected = Voice(at(1), likeness=cosine(2)).expected(to_samples(seconds))
    assert expected == pytest.approx(cosine(seconds), rel=0.03)


def test_what_vectors_have_in_common_is_a_direction() -> None:
    assert common([towards(0), towards(1)]) == pytest.approx(towards(0.5))
