"""Goals of the family: counted by the helper page's tallies, shown with what they rest on, kept like everything else."""

import tomllib
from html.parser import HTMLParser
from pathlib import Path

import pytest

from assistant.assembly import our_tallies, our_texts
from assistant.cli import main
from assistant.commands import kept_sessions
from assistant.commands.goals import goal_texts
from assistant.commands.review import progress_page, weeks_of
from assistant.core.club.consent import Consent
from assistant.core.measures.progress import Figures, Goal, Point, figures_of, series_of_goal
from assistant.devices.shelf import shared_text
from assistant.events import Event, Tallied, TallyUndone
from assistant.outputs.exports.records import at_level
from assistant.outputs.keeping.store import KeptGoal, open_store
from assistant.samples import to_samples
from assistant.terms import Seat
from tests.killing import DAY, UNTIL, agreed
from tests.test_store import raw
from tests.told import Story

OWN = "Wendelin asks before taking"


@pytest.fixture(autouse=True)
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A data folder of the test's own."""
    monkeypatch.setattr(kept_sessions, "folder", lambda: tmp_path / "data")
    return tmp_path / "data"


def seen(*tallies: str) -> list[Event]:
    """A session in which the adult tallied these, ``"B waited"``."""
    story = Story().says("A", 1, 2, "hello")
    for at, tally in enumerate(tallies, start=3):
        story.then(Tallied(to_samples(at), Seat(tally[0]), tally[2:]))
    return story.ends(60)


def a_year(folder: Path, *sessions: list[Event], level: Consent = Consent.TIMELINE) -> None:
    """These sessions in the store."""
    with open_store(folder, kept_sessions.today()) as store:
        for events in sessions:
            store.keep(agreed(level, "2999-01-01"), kept_sessions.today(), our_texts()).write_all(events)


# --- how it is counted ------------------------------------------------------------------------------------------------------


def test_a_goal_is_counted_session_by_session_and_rests_on_all_that_was_tallied() -> None:
    told = (("B waited", "B waited", "A helped"), ("A waited", "C waited"), ("A helped",))
    sessions = [figures_of(seen(*tallies)) for tallies in told]
    assert series_of_goal(Goal("waited", Seat.B), sessions).points == (Point(2, 3), Point(0, 2), Point(0, 1))
    assert series_of_goal(Goal("waited"), sessions).points == (Point(2, 3), Point(2, 2), Point(0, 1))


def test_where_nothing_was_tallied_it_is_unknown_and_not_none() -> None:
    assert series_of_goal(Goal("waited"), [figures_of(seen())]).points == (Point(None, 0),)


def test_a_tally_taken_back_does_not_count() -> None:
    events = seen("B waited", "B waited", "B looked")
    events.insert(-1, TallyUndone(to_samples(20), Seat.B, "waited"))
    assert series_of_goal(Goal("waited", Seat.B), [figures_of(events)]).points == (Point(1, 2),)


def test_there_is_a_trend_from_six_sessions_on() -> None:
    sessions = [figures_of(seen("A looked", *["B waited"] * times)) for times in range(6)]
    assert series_of_goal(Goal("waited"), sessions[:5]).trend is None
    trend = series_of_goal(Goal("waited"), sessions).trend
    assert trend and trend.slope == 1.0


def test_tallies_of_our_own_list_are_kept_at_the_timeline_level_and_others_are_not() -> None:
    told = at_level(seen("B waited", "B sat with Wendelin"), Consent.TIMELINE, our_texts())
    assert [event.what for event in told if isinstance(event, Tallied)] == ["waited", ""]
    assert Figures.from_text(figures_of(told).to_text()) == figures_of(told)


def test_every_skill_has_a_tally_of_the_helper_page_and_every_tally_a_skill() -> None:
    assert {skill["tally"] for skill in goal_texts()["skill"].values()} == our_tallies().keys()


def test_nothing_said_of_goals_compares_children_or_says_better_or_worse() -> None:
    words = str(goal_texts()) + str(tomllib.loads(shared_text("review/en.toml"))["progress"])
    for word in ("better", "worse", "best", "most", "first", "improve", "normal", "score"):
        assert f" {word}" not in words.lower()


# --- how it is kept and shown -----------------------------------------------------------------------------------------------


def test_goals_come_back_and_go_on_their_day(home: Path) -> None:
    with open_store(home, DAY) as store:
        store.keep_goal(Goal("waited", Seat.B, words=OWN), UNTIL)
        stays = store.keep_goal(Goal("helped", skill="helping"), "2999-01-01")
        assert store.goals()[0] == KeptGoal(1, Goal("waited", Seat.B, words=OWN), UNTIL)
        assert b"wendelin" in raw(home)
    with open_store(home, UNTIL) as store:
        assert [one.number for one in store.goals()] == [stays]
        assert b"wendelin" not in raw(home)


def test_the_commands(home: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["goals", "list"]) == 0
    assert "There is no goal yet." in (told := capsys.readouterr().out) and "waiting" in told
    assert not home.exists()  # looking makes no store
    assert main(["goals", "add", "waiting", "--seat", "B"]) == 0
    assert main(["goals", "add", "--own", OWN, "--tally", "handed over"]) == 0
    assert "are in no file that you share" in capsys.readouterr().out
    assert main(["goals", "list"]) == 0
    told = capsys.readouterr().out
    assert "Waiting until it is one's turn (child B; tally: waited)" in told
    assert f"{OWN} (all children; tally: handed a piece over)" in told
    assert main(["goals", "drop", "2"]) == 0
    assert b"wendelin" not in raw(home)
    assert main(["goals", "drop", "2"]) == 2
    assert "no goal 2" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        ([], "Name a skill, or --own"),
        (["waiting", "--own", "x"], "Name a skill, or --own"),
        (["sitting-still"], "is no skill"),
        (["--own", "x"], "needs --tally, one of: waited"),
        (["--own", "x", "--tally", "sat still"], "needs --tally, one of: waited"),
        (["--own", "x" * 121, "--tally", "waited"], "up to 120"),
        (["waiting", "--keep-days", "0"], "no time to keep"),
    ],
)
def test_what_cannot_be_done_is_a_sentence(
    arguments: list[str], says: str, home: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["goals", "add", *arguments]) == 2
    assert says in capsys.readouterr().err
    assert not home.exists()


def test_progress_shows_each_goal_with_its_counts(home: Path, capsys: pytest.CaptureFixture[str]) -> None:
    a_year(home, seen("B waited", "A helped"), seen(), seen("B waited", "B waited"))
    main(["goals", "add", "waiting", "--seat", "B"])
    assert main(["progress"]) == 0
    told = capsys.readouterr().out
    assert "Waiting until it is one's turn (child B; tally: waited)" in told
    assert "1 (n=2)   not counted (n=0)   2 (n=2)" in told
    assert "Too few sessions to say more (2 of 6)." in told.split("Your goals")[1]


class Words(HTMLParser):
    """What can be read on a page, and every tag left open."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.text, self.open = "", list[str]()
        self.feed(html)

    def handle_starttag(self, tag: str, attrs: object) -> None:
        if tag != "meta":
            self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_startendtag(self, tag: str, attrs: object) -> None:
        pass

    def handle_data(self, data: str) -> None:
        self.text += data


def test_the_page_shows_the_same_without_own_words_and_loads_nothing(home: Path, tmp_path: Path) -> None:
    a_year(home, *[seen("A looked", *["B handed over"] * times) for times in range(7)], level=Consent.WORDS)
    main(["goals", "add", "--own", OWN, "--tally", "handed over", "--seat", "B"])
    path = tmp_path / "progress.html"
    assert main(["progress", "--to", str(path)]) == 0
    html = path.read_text(encoding="utf-8")
    assert "Wendelin" not in html and "default-src 'none'" in html and "http:" not in html and "hello" not in html
    page = Words(html)
    assert page.open == []
    assert "Goal 1, in your own words (child B; tally: handed a piece over)" in page.text
    assert "From session to session: +1.0 in the middle; likely between +1.0 and +1.0. It went up." in page.text
    assert html.count('class="dot"') == 7  # the goal alone: everything else rests on too few


def test_goals_are_in_the_page_in_the_order_in_which_they_were_written_down(home: Path) -> None:
    a_year(home, seen("A waited", "B waited", "B waited"))
    for seat in "BCA":
        main(["goals", "add", "waiting", "--seat", seat])
    with open_store(home, kept_sessions.today()) as store:
        text = Words(progress_page(weeks_of(store, own_words=False))).text
    assert text.index("child B") < text.index("child C") < text.index("child A")
