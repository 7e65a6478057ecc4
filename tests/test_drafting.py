"""From what the family says about a photo to the text of a plan."""

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.core.plans.drafting import Draft, pieces_in, plan_text
from assistant.core.plans.plan import read_plan
from assistant.core.words.lexicon import read_lexicon

LEXICON = read_lexicon((Path(__file__).parent.parent / "shared" / "lexicon" / "en.toml").read_text(encoding="utf-8"), "lexicon")


def said(line: str) -> list[tuple[str, int]]:
    return [(" ".join(f"{kind}={value}" for kind, value in words.items()), count) for words, count in pieces_in(line, LEXICON)]


@pytest.mark.parametrize(
    ("line", "pieces"),
    [
        ("long red block", [("size=long colour=red shape=block", 1)]),
        ("2 small blue squares, a green one", [("size=small colour=blue shape=square", 2), ("colour=green", 1)]),
        ("two yellow bricks and a spoon", [("colour=yellow shape=brick", 2), ("thing=spoon", 1)]),
        ("the gray teapot", [("colour=grey thing=teapot", 1)]),
        ("", []),
        (" , ;and, ", []),
        ("3", []),
    ],
)
def test_a_line_names_pieces(line: str, pieces: list[tuple[str, int]]) -> None:
    assert said(line) == pieces


def test_the_same_piece_in_other_words_order_is_one_piece() -> None:
    drafts = [Draft("1.jpg", pieces_in("long red block, red long block", LEXICON))]

    plan = read_plan(plan_text("Tower", "blocks", (2, 3), drafts), "draft")
    assert plan.tray() == {"long-red-block": 2}


def test_what_is_too_long_for_a_plan_is_cut_and_not_lost_with_everything_else() -> None:
    drafts = [Draft("1.jpg", pieces_in("long red block", LEXICON), "on top " * 100, "wall " * 100)]
    plan = read_plan(plan_text("Tower " * 100, "blocks", (2, 3), drafts), "draft")
    assert (len(plan.title), len(plan.steps[0].where), len(plan.steps[0].component)) == (80, 400, 79)


def test_an_arrow_key_in_what_is_typed_is_left_out() -> None:
    drafts = [Draft("1.jpg", pieces_in("red block", LEXICON), where="on\x1b[D top")]

    plan = read_plan(plan_text("Our\x1b bridge", "blocks", (2, 3), drafts), "draft")
    assert plan.title == "Our bridge"
    assert plan.steps[0].where == "on [D top"


@given(st.lists(st.text(max_size=30), min_size=1, max_size=5), st.text(min_size=1).filter(str.strip))
def test_whatever_is_said_makes_a_good_plan_or_none(lines: list[str], title: str) -> None:
    drafts = [Draft(f"{number}.jpg", pieces_in(line, LEXICON), component=f"part {number}") for number, line in enumerate(lines)]
    if not any(draft.pieces for draft in drafts):
        return

    plan = read_plan(plan_text(title, "blocks", (2, 3), drafts), "draft")
    assert sum(plan.tray().values()) == sum(count for draft in drafts for _, count in draft.pieces)
