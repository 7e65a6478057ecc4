"""The guide to plans is true: every key is in it, and every example can be read and built."""

import re
from pathlib import Path

import pytest

from assistant.core.plans import plan as plan_format
from assistant.core.plans.difficulty import Demand, Difficulty, Level
from assistant.core.plans.plan import read_plan

GUIDE = (Path(__file__).parent.parent / "docs" / "plans.md").read_text(encoding="utf-8")
EXAMPLES = re.findall(r"```toml\n(.*?)```", GUIDE, re.DOTALL)


@pytest.mark.parametrize(
    "key", sorted((plan_format._TOP - {"piece", "step"}) | plan_format._PIECE | plan_format._STEP | plan_format._PUT)
)
def test_every_key_of_the_format_is_explained(key: str) -> None:
    assert f"`{key}`" in GUIDE or f"`{{ {key} =" in GUIDE


@pytest.mark.parametrize("example", EXAMPLES, ids=lambda example: re.findall('title = "(.*)"', example)[0])
def test_every_example_is_a_good_plan(example: str) -> None:
    assert read_plan(example, "docs/plans.md").steps


def test_the_bounds_of_the_grades_are_those_of_the_program() -> None:
    def level(demand: Demand, **counted: float) -> Level:
        plain = {"steps": 20, "pieces": 1, "kinds": 1, "bits": 0, "words": 0, "places": 0, "several": 0, "narrowest_mm": 99}
        return Difficulty(**plain | counted).levels[demand]  # type: ignore[arg-type]

    assert [level(Demand.LENGTH, steps=steps) for steps in (6, 7, 10, 11)] == [0, 1, 1, 2]
    assert [level(Demand.CHOICE, words=words) for words in (1.0, 1.1, 1.6, 1.7)] == [0, 1, 1, 2]
    assert [level(Demand.WHERE, places=places) for places in (10, 11, 15, 16)] == [0, 1, 1, 2]
    assert [level(Demand.HANDS, narrowest_mm=mm) for mm in (30, 29, 20, 19)] == [0, 1, 1, 2]
    assert [level(Demand.AT_ONCE, several=several) for several in (3, 4, 10, 11)] == [0, 1, 1, 2]
    for bound in (
        "up to 6 | up to 10",
        "up to 1.0 | up to 1.6",
        "up to 10 | up to 15",
        "30 mm or more | 20 mm",
        "15 % | up to half",
    ):
        assert bound in GUIDE
