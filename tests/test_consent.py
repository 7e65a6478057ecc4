"""Consent: everybody is asked, any "no" wins, and whoever was not asked has not agreed."""

import tomllib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.core.club.asking import Terms, asking, read_questions
from assistant.core.club.consent import LEVELS, Consent, Giver, Ledger, Receipt, ask_order, givers
from assistant.devices.shelf import shared_text
from assistant.terms import Seat
from tests.killing import DAY, SEATS, UNTIL, agreed

TEXTS = tomllib.loads(shared_text("consent/en.toml"))


def said(seat: Seat, giver: Giver, level: Consent) -> Receipt:
    return Receipt(seat, giver, level, DAY, 1, UNTIL)


def test_who_was_not_asked_has_not_agreed() -> None:
    ledger = Ledger((Seat.A, Seat.FACILITATOR))
    assert ledger.level is Consent.NOTHING
    ledger = ledger.with_answer(said(Seat.A, Giver.GUARDIAN, Consent.WORDS))
    ledger = ledger.with_answer(said(Seat.FACILITATOR, Giver.ADULT, Consent.WORDS))
    assert ledger.level is Consent.NOTHING  # the child itself has not been asked
    assert ledger.with_answer(said(Seat.A, Giver.CHILD, Consent.WORDS)).level is Consent.WORDS


@given(st.sampled_from(ask_order(SEATS)), st.sampled_from(Consent))
def test_any_lower_answer_wins(who: tuple[Seat, Giver], level: Consent) -> None:
    assert agreed(Consent.VOICES).with_answer(said(*who, level)).level is level


def test_a_no_that_is_taken_back_by_the_same_person_is_a_yes() -> None:
    no = agreed().with_answer(said(Seat.B, Giver.CHILD, Consent.NOTHING))
    assert no.level is Consent.NOTHING
    assert no.with_answer(said(Seat.B, Giver.CHILD, Consent.TIMELINE)).level is Consent.TIMELINE


def test_withdrawing_is_written_down_and_wins() -> None:
    ledger = agreed().withdrawn(Seat.C, Giver.GUARDIAN, "2027-01-13")
    assert ledger.level is Consent.NOTHING
    assert ledger.receipts[-1] == Receipt(Seat.C, Giver.GUARDIAN, Consent.NOTHING, "2027-01-13", 1, UNTIL, withdrawn=True)


def test_the_earliest_date_counts() -> None:
    early = Receipt(Seat.B, Giver.GUARDIAN, Consent.WORDS, DAY, 1, "2027-02-01")
    assert agreed().with_answer(early).until == "2027-02-01"


def test_nobody_at_the_table_is_no_consent() -> None:
    assert Ledger(()).level is Consent.NOTHING


@pytest.mark.parametrize("most", [Consent.TIMELINE, Consent.WORDS, Consent.VOICES])
def test_who_chooses_a_level_was_told_of_each_that_can_be_chosen(most: Consent) -> None:
    questions, asked = read_questions(shared_text("consent/en.toml")), asking(SEATS, Terms(most, DAY, UNTIL))
    for answer in questions.question(asked).answers.values():
        assert answer is Consent.NOTHING or TEXTS["grown_up"][LEVELS[answer]] in questions.told(asked)


def test_children_are_asked_last_so_that_their_word_is_the_last() -> None:
    assert [giver for _, giver in ask_order(SEATS)] == [Giver.GUARDIAN] * 3 + [Giver.ADULT] + [Giver.CHILD] * 3
    assert givers(Seat.FACILITATOR) == (Giver.ADULT,)


@pytest.mark.parametrize("level", ["timeline", "words", "voices"])
def test_each_level_is_told_to_grown_ups_and_to_children(level: str) -> None:
    assert level in TEXTS["grown_up"] and level in TEXTS["child"]


def test_a_child_is_asked_in_short_sentences_of_short_words() -> None:
    """Chosen by us: no sentence for a child is longer than twelve words, no word longer than eight letters but 'computer'."""
    for text in (text for name, text in TEXTS["child"].items() if name != "choices"):
        for sentence in filter(None, text.replace("?", ".").split(".")):
            words = sentence.replace(",", "").split()
            assert len(words) <= 12, sentence
            assert all(len(word) <= 8 for word in words), sentence
