"""Asking back, and what the adult said, told in small stories.

The three ways to begin (Dingemanse et al. 2015, in our words): an *open request* shows that there was trouble without saying
where in what was said; a *restricted request* points at the part that is in doubt and asks for it; a *restricted offer* puts
forward what it may have been, and asks for a yes or a no.
"""

from pathlib import Path

import pytest

from assistant.core.measures.adult import Adult, RulePointed, adult_of
from assistant.core.measures.asking import requests_of
from assistant.core.measures.record import read_record
from assistant.core.measures.repairs import Mending, Repairs, repairs_of
from assistant.core.measures.talk import talk_of
from assistant.core.measures.turns import floor_of
from assistant.core.plans.plan import read_plan
from assistant.core.words.lexicon import Lexicon, read_lexicon
from assistant.samples import to_samples
from assistant.terms import Act, Praise, Prompt, Repair, Seat
from tests.told import Story, asked

SHARED = Path(__file__).parents[1] / "shared"
WHICH, HUH, OFFER = Repair.RESTRICTED_REQUEST, Repair.OPEN_REQUEST, Repair.RESTRICTED_OFFER


@pytest.fixture(scope="module")
def lexicon() -> Lexicon:
    boat = read_plan((SHARED / "plans" / "little-boat.toml").read_text(encoding="utf-8"), "little-boat.toml")
    return read_lexicon((SHARED / "lexicon" / "en.toml").read_text(encoding="utf-8"), "en.toml").with_plan(boat)


def repairs(story: Story, lexicon: Lexicon | None = None) -> Repairs:
    record = read_record(story.ends(3600))
    return repairs_of(record, requests_of(record), to_samples(3600), lexicon)


def red() -> Story:
    """A asks for the red one, and two kinds of piece are red."""
    return Story().says("A", 1, 2, "the red one", asked(1, colour="red", after=2, kinds=2))


def test_which_one_and_the_long_one() -> None:
    story = red().says("B", 3, 4, "which one", repair=WHICH).says("A", 5, 6, "the long one", asked(1, size="long"))
    assert repairs(story).repairs == (
        Mending(WHICH, to_samples(3), 1, began=Seat.B, asked=Seat.A, mended=Seat.A, lasted_samples=to_samples(3), solved=True),
    )


def test_the_long_one_and_yes() -> None:
    """An offer is mended by the word of the one who asked, whatever it is."""
    [one] = repairs(red().says("B", 3, 4, "the long one", repair=OFFER).says("A", 4.5, 5, "yes")).repairs
    assert (one.kind, one.mended, one.solved) == (OFFER, Seat.A, True)


def test_huh_answered_with_huh_is_followed_by_another_repair() -> None:
    """The first did not hold: the same request was asked about again. The second did."""
    story = red().says("B", 3, 3.3, "huh", repair=HUH).says("A", 4, 5, "the red one", asked(1, colour="red", after=2, kinds=2))
    told = repairs(story.says("B", 6, 7, "which one", repair=WHICH).says("A", 8, 9, "the long one", asked(1, size="long")))
    assert [(one.kind, one.solved) for one in told.repairs] == [(HUH, False), (WHICH, True)]
    assert told.kinds == {HUH: 1, WHICH: 1, OFFER: 0}
    assert told.solved == 1


def test_a_silent_nod_and_the_step_done_solve_it_too() -> None:
    [one] = repairs(red().says("B", 3, 4, "this one", repair=OFFER).done(1, at_s=9)).repairs
    assert (one.mended, one.lasted_samples, one.solved) == (None, None, True)


def test_nobody_answers() -> None:
    [one] = repairs(red().says("B", 3, 4, "which one", repair=WHICH)).repairs
    assert (one.mended, one.solved) == (None, False)


def test_whether_a_voice_that_nobody_knows_made_it_clear_cannot_be_told() -> None:
    told = repairs(red().says("B", 3, 4, "which one", repair=WHICH).says("?", 5, 6, "the long one"))
    assert [(one.mended, one.solved, one.untold) for one in told.repairs] == [(None, False, True)]
    assert (len(told.repairs), told.told) == (1, 0)


def test_two_voices_that_nobody_knows_need_not_be_one() -> None:
    """Whoever was not clear mends it by speaking next; of an unknown voice it is not known that it is the same."""
    told = repairs(Story().says("?", 1, 2, "we had cake").says("B", 3, 3.3, "what", repair=HUH).says("?", 4, 5, "mm"))
    assert [(one.asked, one.mended, one.solved, one.untold) for one in told.repairs] == [(Seat.UNSURE, None, False, True)]


def test_words_of_a_minute_later_mend_nothing() -> None:
    [one] = repairs(red().says("B", 3, 4, "which one", repair=WHICH).says("A", 64, 65, "what a day")).repairs
    assert one.mended is None


def test_another_child_who_says_what_it_is_has_mended_it(lexicon: Lexicon) -> None:
    story = red().says("B", 3, 4, "which one", repair=WHICH).says("C", 5, 6, "the long one").says("A", 7, 8, "yes")
    assert [one.mended for one in repairs(story, lexicon).repairs] == [Seat.C]
    assert [one.mended for one in repairs(story).repairs] == [Seat.A]  # without a lexicon nobody knows what C said


def test_asking_back_about_something_else_is_about_no_request() -> None:
    story = Story().says("A", 1, 2, "we had cake").says("B", 3, 3.3, "what", repair=HUH).says("A", 4, 5, "cake")
    [one] = repairs(story).repairs
    assert (one.request, one.mended) == (None, Seat.A)


def test_who_asked_for_the_piece_can_ask_back_too_and_is_answered_by_the_one_who_mumbled() -> None:
    """What was not clear is then not the request, but what was said to it."""
    story = red().says("B", 3, 4, "not there").says("A", 5, 5.3, "what", repair=HUH).says("B", 6, 7, "not there")
    [one] = repairs(story).repairs
    assert (one.request, one.asked, one.mended, one.solved) == (1, Seat.B, Seat.B, True)


def test_a_rate_rests_on_what_was_heard() -> None:
    """Dingemanse et al. 2015 found one repair in 1.4 minutes of talk: 42.9 an hour. Here: 2 in an hour."""
    told = repairs(red().says("B", 3, 4, "which one", repair=WHICH).says("B", 5, 6, "which one", repair=WHICH))
    assert told.per_hour == 2.0
    assert Repairs((), 0).per_hour is None


# --- the adult ----------------------------------------------------------------------------------------------------------


def adult(story: Story, lexicon: Lexicon | None = None) -> Adult:
    record = read_record(story.ends(60))
    talk = talk_of(record, floor_of(record))
    return adult_of(record, talk, repairs_of(record, requests_of(record), to_samples(60), lexicon), lexicon)


def test_prompts_praise_and_rules_are_counted() -> None:
    told = adult(
        Story()
        .says("F", 1, 2, "i wonder", prompt=Prompt.INDIRECT)
        .says("F", 5, 6, "what do you say", prompt=Prompt.DIRECT)
        .says("F", 9, 10, "well done what comes next", prompt=Prompt.DIRECT, praise=Praise.GENERAL)
        .says("F", 13, 14, "you let your sister finish", praise=Praise.SPECIFIC)
        .says("F", 17, 18, "remember the rule", act=Act.RULE)
        .says("A", 21, 25, "it is in the rules", act=Act.RULE)
    )
    assert (told.indirect, told.direct, told.specific, told.general) == (1, 2, 1, 1)
    assert told.rules == (RulePointed(Seat.A, 1), RulePointed(Seat.FACILITATOR, 1))
    assert (told.talk_samples, told.all_talk_samples) == (to_samples(5), to_samples(9))


def test_answering_for_the_child_that_was_asked_back(lexicon: Lexicon) -> None:
    story = red().says("B", 3, 4, "which one", repair=WHICH).says("F", 4.5, 6, "the long one").says("A", 7, 8, "yes")
    assert adult(story, lexicon).mended_for == 1


def test_saying_again_what_oneself_had_said_answers_for_nobody(lexicon: Lexicon) -> None:
    before = Story().says("F", 1, 2, "look at the blue one").says("B", 3, 3.3, "huh", repair=HUH)
    amid = red().says("F", 2.4, 3, "are you well").says("A", 3.2, 3.5, "huh", repair=HUH)
    assert adult(before.says("F", 4, 5, "the blue one"), lexicon).mended_for == 0
    assert adult(amid.says("F", 4, 5, "the red one looks well"), lexicon).mended_for == 0


def test_where_somebody_unsure_may_have_been_the_child_it_is_not_said_that_the_adult_answered(lexicon: Lexicon) -> None:
    story = Story().says("F", 1, 2, "which one", prompt=Prompt.DIRECT).says("?", 3, 4, "mm").says("F", 5, 6, "the red one")
    assert adult(story, lexicon).answered_own == 0


def test_wondering_about_the_red_ones_answers_for_nobody(lexicon: Lexicon) -> None:
    story = red().says("B", 3, 4, "which one", repair=WHICH)
    story.says("F", 4.5, 6, "i wonder if there is more than one red piece", prompt=Prompt.INDIRECT)
    told = adult(story.says("A", 7, 8, "the long one"), lexicon)
    assert (told.mended_for, told.answered_own) == (0, 0)


def test_answering_ones_own_question(lexicon: Lexicon) -> None:
    story = Story().says("F", 1, 2, "which one is it", prompt=Prompt.DIRECT).says("F", 5, 6, "it is the long red one")
    assert adult(story, lexicon).answered_own == 1


def test_without_words_it_is_not_known_who_answered_for_whom() -> None:
    told = adult(Story().says("F", 1, 2, prompt=Prompt.DIRECT))
    assert (told.answered_own, told.mended_for) == (None, None)
