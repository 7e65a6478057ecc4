"""Where one voice takes over from another within a stretch of speech."""

import numpy as np
import pytest
from numpy.typing import NDArray

from assistant.listening.handover import (
    HOP_SAMPLES,
    SHORTEST_SAMPLES,
    WINDOW_SAMPLES,
    OverlapNetwork,
    find_change,
    never_overlap,
    place_change,
    window_starts,
)
from assistant.listening.levels import decibels, faded, levels, quietest
from assistant.samples import to_samples
from tests.carried import carried, reader


def likeness(ruler: str, seats: str = "AB") -> NDArray[np.float32]:
    """One letter a window: how near it is to each seat, 0.6 to its own and 0.2 to the others."""
    return np.array([[0.6 if window == seat else 0.2 for seat in seats] for window in ruler], dtype=np.float32)


def test_one_voice_has_no_change() -> None:
    assert find_change(likeness("AAAAAA")) is None
    assert find_change(likeness("CCCC", seats="ABC")) is None


def test_two_voices_change_before_the_first_window_of_the_second() -> None:
    assert find_change(likeness("AABBB")) == 2
    assert find_change(likeness("CCCCBB", seats="ABC")) == 4


def test_one_window_is_no_voice() -> None:
    assert find_change(likeness("AAAAB")) is None
    assert find_change(likeness("BAAAA")) is None
    assert find_change(likeness("AAA")) is None


def test_a_difference_that_chance_can_make_is_no_change() -> None:
    nearly = np.array([[0.50, 0.48]] * 3 + [[0.48, 0.50]] * 3, dtype=np.float32)
    assert find_change(nearly) is None


def test_windows_cover_the_stretch_and_are_half_a_second_apart() -> None:
    starts = window_starts(to_samples(3.2))
    assert starts[0] == 0 and starts[-1] + WINDOW_SAMPLES == to_samples(3.2)
    assert np.all(np.abs(np.diff(starts) - HOP_SAMPLES) < HOP_SAMPLES / 4)
    assert len(window_starts(SHORTEST_SAMPLES)) == 3


def beeps(ruler: str) -> NDArray[np.int16]:
    """One sign is a tenth of a second: # loud, - soft, . silent."""
    loudness = {"#": 8_000, "-": 200, ".": 0}
    tone = np.sin(2 * np.pi * 200 * np.arange(to_samples(0.1)) / 16_000)
    return np.concatenate([loudness[sign] * tone for sign in ruler]).astype(np.int16)


def test_without_overlap_the_change_lies_in_the_quietest_place_near_by() -> None:
    #                0         1         2         3
    sound = beeps("###.###########.#################")
    change = place_change(sound, 2, never_overlap)  # the middles of windows 1 and 2 are about 1.3 s in
    assert change.end_sample == change.start_sample
    assert to_samples(1.5) <= change.end_sample <= to_samples(1.6)


def test_an_overlap_that_is_known_is_taken_as_it_is() -> None:
    sound = beeps("#" * 30)
    assert place_change(sound, 2, lambda samples, near: (near + 800, near - 800)) == (
        to_samples(1.25) + 800,
        to_samples(1.25) - 800,
    )


@pytest.mark.parametrize("scene_s", [8, 11, 14])
def test_a_reader_who_falls_into_an_actors_words_is_found_to_overlap(scene_s: int) -> None:
    # Real voices that the moonshine-voice wheel carries, laid half a second over one another.
    actor, words = carried("endgame_nagg_nell.wav", scene_s, scene_s + 3), reader(3, 6)
    overlap = to_samples(0.5)
    sound = np.concatenate((actor, np.zeros(len(words) - overlap, dtype=np.int16)))
    sound[-len(words) :] += words
    found = OverlapNetwork()(sound, len(actor) - overlap // 2)
    assert found is not None
    end_sample, start_sample = found
    assert abs(end_sample - len(actor)) < to_samples(0.1)
    assert abs(start_sample - (len(actor) - overlap)) < to_samples(0.3)
    assert start_sample < end_sample


def test_silence_is_one_voice_at_most() -> None:
    assert OverlapNetwork()(np.zeros(to_samples(4), dtype=np.int16), to_samples(2)) is None


# --- levels -------------------------------------------------------------------------------------------------------------


def test_the_level_of_a_full_sine_is_three_decibels_under_full_scale() -> None:
    # IEC 61606-1 reckons a full-scale sine as 0 dBFS; root mean square under full scale is 20 log10(1 / sqrt 2) = -3.01.
    sine = (32767 * np.sin(2 * np.pi * 1_000 * np.arange(16_000) / 16_000)).astype(np.int16)
    assert abs(decibels(sine) + 3.01) < 0.01
    assert np.allclose(levels(sine), -3.01, atol=0.05)
    assert decibels(sine[:0]) == decibels(np.zeros(100, dtype=np.int16)) == -120


def test_speech_has_faded_where_only_the_echo_is_left() -> None:
    assert abs(faded(beeps("..#####--..")) - to_samples(0.7)) <= to_samples(0.02)
    assert faded(beeps("#")[:100]) == 100


def test_the_quietest_place() -> None:
    assert to_samples(0.3) <= quietest(beeps("###.###")) <= to_samples(0.4)
    assert quietest(beeps("#")[:100]) == 50
