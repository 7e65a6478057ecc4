"""The numbers of a whole session, the sentences they are told in, and where they are defined."""

import json
from pathlib import Path
from string import Formatter

import pytest

from assistant.core.measures.definitions import Measures, as_markdown, read_measures
from assistant.core.measures.lexical import HDD_DRAWS, MATTR_WINDOW, MTLD_FACTOR
from assistant.core.measures.sentences import _APART, _FILLED, in_short, in_words
from assistant.core.measures.spread import ENOUGH_FOR_INTERVAL, FEW
from assistant.core.measures.summary import as_json, summarise
from assistant.core.measures.talk import LAPSE, evenness
from assistant.core.measures.turns import UNIT_SILENCE
from assistant.core.plans.plan import read_plan
from assistant.core.words.lexicon import read_lexicon
from assistant.errors import SharedError
from assistant.events import Corrected
from assistant.samples import SAMPLE_RATE
from assistant.terms import Prompt, Repair, Seat
from tests.told import Story, asked, heard, ms, session

ROOT = Path(__file__).parents[1]
TEXT = (ROOT / "shared" / "measures.toml").read_text(encoding="utf-8")


@pytest.fixture(scope="module")
def measures() -> Measures:
    return read_measures(TEXT)


TALK = session(
    A="1110000001110000000011100000111",
    B="0000111000000111000000111000000",
    F="0000000000000000001100000000000",
    length_s=20,
)


def test_a_summary_says_who_spoke_how_often_and_how_long(measures: Measures) -> None:
    said = {line.measure: line.text for line in in_words(summarise(TALK), measures)}
    assert said["turns"] == "Turns: A 4, B 3, C 0, the adult 1."
    assert said["talk"] == "Talk: A 1.2 s, B 0.9 s, C 0.0 s, the adult 0.2 s."
    assert said["requests"] == "No piece was asked for."


def nobody_known() -> Story:
    """A session without voices: every turn is ``?``."""
    story = Story(seats="AB").says("?", 1, 3, "first we need the long blue one").says("?", 5, 7, "please find the red one")
    return story.says("?", 8, 9, "which one", repair=Repair.RESTRICTED_REQUEST).says("?", 10, 11, "the long one")


def test_where_nobody_knows_who_spoke_nothing_is_claimed_that_rests_on_it(measures: Measures) -> None:
    summary = summarise(nobody_known().ends(20), measures)
    said = {line.measure: line.text for line in in_words(summary, measures)}
    assert said["turns"] == "Turns: somebody spoke; whose turns they were cannot be told."
    assert said["requests"].startswith("Requests: none that could be told.")
    assert said["unsure"].startswith("Not sure who: 100% of the talk (stretches of speech: 4).")
    assert said["mended"].startswith("Made clear: 0 of 0 (none). Not known who spoke, so it cannot be told: 1.")
    assert [line.text for line in in_short(summary, measures)][1:] == [
        "When something was not clear, somebody asked back once; whether it was made clear cannot be told, "
        "because it is not known who spoke."
    ]


def test_where_nobody_knows_who_spoke_and_nothing_was_asked_back_it_is_not_said_that_nobody_did(measures: Measures) -> None:
    story = Story().says("?", 1, 3, "please find the red one")
    said = {line.measure: line.text for line in in_words(summarise(story.ends(20)), measures)}
    assert said["repairs"] == "Asking back: none that could be told without knowing who spoke."


def test_every_repair_and_every_request_is_somewhere_in_the_numbers(measures: Measures) -> None:
    """Made clear by A, and once by building on; asked for three times, of which one was heard in part and one not answered."""
    red = asked(1, colour="red", after=2, kinds=2)
    story = Story(seats="AB").says("A", 1, 2, "the red one", red)
    story.says("B", 3, 4, "which one", repair=Repair.RESTRICTED_REQUEST).says("A", 5, 6, "the long one", asked(1, size="long"))
    story.says("B", 7, 8, "this one", repair=Repair.RESTRICTED_OFFER).done(1, at_s=10)
    story.says("A", 11, 12, "the blue one", asked(2, colour="blue")).says("?", 13, 14, "here").done(2, at_s=15)
    story.says("A", 16, 17, "the short one", asked(3, size="short"))
    said = {line.measure: line.text for line in in_words(summarise(story.ends(30), measures), measures)}
    assert said["mended"].startswith("Made clear: 1 of 2 (by building on 1). How long it took: too few")
    assert said["answer"].endswith(
        "Requests: 3; answered by a child in words: 1 (after a word of the adult: 0); not: 1; "
        "left out, because not all was heard or it is not known who spoke: 1."
    )


def test_words_are_told_child_by_child_and_as_no_comparison(measures: Measures) -> None:
    story = Story(seats="AB").says("A", 1, 2, "the long red block please").says("B", 3, 4, "here")
    lines = [line.text for line in in_words(summarise(story.ends(9), measures), measures) if line.section == "Words"]
    assert lines[:4] == [
        "Each child's numbers stand by themselves: they follow from how long it described, and in which role, "
        "and are no comparison.",
        "A. Words: 5.",
        "A. Borrowed words: 0.",
        "A. Too few words to say: Different words, Different words for each word (TTR), The same, in windows (MATTR), "
        "How long words stay fresh (MTLD), Different words in a draw (HD-D), Words in one go (MLU).",
    ]
    assert not any("B " in line for line in lines)
    assert lines[-1] == "B. Borrowed words: 0."


def test_in_short_there_is_a_line_only_where_something_happened(measures: Measures) -> None:
    assert [line.text for line in in_short(summarise(TALK), measures)] == ["Steps built: 0 of 4. The roles swapped 0 times."]


def test_names_are_said_only_when_they_are_handed_in(measures: Measures) -> None:
    said = {line.measure: line.text for line in in_words(summarise(TALK), measures, {Seat.A: "Fern", Seat.FACILITATOR: "Dad"})}
    assert said["turns"] == "Turns: Fern 4, B 3, C 0, Dad 1."


def test_of_an_adult_who_was_never_heard_it_is_not_said_that_there_was_nothing(measures: Measures) -> None:
    """Where no voice was learnt for the adult, what the adult says is somebody's whom nobody knows."""
    said = {line.measure: line.text for line in in_words(summarise(Story().says("A", 1, 2).ends(9)), measures)}
    assert said["adult_share"] == "The adult's share of the talk: none was heard, or no voice was known for the adult."


def test_after_a_prompt_nobody_is_said_to_have_been_silent_where_it_cannot_be_told(measures: Measures) -> None:
    story = Story().says("F", 1, 2, "i wonder", prompt=Prompt.INDIRECT).says("A", 4, 5, "this one")
    story.says("F", 11, 12, "i wonder", prompt=Prompt.INDIRECT).says("?", 14, 15, "that one")
    said = {line.measure: line.text for line in in_words(summarise(story.ends(60)), measures)}
    assert said["first_wait"].endswith(
        "A child spoke first after 1 of 1. "
        "Left out, because nobody spoke after it, not all was heard, or it is not known who spoke: 1."
    )


def test_fewer_than_five_are_too_few_to_say(measures: Measures) -> None:
    said = {line.measure: line.text for line in in_words(summarise(TALK), measures)}
    assert said["own_wait"] == "Waiting for the next turn: A too few to say (3), B too few to say (2)."


def test_a_silent_session_divides_by_nothing(measures: Measures) -> None:
    said = {line.measure: line.text for line in in_words(summarise(session(A="0000"), measures), measures)}
    assert said["turns"] == "Nobody has spoken yet."
    assert not said.keys() & {"evenness", "offsets", "unsure", "adult_share"}
    json.dumps(as_json(summarise([])))


def test_what_was_put_right_by_hand_says_nothing_of_how_sure_a_voice_is(measures: Measures) -> None:
    nearer_to_b = heard(7, Seat.B, ms(3000, 4000), margin=0.9)
    story = Story().says("A", 1, 2).then(nearer_to_b, Corrected(nearer_to_b.sample, 7, Seat.B, Seat.A))
    said = {line.measure: line.text for line in in_words(summarise(story.ends(9)), measures)}
    assert said["margin"] == "How sure who: A 0.20. Put right by the adult: 1."


def test_what_is_nearly_even_is_not_called_exactly_even(measures: Measures) -> None:
    story = Story(seats="AB")
    for at in range(0, 240, 20):
        story.says("A", at, at + 1).says("B", at + 5, at + 6)
    said = {line.measure: line.text for line in in_words(summarise(story.says("A", 250, 251).ends(260)), measures)}
    assert "turns 0.999" in said["evenness"]


def test_a_minute_and_more_is_told_as_a_clock_shows_it(measures: Measures) -> None:
    story = Story().says("A", 1, 61).says("B", 70, 129.9).says("C", 200, 685)
    said = {line.measure: line.text for line in in_words(summarise(story.ends(700)), measures)}
    assert said["talk"] == "Talk: A 1:00 min, B 59.9 s, C 8:05 min, the adult 0.0 s."


def test_where_the_plan_is_not_known_nothing_is_said_of_what_is_built(measures: Measures) -> None:
    """A review without words has no plan: "with a piece already built: 0" would be a claim."""
    boat = read_plan((ROOT / "shared" / "plans" / "little-boat.toml").read_text(encoding="utf-8"), "boat")
    lexicon = read_lexicon((ROOT / "shared" / "lexicon" / "en.toml").read_text(encoding="utf-8"), "en").with_plan(boat)
    events = Story().says("A", 1, 2, "red", asked(1, colour="red", where="on top of the blue one")).done(1).ends(20)
    told = [
        {line.measure: line.text for line in in_words(summary, measures)}["landmarks"]
        for summary in (summarise(events), summarise(events, None, boat, lexicon))
    ]
    assert told == ["Saying where: 1.", "Saying where: 1. With a piece already built: 1 (clear 0, open 0, not there 1)."]


def test_json_holds_every_component_and_what_follows_from_it() -> None:
    told = json.loads(json.dumps(as_json(summarise(TALK))))
    time = {"speech_s": 2.2, "gap_s": 0.9, "pause_s": 0.0, "edge_s": 16.9, "muted_s": 0.0, "lost_s": 0.0}
    assert told["talk"]["time"] == time
    assert told["talk"]["offsets"]["count"] == 7


@pytest.mark.parametrize(
    ("counts", "expected"),
    [
        ([4, 4, 4], 1.0),  # Pielou 1966: the same for all
        ([1, 1], 1.0),
        ([2, 1, 1], 1.5 / 1.584962500721156),  # H(.5, .25, .25) = 1.5 bits (Shannon 1948), log2(3)
        ([7, 0, 0], 0.0),
        ([0, 0, 0], None),
        ([5], None),
    ],
)
def test_evenness(counts: list[int], expected: float | None) -> None:
    assert evenness(counts) == (None if expected is None else pytest.approx(expected))


# --- definitions --------------------------------------------------------------------------------------------------------


def test_every_number_that_is_told_is_defined_and_every_definition_is_told(measures: Measures) -> None:
    assert set(measures.by_key) == set(_FILLED) | set(_APART)


def test_the_page_of_the_docs_is_made_from_the_definitions(measures: Measures) -> None:
    """If this fails: ``python docs/write_measures.py``."""
    assert (ROOT / "docs" / "measures.md").read_text(encoding="utf-8") == as_markdown(measures)


@pytest.mark.parametrize(
    ("key", "number"),
    [
        ("turns", f"{UNIT_SILENCE * 1000 // SAMPLE_RATE} ms"),
        ("lapses", f"{LAPSE // SAMPLE_RATE} s"),
        ("mattr", f"{MATTR_WINDOW} words"),
        ("mtld", f"{MTLD_FACTOR}"),
        ("hdd", f"{HDD_DRAWS} draws"),
        ("offsets", f"{ENOUGH_FOR_INTERVAL}"),
        ("answer", f"{FEW}"),
    ],
)
def test_the_definitions_say_the_numbers_that_are_used(key: str, number: str, measures: Measures) -> None:
    assert number in measures[key].definition + measures[key].rests_on


def test_no_sentence_is_filled_in_where_there_is_nothing(measures: Measures) -> None:
    for measure in measures.by_key.values():
        assert [field for _, field, _, _ in Formatter().parse(measure.nothing) if field] == []


@pytest.mark.parametrize(
    ("spoilt", "problem"),
    [
        (TEXT.replace("[sections]", "[sections"), "this is not TOML"),
        (TEXT.replace("[words]", "[word]"), r"the table \[words\] is missing"),
        (TEXT.replace('formula = "count of turns of each seat"\n', ""), r"measure.turns: formula is missing"),
        (TEXT.replace('formula = "count of turns of each seat"', "sum = 1"), r"measure.turns: it knows"),
        (TEXT.replace('section = "talk"', 'section = "chat"', 1), "there is no section 'chat'"),
    ],
    ids=["broken", "no words", "no formula", "a stranger", "no such section"],
)
def test_spoilt_definitions_get_a_sentence(spoilt: str, problem: str) -> None:
    with pytest.raises(SharedError, match=problem):
        read_measures(spoilt)
