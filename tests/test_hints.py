"""Quiet hints: when they come, how rarely, and what they never say."""

import re
from collections.abc import Iterable
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.core.measures.hint_rules import HintKind
from assistant.core.measures.hints import Hint, Hinter, HintTexts, read_hints
from assistant.errors import SharedError
from assistant.events import CueStarted, Event, Lost, Muted, Paused, PhaseBegan, Resumed, Tick
from assistant.samples import to_samples
from assistant.terms import Cue, Loss, Phase, Prompt, Repair, Seat
from tests.told import Story, asked

TEXT = (Path(__file__).parents[1] / "shared" / "hints" / "en.toml").read_text(encoding="utf-8")
OPEN_REQUEST = asked(1, colour="red", after=3, kinds=2)


@pytest.fixture(scope="module")
def texts() -> HintTexts:
    return read_hints(TEXT)


def building(seats: str = "ABC") -> Story:
    return Story(seats).then(PhaseBegan(0, Phase.BUILDING))


def hints(events: Iterable[Event], texts: HintTexts) -> list[Hint]:
    hinter = Hinter(texts)
    return [hint for event in events for hint in hinter.receive(event)]


def kinds(story: Story, texts: HintTexts, until_s: float = 60) -> list[tuple[HintKind, float]]:
    return [(hint.kind, hint.sample / 16000) for hint in hints(story.ends(until_s), texts)]


# --- what is worth a hint -----------------------------------------------------------------------------------------------


def test_an_open_request_left_open(texts: HintTexts) -> None:
    [hint] = hints(building().says("A", 19, 20, "the red one", OPEN_REQUEST).ends(60), texts)
    assert (hint.kind, hint.sample) == (HintKind.OPEN, to_samples(28))
    assert hint.text == 'You could wonder aloud: "I wonder if there is more than one piece like that."'
    assert hint.seen == "At 0:19 A asked for a piece, 2 kinds on the tray fit, and nobody asked back for 8 s or more."


@pytest.mark.parametrize(
    "after",
    [
        lambda story: story.says("B", 25, 26, "which one", repair=Repair.RESTRICTED_REQUEST),
        lambda story: story.says("A", 25, 26, "the long one", asked(1, colour="red", size="long")),
        lambda story: story.says("F", 25, 26, "i wonder", prompt=Prompt.INDIRECT),
        lambda story: story.done(1, at_s=26),
    ],
    ids=["asked back", "made clear", "the adult wondered", "built"],
)
def test_an_open_request_that_was_seen_to_needs_no_hint(after: object, texts: HintTexts) -> None:
    story = building().says("A", 19, 20, "the red one", OPEN_REQUEST)
    assert callable(after)
    assert HintKind.OPEN not in dict(kinds(after(story), texts))


def test_a_long_wait_that_ended_well_is_worth_naming(texts: HintTexts) -> None:
    [hint] = hints(building().says("A", 9, 10, "the red one", asked(1)).says("B", 14, 15, "here").ends(60), texts)
    assert hint.text == 'You could name it: "A, you gave B time to look."'
    assert hint.seen == "A asked at 0:09 and waited 4 s, until B answered."


def test_waiting_is_not_praised_when_somebody_spoke_meanwhile(texts: HintTexts) -> None:
    story = building().says("A", 9, 10, "the red one", asked(1)).says("F", 12, 13, "look").says("B", 14, 15, "here")
    assert kinds(story, texts) == []


SHUT = {
    "a cue": [CueStarted(to_samples(12), Cue.TIME_LEFT, "Five minutes left.", 0, False)],
    "ears shut": [Muted(to_samples(13), to_samples(12), to_samples(13))],
    "sound lost": [Lost(to_samples(13), to_samples(12), to_samples(13), Loss.BEHIND)],
}


@pytest.mark.parametrize("events", SHUT.values(), ids=SHUT)
def test_while_nobody_could_be_heard_it_is_not_said_that_nobody_spoke(events: list[Event], texts: HintTexts) -> None:
    story = building().says("A", 9, 10, "the red one", OPEN_REQUEST).then(*events).says("B", 20, 21, "here")
    assert kinds(story, texts) == []


def test_a_child_silent_for_three_minutes_while_others_speak(texts: HintTexts) -> None:
    story = building("AB").says("A", 1, 2, "hello").says("B", 3, 4, "hello").says("A", 100, 101, "look")
    assert kinds(story, texts, until_s=200) == [(HintKind.SILENT, 184.0)]


def test_a_table_where_all_are_busy_is_left_alone(texts: HintTexts) -> None:
    assert kinds(building("AB"), texts, until_s=600) == []


def test_a_child_that_adds_to_anothers_request(texts: HintTexts) -> None:
    story = building().says("A", 9, 10, "the red one", OPEN_REQUEST).says("C", 11, 12, "the long one", asked(1, size="long"))
    [hint] = hints(story.ends(30), texts)
    assert hint.seen == "C added to what A had asked for, at 0:11."


def test_four_direct_prompts_in_two_minutes(texts: HintTexts) -> None:
    story = building()
    for at in (10, 30, 50, 70):
        story.says("F", at, at + 1, "which one", prompt=Prompt.DIRECT)
    assert kinds(story, texts) == [(HintKind.DIRECT, 71.0)]


def test_direct_prompts_among_as_many_wonderings_are_no_lot(texts: HintTexts) -> None:
    story = building()
    for at in (10, 30, 50, 70):
        story.says("F", at, at + 1, "which one", prompt=Prompt.DIRECT).says("F", at + 5, at + 6, prompt=Prompt.INDIRECT)
    assert kinds(story, texts) == []


def test_a_quarrel_points_to_the_rule(texts: HintTexts) -> None:
    [hint] = hints(building().says("B", 61, 62, "no it's mine").ends(90), texts)
    assert (hint.text, hint.seen) == (
        "You could point to the rule, and let the children find a way first.",
        'B said "it\'s mine" at 1:01.',
    )


def test_the_adult_does_not_quarrel_and_half_a_word_is_no_quarrel(texts: HintTexts) -> None:
    story = building().says("F", 1, 2, "that's mine").says("A", 3, 4, "that's mineral water")
    assert kinds(story, texts) == []


@pytest.mark.parametrize(
    ("says", "repair"),
    [
        ("which one", Repair.RESTRICTED_REQUEST),
        ("which way round does it go", Repair.RESTRICTED_REQUEST),
        ("do you mean on its side", Repair.RESTRICTED_OFFER),
        ("what did you say", Repair.OPEN_REQUEST),
    ],
)
def test_a_repair_done_well_is_named_in_words_that_are_true_of_every_kind(says: str, repair: Repair, texts: HintTexts) -> None:
    story = building().says("A", 9, 10, "the red one", OPEN_REQUEST)
    story.says("B", 11, 12, says, repair=repair)
    story.says("A", 13, 14, "the long one", asked(1, size="long"))
    [hint] = hints(story.done(1, at_s=20).ends(60), texts)
    assert hint.text == 'You could name it: "B, you asked when it was not clear, and A answered."'


# --- how rarely ---------------------------------------------------------------------------------------------------------


def test_at_most_one_a_minute(texts: HintTexts) -> None:
    story = building().says("A", 1, 2, "that's mine").says("B", 50, 51, "that's mine").says("A", 70, 71, "that's mine")
    assert kinds(story, texts, until_s=90) == [(HintKind.QUARREL, 2.0), (HintKind.QUARREL, 71.0)]


def test_an_open_request_waits_for_its_minute(texts: HintTexts) -> None:
    story = building().says("A", 1, 2, "that's mine").says("A", 9, 10, "the red one", OPEN_REQUEST)
    assert kinds(story, texts, until_s=90) == [(HintKind.QUARREL, 2.0), (HintKind.OPEN, 62.0)]


def test_a_kind_that_was_put_away_stays_away(texts: HintTexts) -> None:
    hinter = Hinter(texts)
    story = building().says("A", 1, 2, "that's mine").says("A", 300, 301, "that's mine").says("A", 700, 701, "that's mine")
    seen = []
    for event in story.ends(800):
        for hint in hinter.receive(event):
            seen.append((hint.kind, hint.sample / 16000))
            hinter.dismiss(hint, hint.sample)
    assert [at for kind, at in seen if kind is HintKind.QUARREL] == [2.0, 701.0]


def test_no_hint_before_the_building_or_in_a_pause(texts: HintTexts) -> None:
    assert kinds(Story().says("A", 1, 2, "that's mine"), texts) == []
    paused = building().then(Paused(0)).says("A", 1, 2, "that's mine").then(Resumed(to_samples(3)))
    assert kinds(paused.says("A", 5, 6, "that's mine"), texts) == [(HintKind.QUARREL, 6.0)]


@given(st.lists(st.floats(0, 120), max_size=40))
def test_ticks_between_change_nothing(ticks: list[float]) -> None:
    story = building().says("A", 1, 2, "that's mine").says("A", 9, 10, "the red one", OPEN_REQUEST).says("B", 95, 96, "here")
    events = story.ends(120)
    ticking = sorted([*events, *(Tick(to_samples(at)) for at in ticks)], key=lambda event: event.sample)
    texts = read_hints(TEXT)
    assert hints(ticking, texts) == hints(events, texts)


# --- words --------------------------------------------------------------------------------------------------------------


def test_names_are_said_when_they_are_handed_in(texts: HintTexts) -> None:
    hinter = Hinter(texts, {Seat.B: "Fern"})
    [hint] = [hint for event in building().says("B", 1, 2, "that's mine").ends(9) for hint in hinter.receive(event)]
    assert hint.seen == 'Fern said "that\'s mine" at 0:01.'


def test_no_hint_judges_a_child_or_names_a_condition(texts: HintTexts) -> None:
    """Ours to keep: never a diagnosis, never a child's worth, never a comparison."""
    never = r"\b(good|bad|better|worse|slow|fast|normal|delay|disorder|autis\w*|should|must|always|never|clever|lazy|rude)\b"
    for kind in HintKind:
        assert not re.search(never, f"{texts.text[kind]} {texts.seen[kind]}", re.IGNORECASE)


@pytest.mark.parametrize(("old", "new"), [("[open]", "[opened]"), ("[open]", "[open"), ("seen = ", "saw = ")])
def test_spoilt_words_get_a_sentence(old: str, new: str) -> None:
    with pytest.raises(SharedError, match="shared/hints"):
        read_hints(TEXT.replace(old, new, 1))
