"""Reading a plan: what it says comes through, and nothing makes it fall over."""

from pathlib import Path
from typing import Any

import pytest
import tomli_w
from hypothesis import given, settings
from hypothesis import strategies as st

from assistant.core.plans.building import Form, Lies, Place
from assistant.core.plans.model import Care, Fit
from assistant.core.plans.plan import Plan, read_plan
from assistant.errors import PlanError

LIBRARY = sorted((Path(__file__).parent.parent / "shared" / "plans").glob("*.toml"))

BREAKFAST = """
version = 1
title = "Breakfast"
activity = "cooking"
children = [3, 2, 3]
about = "Oats
with fruit."
preference = ["thing"]

[piece.bowl]
attributes = { thing = "bowl" }
tool = true

[piece.oats]
attributes = { thing = "oats" }
unit = "spoon"

[[step]]
component = "oats"
put = [{ piece = "bowl" }, { piece = "oats", amount = 1.5 }]

[[step]]
component = "oats"
put = [{ piece = "oats", amount = 0.5 }]
use = ["bowl"]
adult = "hot"
photo = "photos/2.jpg"
""".replace("Oats\n", "Oats ")

GATE = """
version = 1
title = "Gate"
activity = "blocks"
children = [2]
about = "Two posts and a beam."
preference = ["shape"]
grid = 20
fit = "press"
colours = { teal = "#008080" }

[piece.post]
attributes = { shape = "log" }
mm = [20, 20, 60]

[piece.beam]
attributes = { shape = "plank" }
mm = [100, 20, 20]

[[step]]
component = "gate"
put = [{ piece = "post", at = [0, 0, 0] }, { piece = "post", at = [0, 4, 0], lies = "flat", turn = 180 }]

[[step]]
component = "gate"
put = [{ piece = "beam", at = [0, 0, 3], turn = 90 }]
"""


def test_a_recipe_keeps_amounts_tools_and_what_an_adult_does() -> None:
    plan = read_plan(BREAKFAST, "breakfast")

    assert plan.children == (2, 3)
    assert plan.tray() == {"bowl": 1, "oats": 2}
    assert plan.amounts() == {"oats": 2.0}
    assert [step.measured for step in plan.steps] == [("bowl", "1 ½ spoons of oats"), ("½ spoon of oats",)]
    assert [step.care for step in plan.steps] == [None, Care.HOT]
    assert [[piece.key for piece in step.use] for step in plan.steps] == [[], ["bowl"]]
    assert plan.steps[1].photo == "photos/2.jpg"


def test_blocks_keep_their_places() -> None:
    plan = read_plan(GATE, "gate")

    assert plan.fit is Fit.PRESS
    assert plan.pieces["post"].form is Form.ROUND
    assert plan.steps[0].places == (Place((0, 0, 0)), Place((0, 4, 0), Lies.FLAT, 180))
    assert [(laid.step, laid.box.low, laid.box.high) for laid in plan.laid()] == [
        (1, (0, 0, 0), (1, 1, 3)),
        (1, (0, 4, 0), (1, 5, 3)),
        (2, (0, 0, 3), (1, 5, 4)),
    ]


@pytest.mark.parametrize("path", LIBRARY, ids=lambda path: path.stem)
def test_every_plan_of_the_library_can_be_built(path: Path) -> None:
    plan = read_plan(path.read_text(encoding="utf-8"), path.stem)

    assert sum(plan.tray().values()) == sum(len(step.put) for step in plan.steps)


def test_an_empty_component_ends_where_the_next_begins() -> None:
    plan = read_plan(next(path for path in LIBRARY if path.stem == "little-boat").read_text(encoding="utf-8"), "boat")

    assert plan.components == ("hull", "cabin", "sail")
    assert "".join("01"[plan.ends_component(step.number)] for step in plan.steps) == "00100101"


KEYS = st.sampled_from(
    "version title activity children about preference piece step words fit grid pattern colours attributes mm form unit tool "
    "component put where hint use adult photo at lies turn count amount red blue".split()
)
VALUES = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=8) | KEYS,
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(KEYS, inner, max_size=4),
    max_leaves=12,
)


def without_none(value: Any) -> Any:
    """TOML has no null."""
    if isinstance(value, dict):
        return {key: without_none(item) for key, item in value.items() if item is not None}
    return [without_none(item) for item in value if item is not None] if isinstance(value, list) else value


@settings(max_examples=150, deadline=None)
@given(top=st.dictionaries(KEYS, VALUES), piece=VALUES, put=VALUES, more=st.dictionaries(KEYS, VALUES))
def test_no_toml_makes_the_reader_fall_over(top: dict[str, Any], piece: Any, put: Any, more: dict[str, Any]) -> None:
    plan = {
        "version": 1,
        "title": "t",
        "activity": "blocks",
        "children": [2],
        "about": "a",
        "preference": ["colour"],
        "piece": {"red": piece},
        "step": [{"component": "c", "put": [put], **more}],
        **top,
    }
    try:
        assert isinstance(read_plan(tomli_w.dumps(without_none(plan)), "made up"), Plan)
    except PlanError as error:
        assert error.problems
