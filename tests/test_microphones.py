"""One microphone a seat: who is the loudest, drawn as rulers of tenths of a second."""

import re

import numpy as np
import pytest
from numpy.typing import NDArray

from assistant.errors import SettingsError
from assistant.listening.microphones import Microphones, channels_from
from assistant.listening.voices import Part
from assistant.samples import to_samples
from assistant.terms import Seat

TENTH = to_samples(0.1)
LOUD = {"#": 6_000, "+": 5_000, "-": 1_500, ".": 20}
"""A voice near by, one nearly as near, one across the table (12 dB weaker), and nobody."""


def heard(*rulers: str) -> NDArray[np.int16]:
    """What each microphone hears: int16 [n, microphones]. Each has its own noise, as real ones have."""
    random = np.random.default_rng(1)
    loudness = np.array([[LOUD[sign] for sign in ruler] for ruler in rulers]).repeat(TENTH, axis=1)
    return np.array((random.normal(0, 1, loudness.shape) * loudness / 2).T, dtype=np.int16)


def parts(*rulers: str) -> list[Part]:
    microphones = heard(*rulers)
    mix = microphones.mean(axis=1).astype(np.int16)
    return Microphones((Seat.A, Seat.B, Seat.C)[: len(rulers)]).parts(mix, microphones)


def drawn(found: list[Part]) -> list[tuple[Seat, int, int]]:
    """Seat, and first and last tenth."""
    return [(part.answer.seat, round(part.start_sample / TENTH), round(part.end_sample / TENTH)) for part in found]


def test_the_loudest_microphone_says_who_and_its_own_sound_is_the_clearest() -> None:
    (part,) = parts("----------", "##########", "----------")
    assert drawn([part]) == [(Seat.B, 0, 10)]
    assert part.track == 2
    assert abs(part.answer.margin - 0.75) < 0.01  # a quarter as loud elsewhere


def test_one_after_another_is_two_parts() -> None:
    found = parts("##########----------", "----------##########", "--------------------")
    assert drawn(found) == [(Seat.A, 0, 10), (Seat.B, 10, 20)]


def test_two_who_speak_at_once_overlap() -> None:
    found = parts("###############-----", "----------##########", "--------------------")
    assert drawn(found) == [(Seat.A, 0, 15), (Seat.B, 10, 20)]


def test_a_voice_that_all_hear_alike_is_nobodys() -> None:
    assert drawn(parts("++++++++++", "+#++++++++", "++++++++++")) == [(Seat.UNSURE, 0, 10)]


def test_a_short_pause_and_a_breath_change_nothing() -> None:
    assert drawn(parts("####..####", "---...----", "----..----")) == [(Seat.A, 0, 10)]
    assert drawn(parts("####-#####", "----#-----", "----------")) == [(Seat.A, 0, 10)]


def test_a_microphone_that_is_less_sensitive_can_be_evened_out() -> None:
    microphones = heard("+++++++++", "#########")
    mix = microphones[:, 0]
    assert drawn(Microphones((Seat.A, Seat.B), {Seat.A: 9.0}).parts(mix, microphones)) == [(Seat.A, 0, 9)]


def test_a_stretch_too_short_to_measure_is_nobodys() -> None:
    tiny = np.ones((100, 2), dtype=np.int16)
    assert Microphones((Seat.A, Seat.B)).parts(tiny[:, 0], tiny)[0].answer.seat is Seat.UNSURE


# --- which channel is whose ---------------------------------------------------------------------------------------------

PAIR, THREE = (Seat.A, Seat.B), (Seat.A, Seat.B, Seat.C)


def test_channels_are_read_in_the_order_in_which_they_are_written() -> None:
    assert list(channels_from(" b=3, A=1 ,F=4", PAIR).items()) == [(Seat.B, 3), (Seat.A, 1), (Seat.FACILITATOR, 4)]
    assert channels_from("", PAIR) == {}


@pytest.mark.parametrize(
    ("text", "children", "says"),
    [
        ("A", PAIR, "'A' cannot be read. Write a seat (A, B, or F for the adult)"),
        ("A=0,B=1", PAIR, "'A=0' cannot be read"),
        ("A=one,B=2", PAIR, "'A=one' cannot be read"),
        ("A=1,B=2,C=3", PAIR, "'C=3' cannot be read"),
        ("A=1,A=2,B=3", PAIR, "Seat A is given two microphones"),
        ("A=1,B=1", PAIR, "Channel 1 is given to two seats"),
        ("A=1", THREE, "There is no microphone for seats B and C"),
        ("F=1", PAIR, "There is no microphone for seats A and B"),
    ],
)
def test_channels_that_cannot_be(text: str, children: tuple[Seat, ...], says: str) -> None:
    with pytest.raises(SettingsError, match=re.escape(says)):
        channels_from(text, children)
