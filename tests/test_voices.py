"""Whose voice is that? Enrolment, answers, and the network behind them."""

from collections.abc import Callable

import numpy as np
import pytest
from numpy.typing import NDArray

from assistant.errors import VoicesError
from assistant.listening.features import BANDS, mel_bands
from assistant.listening.speech import Detector, Silero
from assistant.listening.voices import LEAST_MARGINS, Answer, Separation, VoiceNetwork, Voices, nearest
from assistant.samples import SAMPLE_RATE, to_samples
from assistant.terms import Seat
from tests.carried import reader


def lower(samples: NDArray[np.int16]) -> NDArray[np.int16]:
    """The same words in a much deeper voice: the sound, a quarter slower."""
    places = np.arange(0, len(samples) - 1, 0.8)
    return np.array(np.interp(places, np.arange(len(samples)), samples), dtype=np.int16)


@pytest.fixture(scope="module")
def detector() -> Detector:
    return Detector(Silero())


@pytest.fixture(scope="module")
def network() -> VoiceNetwork:
    return VoiceNetwork()


# --- enrolment ----------------------------------------------------------------------------------------------------------


def test_a_seat_that_enrolled_is_known_again(network: VoiceNetwork, detector: Detector) -> None:
    voices = Voices(network, detector)
    voices.enrol(Seat.A, reader(0, 15))
    voices.enrol(Seat.B, lower(reader(0, 15)))
    assert voices.seats == (Seat.A, Seat.B)
    assert voices.identify(reader(20, 22)).seat is Seat.A
    assert voices.identify(lower(reader(20, 22))).seat is Seat.B


def test_less_than_two_fifths_of_a_second_is_not_guessed_at(network: VoiceNetwork, detector: Detector) -> None:
    voices = Voices(network, detector)
    voices.enrol(Seat.A, reader(0, 15))
    assert voices.identify(reader(20, 20.39)) == Answer(Seat.UNSURE, 0.0)


def test_before_anybody_enrolled_nobody_is_known(network: VoiceNetwork, detector: Detector) -> None:
    assert Voices(network, detector).identify(reader(20, 22)) == Answer(Seat.UNSURE, 0.0)


@pytest.mark.parametrize(
    ("samples", "sentence"),
    [
        (reader(0, 5), r"Seat A: \d s of speech were heard, and 8 s are needed. Say the rhyme again"),
        (np.zeros(15 * SAMPLE_RATE, dtype=np.int16), "Seat A: 0 s of speech were heard, and 8 s are needed"),
        ((reader(0, 15) * 0.01).astype(np.int16), "Seat A: the voice is too quiet. Come nearer"),
        ((reader(0, 15) * 20.0).clip(-32768, 32767).astype(np.int16), "Seat A: the voice is distorted. Turn the micro"),
    ],
    ids=["short", "silent", "quiet", "clipped"],
)
def test_an_enrolment_that_will_not_do_is_refused_with_what_to_do(
    samples: NDArray[np.int16], sentence: str, network: VoiceNetwork, detector: Detector
) -> None:
    voices = Voices(network, detector)
    with pytest.raises(VoicesError, match=sentence):
        voices.enrol(Seat.A, samples)
    assert voices.seats == ()


def test_two_voices_in_one_enrolment_are_refused_and_what_was_known_stays(network: VoiceNetwork, detector: Detector) -> None:
    voices = Voices(network, detector)
    voices.enrol(Seat.A, reader(0, 12))
    both = np.concatenate((reader(0, 8), lower(reader(8, 14))))
    with pytest.raises(VoicesError, match="Seat A: more than one voice was heard. Say it again, one person alone"):
        voices.enrol(Seat.A, both)
    assert voices.identify(reader(20, 22)).seat is Seat.A


# --- how well they can be told apart ------------------------------------------------------------------------------------


def speaker(*bearings: float) -> Callable[[NDArray[np.int16]], NDArray[np.float32]]:
    """A fake network: gives each piece of an enrolment the next of these voices, between A (0) and B (1)."""
    following = iter(bearings)
    return lambda samples: towards(next(following))


def test_voices_that_are_alike_are_expected_to_be_unsure(detector: Detector) -> None:
    enrolment = reader(0, 12)  # eight to ten seconds of speech: four pieces
    voices = Voices(speaker(0, 0, 0, 0, 0.01, 0.01, 0.01, 0.01), detector)
    assert voices.separation() is None
    voices.enrol(Seat.A, enrolment)
    assert voices.separation() is None
    voices.enrol(Seat.B, enrolment)
    assert voices.separation() == Separation(right=0, unsure=8, pieces=8, closest=(Seat.A, Seat.B))


def test_voices_that_differ_are_expected_to_be_right_but_for_the_piece_that_is_like_the_other(detector: Detector) -> None:
    enrolment = reader(0, 12)
    voices = Voices(speaker(0, 0, 0, 0.6, 1, 1, 1, 1), detector)
    voices.enrol(Seat.A, enrolment)
    voices.enrol(Seat.B, enrolment)
    expected = voices.separation()
    assert expected == Separation(right=7, unsure=0, pieces=8, closest=(Seat.A, Seat.B))
    assert expected.share_right == 7 / 8 and expected.share_unsure == 0


# --- more than one voice in a stretch -----------------------------------------------------------------------------------


def test_a_stretch_of_one_voice_is_one_part(network: VoiceNetwork, detector: Detector) -> None:
    voices = Voices(network, detector)
    voices.enrol(Seat.A, reader(0, 12))
    voices.enrol(Seat.B, lower(reader(0, 12)))
    (part,) = voices.parts(reader(20, 24))
    assert (part.start_sample, part.end_sample, part.answer.seat, part.track) == (0, to_samples(4), Seat.A, 0)


def test_a_stretch_is_split_where_the_voice_changes(network: VoiceNetwork, detector: Detector) -> None:
    voices = Voices(network, detector)
    voices.enrol(Seat.A, reader(0, 12))
    voices.enrol(Seat.B, lower(reader(0, 12)))
    first, second = voices.parts(np.concatenate((reader(20, 23), lower(reader(24, 27)))))
    assert (first.answer.seat, second.answer.seat) == (Seat.A, Seat.B)
    assert first.end_sample == second.start_sample
    assert abs(first.end_sample - to_samples(3)) < to_samples(0.4)


# --- the answer ---------------------------------------------------------------------------------------------------------


def towards(seat: float) -> NDArray[np.float32]:
    """A voice between A (0) and B (1)."""
    return np.array([np.cos(seat * np.pi / 2), np.sin(seat * np.pi / 2)], dtype=np.float32)


def test_the_nearest_voice_by_enough_is_the_answer_and_by_less_nobody_is() -> None:
    seats = {Seat.A: towards(0), Seat.B: towards(1)}
    second = to_samples(1)
    assert nearest(towards(0), seats, second).seat is Seat.A
    assert nearest(towards(0), seats, second).margin == pytest.approx(1)
    assert nearest(towards(0.47), seats, second).seat is Seat.A
    assert nearest(towards(0.49), seats, second).seat is Seat.UNSURE
    assert nearest(towards(0.49), seats, second).margin == pytest.approx(0.022, abs=0.001)


def test_a_short_stretch_must_be_nearer_to_be_believed() -> None:
    seats = {Seat.A: towards(0), Seat.B: towards(1)}
    assert nearest(towards(0.47), seats, to_samples(0.9)).seat is Seat.UNSURE
    assert nearest(towards(0.44), seats, to_samples(0.9)).seat is Seat.A
    assert nearest(towards(0), seats, LEAST_MARGINS[-1][0] - 1).seat is Seat.UNSURE


def test_one_voice_alone_has_no_margin() -> None:
    assert nearest(towards(0), {Seat.FACILITATOR: towards(0)}, to_samples(1)) == Answer(Seat.FACILITATOR, 0.0)


# --- the features, checked from outside ---------------------------------------------------------------------------------


def by_the_book(samples: NDArray[np.float32]) -> NDArray[np.float64]:
    """Kaldi's ``fbank`` written out from its definition (feature-window.cc, mel-computations.cc), in plain numpy."""
    sound = samples.astype(np.float64) * 0.05 / np.sqrt(np.mean(samples.astype(np.float64) ** 2)) * 32768
    window = 0.54 - 0.46 * np.cos(2 * np.pi * np.arange(400) / 399)
    mel = np.linspace(1127 * np.log(1 + 20 / 700), 1127 * np.log(1 + 8000 / 700), BANDS + 2)
    bins = 1127 * np.log(1 + np.arange(256) * SAMPLE_RATE / 512 / 700)
    rise = (bins - mel[:-2, None]) / (mel[1:-1, None] - mel[:-2, None])
    fall = (mel[2:, None] - bins) / (mel[2:, None] - mel[1:-1, None])
    weights = np.maximum(0, np.minimum(rise, fall))
    rows = []
    for start in range(0, len(sound) - 399, 160):
        frame = sound[start : start + 400] - sound[start : start + 400].mean()
        frame = frame - 0.97 * np.concatenate((frame[:1], frame[:-1]))
        power = np.abs(np.fft.rfft(frame * window, 512))[:256] ** 2
        rows.append(np.log(np.maximum(weights @ power, 1.1920929e-07)))
    bands = np.array(rows)
    return np.asarray(bands - bands.mean(axis=0))


def test_the_features_are_kaldis() -> None:
    samples = np.divide(reader(3, 4), 32768, dtype=np.float32)
    ours, book = mel_bands(samples), by_the_book(samples)
    assert ours.shape == book.shape == (98, 80)  # 1 s: (16000 - 400) // 160 + 1 frames
    assert np.max(np.abs(ours - book)) < 0.01


def test_loudness_does_not_change_the_features() -> None:
    samples = np.divide(reader(3, 4), 32768, dtype=np.float32)
    assert np.allclose(mel_bands(samples), mel_bands(samples * np.float32(0.25)), atol=1e-3)


def test_a_voice_is_a_direction_and_nearer_to_itself_than_to_another(network: VoiceNetwork) -> None:
    one, again = network(reader(3, 6)), network(reader(12, 15))
    other = network(lower(reader(3, 6)))
    assert one.shape == (256,) and np.isclose(np.linalg.norm(one), 1)
    assert one @ again > 0.6 > one @ other
