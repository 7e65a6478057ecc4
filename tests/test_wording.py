"""A number and its word: one step, two steps."""

import re
from pathlib import Path

import pytest

from assistant.core.wording import Amount, Count, counted

SHARED = Path(__file__).parent.parent / "shared"
A_NUMBER_OF = re.compile(r"\{(\w+)\} (?:more |direct |different )?(\w+s)\b")
NEVER_ONE = {
    ("roles", "becomes"), ("name", "has"), ("seat", "has"), ("name", "is"), ("seat", "is"), ("at", "is"), ("number", "is"),
    ("pieces", "is"), ("seat", "passes"), ("name", "passes"), ("seat", "finds"), ("seat", "puts"), ("seat", "builds"),
    ("seat", "says"),
}  # fmt: skip
"""Not a number and a thing, but somebody and a verb."""
EXPLAINED = {
    "hints/en.toml": {("kinds", "kinds"): "two or more: else nothing was open", ("count", "questions"): "four or more"},
    "measures.toml": {("number", "times"): "from three on; once and twice stand before it", ("mean", "bits"): "1.0 bits"},
    "cues/en.toml": {("number", "steps"): "one more step stands before it", ("number", "minutes"): "so does one minute"},
    "setup/en.toml": {("seconds", "seconds"): "always fifteen"},
    "sheets/en.toml": {("rounds", "rounds"): "two, three or six"},
    "grades/en.toml": {("words", "words"): "1.0 words", ("bits", "bits"): "1.0 bits"},
}


def test_a_count_chooses_its_word() -> None:
    sentence = "{steps} {steps:step was|steps were} built"
    assert [sentence.format(steps=Count(number)) for number in (0, 1, 2)] == [
        "0 steps were built",
        "1 step was built",
        "2 steps were built",
    ]
    assert f"{Count(7):03}" == "007"


def test_so_does_an_amount_which_need_not_be_whole() -> None:
    sentence = "{minutes} {minutes:minute|minutes}"
    assert [sentence.format(minutes=Amount(minutes)) for minutes in (0.5, 1, 1.5, 45)] == [
        "0.5 minutes",
        "1 minute",
        "1.5 minutes",
        "45 minutes",
    ]
    assert f"{Amount(1):.1f}" == "1.0"


def test_only_numbers_are_made_to_choose() -> None:
    sentence = "{count:one|more} {name} {share:.1f}"
    assert sentence.format_map(counted({"count": 1, "name": "Ada", "share": 0.5})) == "one Ada 0.5"


@pytest.mark.parametrize("path", sorted(SHARED.rglob("*.toml")), ids=lambda path: str(path.relative_to(SHARED)))
def test_wherever_a_number_stands_before_a_thing_the_thing_goes_by_the_number(path: Path) -> None:
    found = set(A_NUMBER_OF.findall(path.read_text(encoding="utf-8"))) - NEVER_ONE
    assert found == set(EXPLAINED.get(str(path.relative_to(SHARED)), ()))
