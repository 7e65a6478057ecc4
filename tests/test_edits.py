"""How far two sequences are apart, against a library and the textbook."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from rapidfuzz.distance import Levenshtein

from assistant.listening.edits import edits

WORDS = st.lists(st.sampled_from("the red long blue one".split()), max_size=8)


@given(WORDS, WORDS)
def test_it_counts_edits_as_a_library_does(one: list[str], other: list[str]) -> None:
    # rapidfuzz, which jiwer counts word errors with.
    assert edits(one, other) == Levenshtein.distance(one, other)


@pytest.mark.parametrize(("one", "other", "far"), [("kitten", "sitting", 3), ("", "abc", 3), ("same", "same", 0)])
def test_known_distances(one: str, other: str, far: int) -> None:
    # The example that every textbook gives (common practice, no source).
    assert edits(one, other) == far


def test_items_may_have_a_price() -> None:
    assert edits("ab", "ac", exchange=lambda one, other: 0.25 * (one != other)) == 0.25
    assert edits("ab", "a", missing=lambda item: 0.5) == 0.5
