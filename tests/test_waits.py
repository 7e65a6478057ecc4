"""How long people waited for one another, told in small stories and worked out by hand."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import bootstrap  # type: ignore[import-untyped]

from assistant.core.measures.asking import requests_of
from assistant.core.measures.record import read_record
from assistant.core.measures.spread import Spread
from assistant.core.measures.turns import floor_of
from assistant.core.measures.waits import Waits, waits_of
from assistant.events import Lost, Muted
from assistant.samples import to_samples
from assistant.terms import Loss, Prompt, Seat
from tests.told import Story, asked


def waits(story: Story, ends_s: float = 60) -> Waits:
    record = read_record(story.ends(ends_s))
    return waits_of(record, floor_of(record), requests_of(record))


def seconds(spread: Spread) -> list[float]:
    return [round(value / 16000, 3) for value in spread.values_samples]


# --- requests -----------------------------------------------------------------------------------------------------------


def test_the_answer_is_the_next_turn_of_another_child() -> None:
    told = waits(Story().says("A", 1, 2, "the red one", asked(1)).says("A", 2.5, 3, "please").says("B", 4.5, 5, "here"))
    assert seconds(told.to_answer) == [2.5]  # from the end of the request itself, not of what the asker added
    assert (told.unanswered, told.helped) == (0, 0)


def test_the_wait_runs_from_the_last_contribution_before_the_answer() -> None:
    told = waits(
        Story().says("A", 1, 2, "the red one", asked(1)).says("A", 4, 5, "the long one", asked(1)).says("B", 6, 7, "here")
    )
    assert seconds(told.to_answer) == [1.0]


def test_an_answer_may_begin_before_the_request_ends() -> None:
    told = waits(Story().says("A", 1, 3, "the red one on top", asked(1)).says("B", 2.5, 4, "here it is"))
    assert seconds(told.to_answer) == [-0.5]


def test_speech_wholly_inside_the_request_is_no_answer_yet() -> None:
    told = waits(Story().says("A", 1, 4, "the red one on top", asked(1)).says("B", 2, 2.5, "yes").says("B", 5, 6, "here"))
    assert seconds(told.to_answer) == [1.0]


def test_an_answer_after_the_adult_spoke_is_a_helped_one() -> None:
    told = waits(Story().says("A", 1, 2, "", asked(1)).says("F", 3, 4, "look").says("B", 5, 6, "here"))
    assert (seconds(told.to_answer), told.helped) == ([3.0], 1)


def test_the_next_request_ends_the_waiting_for_an_answer() -> None:
    told = waits(Story().says("A", 1, 2, "", asked(1)).says("A", 8, 9, "", asked(2)).says("B", 10, 11, "here"))
    assert (seconds(told.to_answer), told.unanswered) == ([1.0], 1)


def test_an_answer_by_somebody_unsure_or_after_lost_sound_is_left_out() -> None:
    unsure = waits(Story().says("A", 1, 2, "", asked(1)).says("?", 3, 4, "here").says("B", 5, 6))
    lost = Lost(to_samples(4), to_samples(3), to_samples(4), Loss.BEHIND)
    unheard = waits(Story().says("A", 1, 2, "", asked(1)).then(lost).says("B", 5, 6))
    for told in (unsure, unheard):
        assert (seconds(told.to_answer), told.answers_left_out, told.unanswered) == ([], 1, 0)


def test_an_answer_that_may_have_fallen_into_the_tools_own_voice_is_left_out() -> None:
    """Nobody was heard before the next request; but of two seconds of it nothing was heard at all."""
    muted = Muted(to_samples(5), to_samples(3), to_samples(5))
    told = waits(Story().says("A", 1, 2, "", asked(1)).then(muted).says("A", 8, 9, "", asked(2)).says("B", 10, 11))
    assert (seconds(told.to_answer), told.answers_left_out, told.unanswered) == ([1.0], 1, 0)


def test_from_request_to_step_done_by_word_and_by_key() -> None:
    told = waits(
        Story()
        .says("A", 1, 2, "", asked(1))
        .says("C", 6, 6.5, "done")
        .done(1)  # the words begin at 6
        .says("A", 8, 9, "", asked(2))
        .done(2, at_s=12)
    )
    assert seconds(told.to_action) == [4.0, 3.0]


def test_a_request_that_another_followed_has_no_action_of_its_own() -> None:
    told = waits(Story().says("A", 1, 2, "", asked(1)).says("A", 4, 5, "", asked(2)).done(1, at_s=9))
    assert (seconds(told.to_action), told.actions_left_out) == ([4.0], 1)


# --- turns --------------------------------------------------------------------------------------------------------------


def test_own_wait_runs_from_own_turn_to_own_turn() -> None:
    told = waits(Story().says("A", 1, 2).says("B", 3, 4).says("A", 6, 7).says("B", 8, 9))
    assert {own.seat.value: seconds(own.waits) for own in told.own} == {"A": [4.0], "B": [4.0], "C": []}


def test_no_own_wait_is_measured_through_the_tools_voice() -> None:
    told = waits(Story().says("A", 1, 2).then(Muted(to_samples(5), to_samples(4), to_samples(5))).says("A", 6, 7))
    assert {own.seat.value: seconds(own.waits) for own in told.own} == {"A": [], "B": [], "C": []}


def test_no_own_wait_is_measured_past_somebody_unsure_for_it_may_have_been_the_same_child() -> None:
    told = waits(Story().says("A", 1, 2).says("?", 3, 4).says("A", 6, 7).says("B", 8, 9).says("A", 10, 11))
    assert {own.seat.value: seconds(own.waits) for own in told.own} == {"A": [3.0], "B": [], "C": []}


# --- Rowe ---------------------------------------------------------------------------------------------------------------


def test_rowes_two_waits() -> None:
    """First: from the question until somebody speaks. Second: from the end of the answer until the adult speaks (Rowe 1986)."""
    told = waits(
        Story()
        .says("F", 1, 3, "i wonder which one", prompt=Prompt.INDIRECT)
        .says("B", 6, 7, "the long one")
        .says("F", 9.7, 10, "yes")
    )
    assert (seconds(told.first), seconds(told.second), seconds(told.next_word)) == ([3.0], [2.7], [6.7])
    assert told.prompts[0].answered_by is Seat.B


def test_an_adult_who_cannot_wait_ends_the_first_wait() -> None:
    """Rowe 1986: typically a second or less, then the question comes again."""
    story = Story().says("F", 1, 2, "which one", prompt=Prompt.DIRECT)
    told = waits(story.says("F", 2.9, 4, "which one is it", prompt=Prompt.DIRECT).says("A", 5, 6, "the red one"))
    assert (seconds(told.first), told.prompts_answered) == ([0.9, 1.0], 1)


def test_going_on_within_a_second_is_still_the_prompt() -> None:
    story = Story().says("F", 1, 2, "i wonder", prompt=Prompt.INDIRECT).says("F", 2.5, 3, "about red ones")
    told = waits(story.says("A", 7, 8, "oh"))
    assert (len(told.prompts), seconds(told.first)) == (1, [4.0])


def test_children_who_go_on_among_themselves_leave_no_second_wait() -> None:
    story = Story().says("F", 1, 2, "", prompt=Prompt.INDIRECT).says("A", 4, 5, "this").says("B", 6, 7, "no").says("F", 9, 10)
    told = waits(story)
    assert (seconds(told.first), seconds(told.second), seconds(told.next_word)) == ([2.0], [], [7.0])


def test_the_adults_next_word_is_not_known_where_somebody_unsure_may_have_been_the_adult() -> None:
    story = Story().says("F", 1, 2, "", prompt=Prompt.INDIRECT).says("A", 4, 5, "this").says("?", 6, 7, "no").says("F", 9, 10)
    told = waits(story)
    assert (seconds(told.first), seconds(told.next_word)) == ([2.0], [])


def test_a_prompt_before_the_tools_own_voice_has_no_wait() -> None:
    story = Story().says("F", 1, 2, "", prompt=Prompt.DIRECT).then(Muted(to_samples(5), to_samples(3), to_samples(5)))
    told = waits(story.says("A", 6, 7))
    assert (len(told.prompts), seconds(told.first)) == (1, [])


# --- what may be said of a handful of waits -----------------------------------------------------------------------------


def test_below_five_nothing_is_said() -> None:
    few = Spread.of([1, 2, 3, 4])
    assert (few.count, few.median_samples, few.quartiles_samples, few.interval_samples) == (4, None, None, None)


@given(st.lists(st.integers(-100, 1000), min_size=5, max_size=60))
def test_median_and_quartiles_are_numpys(values: list[int]) -> None:
    spread = Spread.of(values)
    assert spread.median_samples == np.median(values)
    assert spread.quartiles_samples == pytest.approx(tuple(np.percentile(values, [25, 75])))


def test_nine_values_have_no_interval_and_ten_have() -> None:
    assert Spread.of(range(9)).interval_samples is None
    assert Spread.of(range(10)).interval_samples is not None


@pytest.mark.parametrize("count", [11, 25, 51])
def test_the_interval_is_what_endless_resampling_comes_to(count: int) -> None:
    """Against scipy.stats.bootstrap (percentile method) with 40,000 resamples, odd counts: the same values of the sample."""
    values = np.random.default_rng(7).permutation(np.arange(count) ** 2)
    theirs = bootstrap((values,), np.median, n_resamples=40_000, method="percentile", rng=np.random.default_rng(3))
    assert Spread.of(map(int, values)).interval_samples == (
        round(theirs.confidence_interval.low),
        round(theirs.confidence_interval.high),
    )


@pytest.mark.parametrize("count", [10, 24, 50])
def test_for_even_counts_the_interval_is_never_narrower(count: int) -> None:
    values = np.arange(count) * 10
    theirs = bootstrap((values,), np.median, n_resamples=40_000, method="percentile", rng=np.random.default_rng(3))
    lower, upper = Spread.of(map(int, values)).interval_samples or (0, 0)
    assert lower <= theirs.confidence_interval.low <= lower + 10
    assert upper - 10 <= theirs.confidence_interval.high <= upper
