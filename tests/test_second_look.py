"""The second look at the words: what sounds like a piece of the plan, where a piece is expected, and nothing else."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.core.plans.plan import read_plan
from assistant.devices.shelf import plan_text
from assistant.events import Word
from assistant.listening.second_look import SecondLook
from assistant.listening.sounds import Pronunciations, phones_apart
from assistant.terms import Act
from tests.utterances import HALVES, boat, every_way, talk


class Hears:
    """A recogniser that hears what it is told."""

    name = "a recogniser"

    def __init__(self, says: str = "") -> None:
        self.says = says

    def recognise(self, pcm: bytes, start_sample: int) -> tuple[Word, ...]:
        return spread(self.says, start_sample)


LEXICON = boat()
LOOK = SecondLook(Hears(), read_plan(*plan_text("little-boat")), LEXICON).look
SOUNDS = Pronunciations()


def spread(says: str, start_sample: int = 0) -> tuple[Word, ...]:
    """Words of a hundred samples each, one after the other."""
    return tuple(Word(text, start_sample + 100 * at, start_sample + 100 * (at + 1)) for at, text in enumerate(says.split()))


def looked(says: str) -> str:
    return " ".join(word.text for word in LOOK(spread(says)))


# --- what changes ---------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("heard", "meant"),
    [
        ("can you find the sword one", "can you find the short one"),
        ("get the short red blur", "get the short red block"),
        ("i need a long blue luck", "i need a long blue block"),
        ("the big light triangle", "the big white triangle"),
        ("can you find a big white try angle", "can you find a big white triangle"),
        ("do you mean the sword one", "do you mean the short one"),
    ],
)
def test_what_sounds_like_a_piece_of_the_plan_is_taken_for_it(heard: str, meant: str) -> None:
    assert looked(heard) == meant


def test_two_words_that_were_one_take_the_place_of_both() -> None:
    assert LOOK(spread("a big white try angle"))[-1] == Word("triangle", 300, 500)


def test_the_recogniser_is_asked_first_and_named_with_it() -> None:
    look = SecondLook(Hears("the sword one"), read_plan(*plan_text("little-boat")), LEXICON)
    assert look.name == "a recogniser, with a second look at the words"
    assert look.recognise(b"", 1000) == (Word("the", 1000, 1100), Word("short", 1100, 1200), Word("one", 1200, 1300))


# --- what stays -----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "says",
    [
        "the short red one",  # it was heard right
        "the sword is mine",  # nothing about a piece
        "can i have a blue pencil",  # a noun of its own beside one attribute
        "put your red shoes on",
        "i want a big dog",
        "a short blue sword",  # short is said already, and no block sounds like this
        "the green light",
        "",
    ],
)
def test_what_stays_as_it_was_heard(says: str) -> None:
    assert looked(says) == says


def test_a_word_is_taken_for_a_piece_only_where_such_a_piece_exists() -> None:
    """ "Luck" is near "block", and the plan has blocks in red and blue; it has no white one."""
    assert looked("i need the long red luck") == "i need the long red block"
    assert looked("i need the big white luck") == "i need the big white luck"


@pytest.mark.parametrize("says", [says for half in HALVES for says in talk(half)])
def test_no_other_talk_becomes_a_request(says: str) -> None:
    acts = {meaning.act for meaning in every_way(looked(says), LEXICON)}
    assert not acts & {Act.REQUEST, Act.STEP_DONE}


HEARD = ["the", "sword", "red", "luck", "blur", "one", "dog", "xqz", "put", "try", "angle"]


@given(st.lists(st.sampled_from(HEARD), max_size=7))
def test_the_words_keep_their_place_and_order(words: list[str]) -> None:
    heard = spread(" ".join(words))
    seen = LOOK(heard)
    assert len(seen) <= len(heard)
    assert all(one.end_sample == other.start_sample for one, other in zip(seen, seen[1:], strict=False))
    assert [word.start_sample for word in seen[:1]] == [word.start_sample for word in heard[:1]]
    assert LOOK(seen) == seen


# --- how alike words sound ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("one", "other"), [("blew", "blue"), ("read", "red"), ("won", "one"), ("for", "four")])
def test_words_that_sound_the_same_are_not_apart(one: str, other: str) -> None:
    """Homophones, by the dictionary that pocketsphinx carries (CMUdict)."""
    assert SOUNDS.apart((one,), (other,)) == 0


def test_voice_alone_tells_less_than_manner_and_place() -> None:
    """Miller & Nicely 1955 (J. Acoust. Soc. Am. 27:338): noise confuses place most, then manner, voice least; from memory.

    Here the ends that matter: a neighbour in one feature is nearer than a sound that shares none.
    """
    bat, pat, mat, sat = (("B", "AE", "T"), ("P", "AE", "T"), ("M", "AE", "T"), ("S", "AE", "T"))
    assert 0 < phones_apart(bat, pat) < phones_apart(bat, sat)
    assert 0 < phones_apart(bat, mat) < phones_apart(pat, mat) + phones_apart(bat, pat)


PHONES = st.lists(st.sampled_from(["B", "L", "AA", "K", "IY", "SH", "NG", "W", "ER"]), max_size=6).map(tuple)


@given(one=PHONES, other=PHONES)
def test_a_distance_is_nothing_for_the_same_and_equal_both_ways(one: tuple[str, ...], other: tuple[str, ...]) -> None:
    assert phones_apart(one, one) == 0
    assert phones_apart(one, other) == pytest.approx(phones_apart(other, one))
    assert (phones_apart(one, other) == 0) == (one == other)


def test_a_word_may_be_said_in_more_than_one_way_and_an_unknown_one_in_none() -> None:
    assert set(SOUNDS.of(("read",))) == {("R", "EH", "D"), ("R", "IY", "D")}
    assert SOUNDS.of(("xqz",)) == ()
    assert SOUNDS.apart(("xqz",), ("red",)) is None
