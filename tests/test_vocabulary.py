"""The words of the describer, beside two reference libraries, published examples and Brown's rules for what is a word."""

from pathlib import Path
from warnings import catch_warnings, simplefilter

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.core.measures.definitions import Counting, Measures, read_measures
from assistant.core.measures.lexical import hdd, mattr, mtld, ttr
from assistant.core.measures.record import read_record
from assistant.core.measures.turns import floor_of
from assistant.core.measures.vocabulary import Known, Vocabulary, counted, vocabulary_of
from assistant.terms import Role, Seat
from tests.told import Story

with catch_warnings():
    simplefilter("ignore")  # it imports pkg_resources, and leaves its word list open
    from lexical_diversity import lex_div

L1 = "of the people by the people for the people".split()
L2 = list("abcdabcde")
L3 = "the big red brick goes on the small red brick and the blue brick goes next to the big red brick".split()

# The sample text of lexicalrichness 0.5.1's README (MIT), its digits and punctuation taken out as its own tokenizer does.
L4 = """
measure of textual lexical diversity computed as the mean length of sequential words in a text that maintains a minimum
threshold ttr score iterates over words until ttr scores falls below a threshold then increase factor counter by and start
over mccarthy and jarvis pg recommends a factor threshold in the range of mccarthy mccarthy and jarvis
""".split()


@pytest.fixture(scope="module")
def measures() -> Measures:
    return read_measures((Path(__file__).parents[1] / "shared" / "measures.toml").read_text(encoding="utf-8"))


def test_of_the_people() -> None:
    """L1: the example of McCarthy & Jarvis 2010 (from memory); values by lexical-diversity 0.1.1."""
    assert (len(L1), len(set(L1))) == (9, 5)
    assert ttr(L1) == pytest.approx(0.5556, abs=5e-5)
    assert mtld(L1) == pytest.approx(9.0)
    assert mtld(L1) == pytest.approx(lex_div.mtld(L1, min=1))


def test_letters_checked_by_hand() -> None:
    """L2. In windows of 3 nothing repeats. In windows of 5: .8, .8, .8, .8, 1: mean .84."""
    assert mattr(L2, 3) == 1.0
    assert mattr(L2, 5) == pytest.approx(0.84)
    assert hdd(L2, 4) == pytest.approx(0.833333, abs=5e-7)


def test_a_describers_words() -> None:
    """L3: values by lexical-diversity 0.1.1 and lexicalrichness 0.5.1."""
    assert (len(L3), len(set(L3))) == (21, 11)
    assert ttr(L3) == pytest.approx(0.523810, abs=5e-7)
    assert mattr(L3, 5) == pytest.approx(0.988235, abs=5e-7)
    assert mattr(L3, 10) == pytest.approx(0.8)
    assert mtld(L3) == pytest.approx(13.625401, abs=5e-7)
    assert hdd(L3, 10) == pytest.approx(0.709900, abs=5e-7)


def test_the_sample_text_of_a_library() -> None:
    """L4: values by lexicalrichness 0.5.1. lexical-diversity says 48.0095, because there a ratio of exactly 0.72 (18 of 25
    words) does not end a stretch."""
    assert (len(L4), len(set(L4))) == (57, 39)
    assert ttr(L4) == pytest.approx(0.684211, abs=5e-7)
    assert mattr(L4, 25) == pytest.approx(0.835152, abs=5e-7)
    assert hdd(L4, 42) == pytest.approx(0.746870, abs=5e-7)
    assert mtld(L4) == pytest.approx(46.792264, abs=5e-7)


SPOKEN = st.lists(st.sampled_from("the a red blue long short brick on".split()), min_size=1, max_size=120)


@given(SPOKEN)
def test_any_words_as_lexical_diversity_tells_them(words: list[str]) -> None:
    assert ttr(words) == pytest.approx(lex_div.ttr(words))
    if len(words) > 25:
        assert mattr(words, 25) == pytest.approx(lex_div.mattr(words, 25))
    if len(words) >= 42:
        assert hdd(words) == pytest.approx(lex_div.hdd(words))


@given(SPOKEN)
def test_any_stretches_as_lexical_diversity_tells_them(words: list[str]) -> None:
    """Between two words that come once, and with so few words that a stretch never holds 25, both variants say the same."""
    framed = ["first", *words, "last"]
    if len(set(framed)) < len(framed):
        assert mtld(framed) == pytest.approx(lex_div.mtld(framed, min=1))


def test_no_words_no_index() -> None:
    assert (ttr([]), mattr([]), mtld([]), hdd([])) == (None, None, None, None)
    assert mtld(["all", "of", "them", "new"]) is None


# --- which words count --------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("said", "expected"),
    [
        ("um the mm red one oh", "the red one"),  # Brown 1973 p. 54 (from a secondary source): skip mm, oh
        ("no yeah hi", "no yeah hi"),  # ... but count no, yeah, hi
        ("the the um the red one", "the red one"),  # a stutter counts once
        ("no no no", "no no no"),  # an emphatic repeat counts each time
        ("the red red one", "the red red one"),
    ],
)
def test_what_counts_as_a_word(said: str, expected: str, measures: Measures) -> None:
    assert " ".join(counted(said.split(), measures.counting)) == expected


def test_mean_length_in_words() -> None:
    """The textbook example of Brown's rules, in words: 3, 4, 4, 4. In morphemes it would be 4.25 (from a secondary source)."""
    said = ["go home now", "i live in billingham", "mummy kissed my daddy", "i like your dogs"]
    lengths = [len(list(counted(one.split(), Counting()))) for one in said]
    assert sum(lengths) / len(lengths) == 3.75


# --- in a session -------------------------------------------------------------------------------------------------------


def vocabulary(story: Story, measures: Measures, known: Known | None = None) -> Vocabulary:
    record = read_record(story.ends(600))
    return vocabulary_of(record, floor_of(record).units, measures, known)


def test_a_short_sample_shows_its_words_and_no_index(measures: Measures) -> None:
    story = Story().says("A", 1, 2, "um the long red block").says("A", 3, 4, "on top")
    [sample] = vocabulary(story, measures).samples
    assert (sample.seat, sample.role, sample.describes) == (Seat.A, Role.ENGINEER, True)
    assert (sample.words, sample.units) == (6, 2)
    assert (sample.ndw, sample.ttr, sample.mattr, sample.mtld, sample.hdd, sample.mlu) == (None,) * 6


def test_a_long_sample_shows_them_all(measures: Measures) -> None:
    story = Story()
    for turn in range(50):
        story.says("A", 3 * turn, 3 * turn + 2, "the big red block" if turn % 2 else "now a blue one")
    [sample] = vocabulary(story, measures).samples
    assert (sample.words, sample.ndw, sample.ttr, sample.mlu) == (200, 8, 8 / 200, 4.0)
    assert sample.mattr == pytest.approx(8 / 25)
    assert sample.mtld is not None and sample.hdd is not None


def test_two_children_the_builder_describes(measures: Measures) -> None:
    story = Story("AB").says("A", 1, 2, "the red one").says("B", 3, 4, "here")
    assert [(one.seat, one.role, one.describes) for one in vocabulary(story, measures).samples] == [
        (Seat.A, Role.BUILDER, True),
        (Seat.B, Role.SUPPLIER, False),
    ]


def test_a_borrowed_word_was_said_by_another_child_before(measures: Measures) -> None:
    story = (
        Story()
        .says("A", 1, 2, "the triangle")
        .says("B", 3, 4, "the triangle or the square")  # triangle is borrowed; "the" is a small word
        .says("A", 5, 6, "the square")  # square is
        .says("F", 7, 8, "the wheel")
        .says("C", 9, 10, "the wheel")  # not from a child
    )
    assert {one.seat: one.borrowed for one in vocabulary(story, measures).taken} == {Seat.A: 1, Seat.B: 1, Seat.C: 0}


def test_new_words_need_earlier_sessions(measures: Measures) -> None:
    story = Story().says("A", 1, 2, "the long triangle")
    assert [one.new for one in vocabulary(story, measures).taken] == [None, None, None]
    known = {Seat.A: frozenset({"the", "long"})}
    assert [one.new for one in vocabulary(story, measures, known).taken] == [1, 0, 0]
