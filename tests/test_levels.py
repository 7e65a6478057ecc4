"""A microphone's levels, and what they say of its place: sines whose level is known, and moments drawn as rulers of 30 ms."""

import math
import tomllib

import numpy as np
import pytest
from numpy.typing import NDArray

from assistant.devices.shelf import shared_text
from assistant.listening.levels import Level, Meter, Problem, is_clipped, noise_of, speech_of, verdict
from assistant.samples import FRAME_SAMPLES, Frame


def sine(peak: float, frames: int = 10) -> NDArray[np.int16]:
    """1 kHz; a frame holds 30 whole waves of it."""
    wave = np.sin(2 * np.pi * 1000 * np.arange(frames * FRAME_SAMPLES) / 16_000)
    return np.rint(wave * peak).astype(np.int16)


def hear(samples: NDArray[np.int16]) -> list[Level]:
    meter = Meter()
    return [
        meter.hear(Frame(start, samples[start : start + FRAME_SAMPLES].tobytes()))
        for start in range(0, len(samples), FRAME_SAMPLES)
    ]


def levels(ruler: str, **rms_db: float) -> list[Level]:
    """A level for each letter."""
    return [Level(rms_db[letter] + 3, rms_db[letter], -60, clipped=letter == "X") for letter in ruler]


def test_a_full_sine_is_three_decibels_under_full_scale() -> None:
    """Root mean square of a sine is its peak over the square root of two: 20 log10(1 / sqrt 2) = -3.0103."""
    for level in hear(sine(32_767)):
        assert level.rms_db == pytest.approx(-3.01, abs=0.005)
        assert level.peak_db == pytest.approx(0, abs=0.005)


def test_a_tenth_of_the_sine_is_twenty_decibels_less() -> None:
    assert hear(sine(3_276.7))[0].rms_db == pytest.approx(-23.01, abs=0.01)


def test_nothing_at_all_is_a_level_too() -> None:
    assert hear(np.zeros(FRAME_SAMPLES, np.int16)) == [Level(-120, -120, -120, clipped=False)]


def test_the_floor_is_what_the_room_sinks_back_to() -> None:
    """A quarter of pauses between loud talk; after ten seconds in another room it is that room's."""
    room, talk = sine(33, 1), sine(3_277, 1)
    there = np.concatenate([talk, talk, talk, room] * 100)
    louder = np.tile(sine(330, 1), 333)
    heard = hear(np.concatenate([there, louder]))
    assert heard[399].floor_db == pytest.approx(-63, abs=0.1)
    assert heard[-1].floor_db == pytest.approx(-43, abs=0.1)


def test_sound_is_clipped_where_it_stays_at_full_scale() -> None:
    assert not is_clipped(sine(32_767))  # it touches full scale, and comes back
    assert is_clipped(np.clip(sine(32_767).astype(int) * 2, -32_768, 32_767).astype(np.int16))
    assert is_clipped(np.array([0, -32_768, -32_768, -32_768, 0], np.int16))
    assert not is_clipped(np.array([32_767, 32_767], np.int16))


def test_the_room_is_as_loud_as_its_quiet_moment_without_the_cough() -> None:
    assert noise_of(levels("....C...", C=-20, **{".": -60})) == -60


def test_speech_is_as_loud_as_it_is_without_its_pauses() -> None:
    """ITU-T P.56: an activity of a half has no say in the level."""
    assert speech_of(levels("SS..SS..SS..", S=-25, **{".": -60})) == pytest.approx(-25)
    assert speech_of(levels("S" + "." * 99, S=-25, **{".": -60})) == pytest.approx(-25)
    louder_and_softer = 10 * math.log10((10**-2.5 + 10**-3.1) / 2)
    assert speech_of(levels("Ss" * 20, S=-25, s=-31)) == pytest.approx(louder_and_softer)


@pytest.mark.parametrize(
    ("quiet_db", "spoken", "spoken_db", "problem"),
    [
        (-60, "SSSS", -25, None),
        (-40, "SSSS", -25, None),  # 15 dB, just enough
        (-39, "SSSS", -25, Problem.NOISY),
        (-34, "SSSS", -25, Problem.DROWNED),
        (-75, "SSSS", -56, Problem.FAINT),
        (-120, "SSSS", -120, Problem.SILENT),
        (-60, "SSXX", -10, Problem.CLIPPED),
        (-14, "SSXX", -10, Problem.CLIPPED),  # the worst is said first
    ],
)
def test_a_verdict(quiet_db: float, spoken: str, spoken_db: float, problem: Problem | None) -> None:
    found = verdict(levels("....", **{".": quiet_db}), levels(spoken, S=spoken_db, X=spoken_db))
    assert (found.problem, found.noise_db) == (problem, quiet_db)
    assert found.over_noise_db == pytest.approx(spoken_db - quiet_db)


def test_one_bang_on_the_table_is_no_reason_to_turn_the_microphone_down() -> None:
    assert verdict(levels("....", **{".": -60}), levels("X" + "S" * 199, S=-25, X=-3)).problem is None


@pytest.mark.parametrize("problem", Problem)
def test_every_problem_can_be_said(problem: Problem) -> None:
    assert tomllib.loads(shared_text("setup/en.toml"))["problem"][problem.value].endswith(".")
