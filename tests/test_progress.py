"""Numbers over weeks: the robust trend against scipy, and what is said of too few."""

import random
import tomllib

import pytest
import scipy.stats  # type: ignore[import-untyped]
from hypothesis import given
from hypothesis import strategies as st

from assistant.core.measures.progress import (
    ENOUGH_SESSIONS,
    MEASURES,
    Figures,
    Point,
    Series,
    figures_of,
    roles_practised,
    series_of,
    theil_sen,
)
from assistant.devices.shelf import shared_text
from assistant.events import RolesSet
from assistant.outputs.review.weeks import Weeks, lines, page
from assistant.terms import Role, Seat
from tests.test_exports import STORY, TIMELINE

TEXTS = tomllib.loads(shared_text("review/en.toml"))


def series(*values: float | None) -> Series:
    return Series("answer", tuple(Point(value, 9) for value in values))


PLACES_AND_VALUES = st.lists(
    st.tuples(st.integers(0, 60), st.integers(-50, 50)), min_size=6, max_size=40, unique_by=lambda point: point[0]
)


@given(PLACES_AND_VALUES)
def test_the_trend_is_scipy_s(points: list[tuple[int, int]]) -> None:
    """scipy.stats.theilslopes, with ties among the values; two sessions never share a place."""
    ours = theil_sen([(float(x), float(y)) for x, y in points])
    theirs = scipy.stats.theilslopes([y for _, y in points], [x for x, _ in points], 0.95)
    assert (ours.slope, ours.low, ours.high) == pytest.approx((theirs.slope, theirs.low_slope, theirs.high_slope))


def test_one_odd_session_hardly_moves_it() -> None:
    straight = theil_sen([(x, 2.0 * x) for x in range(10)])
    odd = theil_sen([(x, 2.0 * x if x != 4 else 500.0) for x in range(10)])
    assert straight.slope == odd.slope == 2.0


def test_below_six_sessions_there_is_no_trend() -> None:
    assert series(1, 2, 3, 4, 5).trend is None
    assert series(1, 2, None, 3, 4, 5).trend is None  # five that say something
    assert series(1, 2, 3, 4, 5, 6).trend is not None


def test_a_session_left_out_keeps_its_place() -> None:
    assert series(0, None, 2, 3, 4, 5, 6).trend == theil_sen([(x, float(x)) for x in (0, 2, 3, 4, 5, 6)])


def test_what_is_said() -> None:
    few = "\n".join(lines(Weeks([series(1, 2, None)], {}), TEXTS))
    assert "too few (n=9)" in few and "Too few sessions to say more (2 of 6)." in few
    up = "\n".join(lines(Weeks([series(*range(8))], {(Seat.A, Role.BUILDER): 3}), TEXTS))
    assert "+1.00 s in the middle; likely between +1.00 and +1.00. It went up." in up
    assert "A builder 3" in up
    rng = random.Random(2)
    assert "cannot be told" in "\n".join(lines(Weeks([series(*(rng.random() for _ in range(12)))], {}), TEXTS))


def told(measure: str, *values: float | None) -> list[str]:
    return list(lines(Weeks([Series(measure, tuple(Point(value, 9) for value in values))], {}), TEXTS))


def test_values_of_one_measure_have_the_same_decimals() -> None:
    assert "  0.7 (n=9)   1.0 (n=9)   12.2 (n=9)" in told("answer", 0.68, 1.0, 12.2)
    assert "  0 (n=9)   8 (n=9)   100 (n=9)" in told("enough", 0, 7.9, 100)


def test_a_change_of_a_share_is_told_in_percentage_points_and_none_as_none() -> None:
    assert any("+5.0 percentage points in the middle" in line for line in told("enough", *range(10, 50, 5)))
    assert any("It stayed as it was." in line for line in told("mended", *[100.0] * 7))


def test_nothing_is_drawn_across_a_session_that_says_too_little() -> None:
    drawn = page(Weeks([series(1, 2, None, 3, 4)], {}), TEXTS, "")
    assert (drawn.count('class="way"'), drawn.count('class="dot"')) == (2, 4)


def test_nothing_says_better_or_worse() -> None:
    everything = str(TEXTS["progress"]) + str(TEXTS["measure"])
    for word in ("better", "worse", "improve", "normal", "score", "slow", "good", "bad"):
        assert word not in everything.lower()


def test_every_measure_has_a_name_and_what_it_rests_on() -> None:
    figures = figures_of(STORY)
    assert figures.points.keys() == MEASURES.keys() == TEXTS["measure"].keys()
    assert figures.points["mended"] == Point(None, 1)  # one repair is too few to say
    assert [one.measure for one in series_of([figures] * 2)] == list(MEASURES)


def test_the_timeline_level_is_enough_for_progress() -> None:
    timeline, words = figures_of(TIMELINE), figures_of(STORY)
    assert (timeline.points, timeline.rounds) == (words.points, words.rounds)
    assert timeline.tallies == {(Seat.B, ""): 1} and words.tallies == {(Seat.B, "was bossy"): 1}  # counted, in no words


def test_figures_come_back_from_their_text_and_from_no_other() -> None:
    figures = figures_of(STORY)
    assert Figures.from_text(figures.to_text()) == figures
    for text in ("", "{", "[]", "{}", '{"version": 0}', '{"version": 2, "points": {}, "rounds": [], "tallies": []}', "7"):
        assert Figures.from_text(text) is None


def test_roles_are_counted_by_round_and_after_a_pass_as_they_ended() -> None:
    engineer, supplier = (Seat.A, Role.ENGINEER), (Seat.B, Role.SUPPLIER)
    passed = (RolesSet(0, 1, (engineer, supplier)), RolesSet(9, 1, ((Seat.B, Role.ENGINEER), (Seat.A, Role.SUPPLIER))))
    again = RolesSet(20, 2, (engineer, supplier))
    assert roles_practised([*passed, again]) == {
        (Seat.B, Role.ENGINEER): 1, (Seat.A, Role.SUPPLIER): 1, engineer: 1, supplier: 1,
    }  # fmt: skip


def test_enough_is_six() -> None:
    # Common practice, no source: changes were seen after six weekly sessions.
    assert ENOUGH_SESSIONS == 6
