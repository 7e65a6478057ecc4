"""Whether what was said is enough to find the piece, beside the examples of the paper and plain arithmetic."""

from collections import Counter
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.core.measures.asking import requests_of
from assistant.core.measures.describing import Thing, bits, shortest
from assistant.core.measures.finding import Finding, Verdict, finding_of
from assistant.core.measures.record import read_record
from assistant.core.plans.plan import Plan, read_plan
from assistant.core.words.lexicon import Lexicon, read_lexicon
from assistant.core.words.tray import Tray
from assistant.terms import Act
from tests.told import Story, asked

SHARED = Path(__file__).parents[1] / "shared"

# Dale & Reiter 1995, section 4.4 (from a secondary source): three animals, with their kind at the level people use.
CHIHUAHUA = {"type": "dog", "size": "small", "colour": "black"}
OTHERS: list[Thing] = [{"type": "dog", "size": "large", "colour": "white"}, {"type": "cat", "size": "small", "colour": "black"}]


def test_the_black_dog() -> None:
    assert shortest(CHIHUAHUA, OTHERS, ["type", "colour", "size"]) == ("type", "colour")


def test_the_small_dog() -> None:
    assert shortest(CHIHUAHUA, OTHERS, ["type", "size", "colour"]) == ("type", "size")


@pytest.mark.parametrize(
    ("preference", "expected"),
    [(["material", "colour"], ("material", "colour")), (["colour", "material"], ("colour",))],
)
def test_the_order_can_cost_a_word(preference: list[str], expected: tuple[str, ...]) -> None:
    """After Dale & Reiter 1995 (from a secondary source): a red plastic cup, a blue glass one, a blue plastic one."""
    red: Thing = {"material": "plastic", "colour": "red"}
    others: list[Thing] = [{"material": "glass", "colour": "blue"}, {"material": "plastic", "colour": "blue"}]
    assert shortest(red, others, preference) == expected


def test_the_noun_is_said_though_it_tells_nothing() -> None:
    """Dale & Reiter 1995: the head noun is always there, because a phrase needs one."""
    blocks: list[Thing] = [{"colour": "blue", "shape": "block"}]
    assert shortest({"colour": "red", "shape": "block"}, blocks, ["colour", "shape"], "shape") == ("colour", "shape")
    assert shortest({"colour": "red", "shape": "block"}, blocks, ["colour", "shape"]) == ("colour",)


def test_twins_cannot_be_told_apart() -> None:
    assert shortest({"colour": "red"}, [{"colour": "red"}], ["colour"]) is None


THINGS = st.fixed_dictionaries(
    {"colour": st.sampled_from(["red", "blue"]), "size": st.sampled_from(["long", "short"]), "shape": st.sampled_from("ABC")}
)


@given(THINGS, st.lists(THINGS, max_size=8), st.permutations(["colour", "size", "shape"]))
def test_the_shortest_description_fits_nothing_else(target: Thing, others: list[Thing], preference: list[str]) -> None:
    named = shortest(target, others, preference)
    if named is None:
        assert target in others
    else:
        assert not [other for other in others if all(other[kind] == target[kind] for kind in named)]


# --- bits ---------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("before", "after", "expected"), [(8, 1, 3), (8, 2, 2), (12, 3, 2), (5, 5, 0), (5, 0, None)])
def test_bits(before: int, after: int, expected: float | None) -> None:
    """log2 of how many over how many (Shannon 1948), by arithmetic."""
    assert bits(before, after) == expected


BOAT = read_plan((SHARED / "plans" / "little-boat.toml").read_text(encoding="utf-8"), "little-boat.toml")
KEYS = st.sampled_from(sorted(BOAT.pieces))


@given(st.lists(KEYS, min_size=1, max_size=12), KEYS, KEYS, st.sampled_from(BOAT.preference))
def test_one_more_piece_that_fits_never_raises_the_bits(tray: list[str], more: str, meant: str, kind: str) -> None:
    """And one that does not fit never lowers them: it is one more that was ruled out."""
    said = [(kind, BOAT.pieces[meant].attributes[kind])]

    def told(keys: list[str]) -> float | None:
        return bits(len(keys), Tray(BOAT.pieces, Counter(keys)).fitting(said).pieces)

    before, after = told(tray), told([*tray, more])
    if before is not None and after is not None:
        assert after <= before if BOAT.pieces[more].attributes[kind] == said[0][1] else after >= before


# --- in a session -------------------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def lexicon() -> Lexicon:
    return read_lexicon((SHARED / "lexicon" / "en.toml").read_text(encoding="utf-8"), "en.toml").with_plan(BOAT)


def found(story: Story, plan: Plan | None = None, lexicon: Lexicon | None = None) -> Finding:
    return finding_of(requests_of(read_record(story.ends(60))), plan, lexicon)


def test_two_contributions_are_one_request_which_was_open_and_was_made_clear() -> None:
    story = (
        Story()
        .says("A", 1, 2, "the red one", asked(1, colour="red", before=8, after=2, kinds=2))
        .says("B", 3, 4, "which one")
        .says("A", 5, 6, "the long one", asked(1, colour="red", size="long", before=8, after=1))
    )
    [one] = found(story).requests
    assert (one.contributions, one.first, one.whole, one.bits) == (2, Verdict.OPEN, Verdict.ENOUGH, 3.0)
    assert found(story).cleared == 1
    assert found(story).kinds == {"colour": 1, "size": 1}


def test_a_request_that_nothing_fits_tells_no_bits() -> None:
    [one] = found(Story().says("A", 1, 2, "the pink one", asked(1, colour="pink", after=0, kinds=0))).requests
    assert (one.whole, one.bits) == (Verdict.NOTHING, None)


@pytest.mark.parametrize(
    ("said", "more", "words"),
    [
        ({"colour": "white", "shape": "triangle"}, False, ("colour", "shape")),  # one white piece; the noun is no spare word
        ({"size": "big", "colour": "white", "shape": "triangle"}, True, ("colour", "shape")),
        ({"size": "long", "colour": "red"}, False, ("colour", "size", "shape")),
        ({"size": "long", "colour": "red", "shape": "block"}, False, ("colour", "size", "shape")),
    ],
    ids=["enough", "big is spare", "no noun", "with a noun"],
)
def test_more_than_needed_on_the_boats_tray(said: dict[str, str], more: bool, words: tuple[str, ...]) -> None:
    request = replace(asked(1), attributes=tuple(said.items()))
    [one] = found(Story().says("A", 1, 2, "", request), BOAT).requests
    assert (one.more_than_needed, one.shortest) == (more, words)


def test_the_tray_empties_step_by_step() -> None:
    """Once the long red block is built in, "red" alone is enough: "short" is more than needed."""
    story = Story().done(1, 10).done(2, 20).says("A", 21, 22, "", asked(1, size="short", colour="red"))
    [one] = found(story, BOAT).requests
    assert (one.step, one.more_than_needed, one.shortest) == (3, True, ("colour", "shape"))


def test_words_in_one_breath_with_done_belong_to_the_next_step() -> None:
    story = Story("AB").says("A", 1, 2, "done now the long red one", asked(1, size="long", colour="red"), act=Act.STEP_DONE)
    assert [one.step for one in found(story, BOAT).requests] == [2]


@pytest.mark.parametrize(
    ("where", "kinds"),
    [
        ("on top of the long blue block", 1),  # it is built
        ("next to the yellow one", 0),  # it is not yet
        ("beside the long one", 2),  # two long ones are built
        ("in the middle", None),  # no piece is named
        ("", None),
    ],
)
def test_a_landmark_is_looked_for_in_what_is_built(where: str, kinds: int | None, lexicon: Lexicon) -> None:
    story = Story().done(1, 10).done(2, 20).says("A", 21, 22, "", asked(1, size="short", colour="blue", where=where))
    [one] = found(story, BOAT, lexicon).requests
    assert (one.says_where, one.landmark_kinds) == (bool(where), kinds)


def test_without_a_plan_nothing_is_said_about_spare_words() -> None:
    finding = found(Story().says("A", 1, 2, "", asked(1, colour="red")))
    assert (finding.more_than_needed, finding.requests[0].shortest) == (None, None)
