"""What each page is told, as far as no browser is needed to see it."""

from dataclasses import replace
from functools import reduce
from itertools import takewhile

import pytest

from assistant.assembly import open_page_texts
from assistant.core.club.session import Session
from assistant.core.club.settings import Settings
from assistant.core.club.view import View, see
from assistant.errors import SharedError
from assistant.pages.board import Snapshot
from assistant.pages.telling import Page, Teller, Told, read_page_texts
from assistant.run import Road
from assistant.terms import Phase, Seat
from tests.fakes import SHORT, ListSpeaker, ScriptedEars, a_session, silence
from tests.rehearsal import TALK

TWO = Settings(children=2, length_s=120, set_up_s=10, clear_away_s=20, notice_min=1)


def road_of(session: Session) -> Road:
    return Road(ScriptedEars(TALK), session, ListSpeaker())


def told(page: Page, seconds: float, settings: Settings = SHORT, plan: str = "little-boat", show_words: bool = True) -> Told:
    """What a page is told after so many seconds of the talk."""
    session = a_session(plan, settings)
    events = takewhile(lambda event: event.sample < seconds * 16_000, road_of(session).travel(silence(seconds + 1)))
    teller = Teller(session.plan, settings, session.script, open_page_texts(), "a script", "nobody", show_words)
    return teller.tell(page, Snapshot(round(seconds * 16_000), reduce(see, events, View()), {Seat.A: "Ada"}))


def test_without_words_the_helper_is_told_how_many_there_were() -> None:
    turns = told(Page.HELPER, 26, show_words=False)["turns"]
    assert [turn["said"] for turn in turns] == ["(3 words)", "(2 words)", "(7 words)"]
    assert turns[0]["doing"] == "asks for a piece: 1 piece fits, of 8"


def test_what_a_turn_does_is_said_in_plain_words_or_not_at_all() -> None:
    doing = {turn["said"]: turn["doing"] for turn in told(Page.HELPER, 60)["turns"]}
    assert doing["which one"] == 'asks back: "which one?"'
    assert doing["mine"] == ""


def test_without_a_step_the_adult_reads_how_it_goes_on() -> None:
    [line] = told(Page.HELPER, 1)["about"]
    assert '"Begin to build"' in line and open_page_texts().page[Page.HELPER]["begin"] == "Begin to build"
    [line] = told(Page.HELPER, 105)["about"]  # clearing away
    assert '"Stop the session"' in line and open_page_texts().page[Page.HELPER]["stop"] == "Stop the session"


def test_a_calm_break_is_said_to_the_adult_too() -> None:
    session = a_session("little-boat", SHORT)
    teller = Teller(session.plan, SHORT, session.script, open_page_texts(), "a script", "nobody", True)
    shown = teller.tell(Page.HELPER, Snapshot(0, View(paused=True), {}))
    assert shown["note"].startswith("Calm break") and f'"{open_page_texts().page[Page.HELPER]["resume"]}"' in shown["note"]


def test_a_session_that_was_stopped_early_shows_no_time_as_left() -> None:
    session = a_session("little-boat", SHORT)
    teller = Teller(session.plan, SHORT, session.script, open_page_texts(), "a script", "nobody", True)
    stopped = Snapshot(30 * 16_000, replace(View(), phase=Phase.OVER, end_sample=120 * 16_000), {})
    room, helper = teller.tell(Page.ROOM, stopped), teller.tell(Page.HELPER, stopped)
    assert (room["left"], room["time"], room["told"], helper["clock"]) == (0, "", "The club is over.", "")


@pytest.mark.parametrize(
    ("heard", "said"),
    [
        ({}, "Nothing heard yet."),
        ({Seat.A: 3}, "Every turn so far has a letter."),
        ({Seat.A: 3, Seat.UNSURE: 1}, '1 of 4 turns is "?" (25 %). Under "Last turns" you can say who it was.'),
    ],
)
def test_the_helper_is_told_how_many_turns_have_no_letter(heard: dict[Seat, int], said: str) -> None:
    session = a_session("little-boat", SHORT)
    teller = Teller(session.plan, SHORT, session.script, open_page_texts(), "a script", "nobody", True)
    shown = teller.tell(Page.HELPER, Snapshot(0, replace(View(), heard=heard), {}))
    assert said in shown["sound"]


def test_with_two_children_the_builder_is_shown_the_picture() -> None:
    shown = told(Page.ENGINEER, 12, TWO, "four-block-tower")
    assert shown["uncover"] == "I am Ada: show me the picture"
    assert shown["picture"]["step"] == 1


def test_the_time_is_said_in_the_words_of_the_cue() -> None:
    assert told(Page.ROOM, 12)["time"] == "Two minutes left."
    assert told(Page.ROOM, 61)["time"] == "One minute left."


def test_the_bar_of_time_shrinks_to_where_clearing_away_begins() -> None:
    shown = told(Page.ROOM, 30)
    assert (shown["left"], round(shown["clearing"], 3)) == (0.75, round(20 / 120, 3))


@pytest.mark.parametrize("pages", ["[room]", "not toml", "room = 3\nhelper = 3"])
def test_missing_words_stop_the_start_with_a_sentence(pages: str) -> None:
    with pytest.raises(SharedError, match="shared/pages: "):
        read_page_texts(pages, 'rules = ["We wait."]', "", "")
