"""The words: reading them, the plan's own, and mending what was misheard."""

from functools import cache
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pocketsphinx import get_model_path

from assistant.core.plans.plan import read_plan
from assistant.core.words.lexicon import Label, Lexicon, read_lexicon
from assistant.devices.shelf import plan_text, shared_text
from assistant.errors import SharedError
from assistant.terms import Act
from tests.utterances import boat, pairs, understood

TEXT = shared_text("lexicon/en.toml")
ENGLISH = read_lexicon(TEXT, "en.toml")
BOAT = boat()

CAFE = """
version = 1
title = "Porridge"
activity = "cooking"
children = [2]
about = "Something to eat."
preference = ["food", "size"]
[piece.flour]
attributes = { food = "oat flour" }
unit = "spoon"
[piece.long-spoon]
attributes = { size = "long", food = "spoon" }
[piece.short-spoon]
attributes = { size = "short", food = "spoon" }
[[step]]
component = "bowl"
put = [{ piece = "flour", amount = 2 }, { piece = "long-spoon" }, { piece = "short-spoon" }]
where = "into the saucepan"
[words.food]
"oat flour" = ["flour", "powder", "white stuff"]
"""


def normalised(says: str, lexicon: Lexicon = BOAT) -> str:
    return " ".join(lexicon.normalise(says.split()))


# --- from outside ---------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "colour", ["black", "white", "red", "green", "yellow", "blue", "brown", "purple", "pink", "orange", "grey"]
)
def test_all_basic_colour_words_of_english_are_known(colour: str) -> None:
    """The eleven basic colour terms of English (Berlin & Kay 1969), from memory."""
    assert ENGLISH.pair_of((colour,)) == ("colour", colour)


@pytest.mark.parametrize(("american", "british"), [("gray", "grey"), ("color", "colour"), ("colored", "coloured")])
def test_american_spellings_are_read_as_british(american: str, british: str) -> None:
    assert normalised(american, ENGLISH) == british


@cache
def pronunciations() -> dict[str, list[tuple[str, ...]]]:
    """The dictionary that pocketsphinx carries (CMUdict): word to its ways to be said, as phones."""
    found: dict[str, list[tuple[str, ...]]] = {}
    for line in (Path(get_model_path()) / "en-us" / "cmudict-en-us.dict").read_text(encoding="utf-8").splitlines():
        word, *phones = line.split()
        found.setdefault(word.partition("(")[0], []).append(tuple(phones))
    return found


def phones_apart(one: tuple[str, ...], other: tuple[str, ...]) -> int:
    """Levenshtein distance."""
    row = list(range(len(other) + 1))
    for at, phone in enumerate(one, start=1):
        before, row = row, [at]
        for place, against in enumerate(other):
            row.append(min(row[-1] + 1, before[place + 1] + 1, before[place] + (phone != against)))
    return row[-1]


KNOWN_PAIRS = [(heard[0], meant) for heard, meanings in ENGLISH.heard_as.items() if len(heard) == 1 for meant in meanings]


@pytest.mark.parametrize(("heard", "meant"), [pair for pair in KNOWN_PAIRS if pair[0] in pronunciations()])
def test_what_is_mended_really_sounds_alike(heard: str, meant: str) -> None:
    """By the pronouncing dictionary that pocketsphinx carries: two phones apart at most."""
    assert min(phones_apart(one, other) for one in pronunciations()[heard] for other in pronunciations()[meant]) <= 2


@pytest.mark.parametrize(
    ("heard", "meant"),
    [("blew", "blue"), ("read", "red"), ("to", "two"), ("for", "four"), ("ate", "eight"), ("won", "one")],
)
def test_homophones_are_homophones(heard: str, meant: str) -> None:
    """By the same dictionary: no phone apart."""
    assert set(pronunciations()[heard]) & set(pronunciations()[meant])
    assert meant in ENGLISH.heard_as[(heard,)]


# --- mending --------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("heard", "meant"),
    [
        ("the blew one", "the blue one"),
        ("put the blew one on top", "put the blue one on top"),
        ("a long read block", "a long red block"),
        ("i need to red ones", "i need two red ones"),
        ("can i have for blue blocks", "can i have four blue blocks"),
        ("the red won", "the red one"),
        ("the red black", "the red block"),
        ("a try angle", "a try angle"),
        ("the blue try angle", "the blue triangle"),
        ("the lellow one", "the yellow one"),
        ("da bwue one", "the blue one"),
        ("the the long the long one", "the long one"),
        ("The Red-Block.", "the red block"),
        ("it’s red", "it's red"),
    ],
)
def test_what_is_mended(heard: str, meant: str) -> None:
    assert normalised(heard) == meant


@pytest.mark.parametrize(
    "says",
    [
        "the wind blew my hat off",
        "i read a book",
        "i ate two biscuits",
        "next to blue ones",
        "we want to go",
        "this is for you",
        "we won",
        "can i have a break",
        "i want a pig",
        "once upon a time",
        "who is ready",
    ],
)
def test_what_stays_as_it_was_heard(says: str) -> None:
    assert normalised(says) == says


def tower_with(colour: str) -> Lexicon:
    """The lexicon with the words of the tower, its red block painted over."""
    text, _ = plan_text("four-block-tower")
    return ENGLISH.with_plan(read_plan(text.replace('colour = "red"', f'colour = "{colour}"'), "tower"))


def test_a_word_that_the_plan_knows_is_not_mended_into_another() -> None:
    assert normalised("the blue black", tower_with("black")) == "the blue black"
    assert normalised("the blue black", tower_with("white")) == "the blue block"


def test_a_word_of_its_own_is_mended_only_on_a_plan_that_has_no_use_for_it() -> None:
    assert normalised("the wide block", tower_with("white")) == "the white block"
    assert normalised("the wide triangle") == "the wide triangle"  # the boat has a big one


@given(st.lists(st.sampled_from(sorted({word for phrase in ENGLISH.labels for word in phrase})), max_size=8))
def test_what_was_mended_once_needs_no_mending(words: list[str]) -> None:
    once = BOAT.normalise(words)
    assert BOAT.normalise(once) == once


# --- the plan's own words -------------------------------------------------------------------------------------------------


def test_a_plan_brings_its_own_words_spelt_together_or_apart() -> None:
    cafe = ENGLISH.with_plan(read_plan(CAFE, "cafe.toml"))
    for said in ("oat flour", "flour", "white stuff"):
        assert cafe.pair_of(tuple(said.split())) == ("food", "oat flour")
    assert cafe.pair_of(("spoons",)) == ("food", "spoon")
    assert Label.SPOT in cafe.labels_of(("saucepan",))


def test_what_a_piece_is_measured_in_names_it_without_telling_it_apart() -> None:
    cafe = ENGLISH.with_plan(read_plan(CAFE, "cafe.toml"))
    heard = understood("two cups of flour into the saucepan please", "engineer", False, cafe)
    assert heard.act is Act.OTHER  # this plan measures in spoons, and of cups it knows nothing
    heard = understood("i need two long spoons and the flour", "engineer", False, cafe)
    assert (heard.attributes, heard.quantity) == (pairs("size long, food spoon, food oat flour"), 2)


def test_a_word_means_what_it_can_mean_on_this_plan() -> None:
    cafe = ENGLISH.with_plan(read_plan(CAFE, "cafe.toml"))
    assert BOAT.pair_of(("brick",)) == ("shape", "block")
    assert BOAT.pair_of(("little",)) == ("size", "small")
    assert cafe.pair_of(("little",)) == ("size", "short")  # no spoon is small
    assert ENGLISH.pair_of(("little",)) == ("size", "small")


def test_general_words_for_a_piece_are_no_attributes() -> None:
    for word in ("one", "ones", "piece", "thing"):
        assert BOAT.pair_of((word,)) is None


# --- reading --------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("old", "new", "sentence"),
    [
        ("version = 1", "version = 7", "en.toml, version: it says 7. This program reads version 1: write that."),
        ('language = "en"', 'tongue = "en"', "en.toml, the top: 'tongue' is not a word of the lexicon format."),
        ("[phrases]", '[phrases]\nshout = ["oi"]', "en.toml, phrases.shout: there is no such list."),
        ('stress = ["very"', 'stres = ["very"', "en.toml, phrases.stress: the list is missing."),
        ('2 = ["two"', 'two = ["two"', "en.toml, numbers.two: the key must be a number over 0."),
        ('red = ["red", "reddish"]', 'red = "red"', "en.toml, attributes.colour.red: it must be a list of words in quotes"),
        ('"en"', "en", "en.toml: this is not TOML"),
    ],
)
def test_each_problem_is_a_sentence_with_its_place(old: str, new: str, sentence: str) -> None:
    assert old in TEXT
    with pytest.raises(SharedError) as refused:
        read_lexicon(TEXT.replace(old, new, 1), "en.toml")
    assert any(line.startswith(sentence) for line in str(refused.value).splitlines())


def test_all_problems_are_found_at_once() -> None:
    with pytest.raises(SharedError) as refused:
        read_lexicon("version = 2\n[attributes.colour]\n", "words.toml")
    assert len(str(refused.value).splitlines()) == 2 + len(Label) - 2  # version, empty kind, and every list is missing


def test_what_a_word_may_stand_for_is_a_value_that_exists() -> None:
    values = {value for meanings in ENGLISH.meanings.values() for _, value in meanings}
    for said, others in ENGLISH.stands_for.items():
        assert {said, *others} <= values
