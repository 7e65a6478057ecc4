"""Whose voice is that? Enrolment, answers, and the network behind them."""

from collections.abc import Callable

import numpy as np
import pytest
from numpy.typing import NDArray

from assistant.assembly import demo_folder
from assistant.devices.files import read_samples
from assistant.errors import VoicesError
from assistant.listening.features import BANDS, mel_bands
from assistant.listening.likeness import LEAST_LIKENESS, Answer
from assistant.listening.speech import Detector, Silero
from assistant.listening.voices import Part, Separation, VoiceNetwork, Voices
from assistant.samples import SAMPLE_RATE, to_samples
from assistant.terms import Seat
from tests.benchmarks.demo import true_story
from tests.carried import reader
from tests.fakes import towards


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


# --- strangers ----------------------------------------------------------------------------------------------------------

CHILD, OTHER, VISITOR = np.eye(3, dtype=np.float32)


class Made:
    """A fake network: real sound is the voice that enrols; a stretch of one level is so many tenths a visitor, else seat A."""

    def __init__(self) -> None:
        self.enrols = CHILD

    def __call__(self, samples: NDArray[np.int16]) -> NDArray[np.float32]:
        if np.ptp(samples):
            return self.enrols
        share = float(samples[0]) / 10
        return np.asarray(np.sqrt(1 - share**2) * CHILD + share * VISITOR, dtype=np.float32)


def visiting(tenths: int, seconds: float = 2) -> NDArray[np.int16]:
    return np.full(to_samples(seconds), tenths, dtype=np.int16)


BETWEEN = visiting(7, seconds=1.5)  # about as much like the child as like the visitor, and enough like the child


@pytest.fixture
def made() -> Made:
    return Made()


@pytest.fixture
def child(made: Made, detector: Detector) -> Voices:
    """Seat A alone has enrolled."""
    voices = Voices(made, detector)
    voices.enrol(Seat.A, reader(0, 12))
    return voices


def visit(voices: Voices) -> Part:
    """A visitor speaks."""
    return voices.parts(visiting(9))[0]


def test_where_one_seat_is_known_a_stranger_is_not_given_it(child: Voices) -> None:
    assert child.parts(visiting(0))[0].answer == Answer(Seat.A, 0.0)
    assert child.parts(visiting(10))[0].answer == Answer(Seat.UNSURE, 0.0, is_strange=True)


def test_what_is_nearer_to_a_stranger_who_was_heard_is_not_given_a_seat(child: Voices) -> None:
    assert child.identify(BETWEEN).seat is Seat.A
    visit(child)
    assert child.identify(BETWEEN) == Answer(Seat.UNSURE, 0.0)
    assert child.identify(visiting(0)).seat is Seat.A


def test_a_stranger_who_is_not_heard_again_is_forgotten_in_a_hundred_stretches(child: Voices) -> None:
    visit(child)  # or it was the child, who laughed
    for _ in range(99):
        child.parts(visiting(0))
    assert child.identify(BETWEEN).seat is Seat.UNSURE
    child.parts(visiting(0, seconds=0.9))  # too short to count
    assert child.identify(BETWEEN).seat is Seat.UNSURE
    child.parts(visiting(0))
    assert child.identify(BETWEEN).seat is Seat.A


def test_who_was_put_right_is_a_stranger_no_longer_and_does_not_become_one_again(child: Voices) -> None:
    child.put_right(visit(child), Seat.A)
    assert child.identify(BETWEEN).seat is Seat.A
    visit(child)
    assert child.identify(BETWEEN).seat is Seat.A
    assert child.identify(visiting(9)).is_strange  # who it sounds like is said as before


def test_a_stranger_who_was_put_right_to_somebody_without_a_known_voice_stays_one(child: Voices) -> None:
    child.put_right(visit(child), Seat.C)  # who would rather not enrol
    assert child.identify(BETWEEN).seat is Seat.UNSURE


def test_other_strangers_stay_strangers_when_one_is_put_right(child: Voices) -> None:
    visit(child)
    (short,) = child.parts(visiting(9, seconds=0.3))
    child.put_right(short, Seat.A)  # too short to be compared
    child.put_right(child.parts(visiting(0))[0], Seat.A)
    assert child.identify(BETWEEN).seat is Seat.UNSURE


def test_a_stranger_is_remembered_from_a_second_on_and_by_parts_alone(child: Voices) -> None:
    child.identify(visiting(9))
    child.parts(visiting(9, seconds=0.9))
    assert child.identify(BETWEEN).seat is Seat.A


def test_who_is_not_sure_is_not_remembered_as_a_stranger(child: Voices) -> None:
    visit(child)
    child.parts(BETWEEN)
    assert child.identify(visiting(4)).seat is Seat.A  # nearer to what lay between than to the child


def test_who_enrols_is_a_stranger_no_longer(child: Voices, made: Made) -> None:
    visit(child)
    made.enrols = OTHER
    child.enrol(Seat.B, reader(0, 12))
    assert child.identify(BETWEEN).seat is Seat.A


@pytest.mark.parametrize(("least_likeness", "least", "most"), [(0, 0.3, 1), (LEAST_LIKENESS, 0, 0.1)], ids=["without", "with"])
def test_who_did_not_enrol_gets_no_letter_in_the_demonstration(
    least_likeness: float, least: float, most: float, network: VoiceNetwork, detector: Detector
) -> None:
    folder = demo_folder()
    voices = Voices(network, detector, least_likeness=least_likeness)
    for seat in (Seat.B, Seat.C, Seat.FACILITATOR):
        voices.enrol(seat, read_samples(folder / "voices" / f"{seat}.flac"))
    session = read_samples(folder / "session.flac")
    said = [(one["start"], one["end"]) for one in true_story()["segments"] if one["seat"] == Seat.A]
    parts = [part for start, end in said if end - start > to_samples(1) for part in voices.parts(session[start:end])]
    lettered = sum(part.answer.seat is not Seat.UNSURE for part in parts)
    assert len(parts) > 20 and least <= lettered / len(parts) <= most


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
