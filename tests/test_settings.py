"""What is decided before the start, and the wording of the cues."""

import pytest

from assistant.core.club.rota import next_round
from assistant.core.club.script import read_script
from assistant.core.club.settings import Settings, SwapBy, SwapRule
from assistant.core.plans.plan import Plan, read_plan
from assistant.devices.shelf import plan_text, shared_text
from assistant.errors import SettingsError, SharedError
from assistant.terms import Cue, Seat

SCRIPT = read_script(shared_text("cues/en.toml"), shared_text("roles/en.toml"))


@pytest.fixture(scope="module")
def tower() -> Plan:
    return read_plan(*plan_text("four-block-tower"))


@pytest.mark.parametrize(
    ("text", "rule"),
    [
        ("3", SwapRule(SwapBy.STEPS, 3)),
        ("10min", SwapRule(SwapBy.MINUTES, 10)),
        ("10 min", SwapRule(SwapBy.MINUTES, 10)),
        ("component", SwapRule(SwapBy.COMPONENT, 1)),
    ],
)
def test_swap_rules(text: str, rule: SwapRule) -> None:
    assert SwapRule.from_text(text) == rule


@pytest.mark.parametrize(("text", "rounds"), [("1", 4), ("2", 2), ("3", 2), ("4", 1), ("5", 1), ("10min", None)])
def test_how_often_the_tower_gives_out_roles(text: str, rounds: int | None, tower: Plan) -> None:
    assert SwapRule.from_text(text).rounds(tower) == rounds


def test_each_part_of_the_boat_is_a_round() -> None:
    assert SwapRule.from_text("component").rounds(read_plan(*plan_text("little-boat"))) == 3  # hull, cabin, sail


@pytest.mark.parametrize("text", ["", "0", "often", "-3", "2.5", "0min", "min"])
def test_what_is_no_swap_rule_is_refused_with_the_three_that_are(text: str) -> None:
    with pytest.raises(SettingsError, match="steps .3., minutes .10min., or component"):
        SwapRule.from_text(text)


@pytest.mark.parametrize(
    ("settings", "says"),
    [
        (Settings(children=4), "two or three children, not 4"),
        (Settings(children=1), "two or three children, not 1"),
        (Settings(length_s=600, set_up_s=300, clear_away_s=300), "fill the whole session"),
        (Settings(set_up_s=-1), "shorter than nothing"),
        (Settings(children=2, names={Seat.C: "Cy"}), "no child at seat C"),
        (Settings(names={Seat.A: "Zo\u00e9", Seat.C: "ZOE\u0301"}), "Two children are called"),
        (Settings(names={Seat.A: "c"}), "Two children are called 'C'"),
    ],
)
def test_settings_that_do_not_go_together(settings: Settings, says: str, tower: Plan) -> None:
    with pytest.raises(SettingsError, match=says):
        settings.check(tower)


def test_the_usual_session_goes_with_the_tower(tower: Plan) -> None:
    # Facts of the trade (common practice, no source): 30 to 60 minutes, set-up and clear-away inside.
    settings = Settings()
    settings.check(tower)
    assert 30 * 60 <= settings.length_s <= 60 * 60
    assert settings.set_up_samples < settings.clear_away_sample < settings.length_samples


def test_a_swap_says_what_each_child_does_now() -> None:
    settings = Settings(names={Seat.B: "Bo"})
    text = SCRIPT.with_roles(Cue.SWAP, next_round(settings.seats, ()), settings)
    assert text == (
        "We swap now. A is the engineer and describes. Bo is the supplier and finds the piece. C is the builder and fits it on."
    )


def test_with_two_children_the_builder_asks_for_each_piece() -> None:
    settings = Settings(children=2)
    text = SCRIPT.with_roles(Cue.BEGIN, next_round(settings.seats, ()), settings)
    assert text == "The club begins. A is the builder and asks for each piece. B is the supplier and finds the piece."


def test_numbers_are_said_as_words() -> None:
    assert SCRIPT.swap_soon(2) == "Two more steps, then we swap."
    assert SCRIPT.swap_soon(1) == "One more step, then we swap."
    assert SCRIPT.time_left(5) == "Five minutes left."
    assert SCRIPT.time_left(1) == "One minute left."
    assert SCRIPT.time_left(25) == "25 minutes left."


def test_a_cue_without_words_is_missed_at_once() -> None:
    cues = shared_text("cues/en.toml").replace("clear_away =", "clear_a_way =")
    with pytest.raises(SharedError, match="'clear_away' has no words"):
        read_script(cues, shared_text("roles/en.toml"))
    with pytest.raises(SharedError, match="role 'engineer' has no sentence"):
        read_script(shared_text("cues/en.toml"), "")
    with pytest.raises(SharedError, match="not TOML"):
        read_script("begin = ", "")
