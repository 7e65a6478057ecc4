"""``data``, ``--keep`` and the questions before it, from the outside."""

import io
import json
from collections.abc import Iterable, Iterator
from errno import ENOSPC
from itertools import islice
from pathlib import Path
from typing import Any

import pytest
from rich.console import Console

from assistant.assembly import our_texts
from assistant.cli import door, main
from assistant.club import Club, Wishes
from assistant.commands import kept_sessions, sessions, starting
from assistant.consenting import Terms, ask_everybody, synthetic
from assistant.core.club.consent import Consent, Giver
from assistant.devices.shelf import shared_text
from assistant.errors import KeepingError, SourceError
from assistant.events import Marked, SessionClosed
from assistant.outputs.exports.records import json_lines
from assistant.outputs.keeping import EventFile, Keeper
from assistant.outputs.keeping.store import FILE, open_store
from assistant.run import Road
from assistant.samples import Frame
from assistant.terms import Closing, Mark, Seat
from tests.fakes import ListSpeaker, ScriptedEars, a_session, conversation, marked, silence
from tests.killing import SEATS, UNTIL, agreed
from tests.test_exports import SECRETS, STORY
from tests.test_store import raw

TEXTS = shared_text("consent/en.toml")
TALK = conversation((12.0, "A: the crimson blue one"), (14.5, "B: which one"), (16.0, "A: done"))


@pytest.fixture(autouse=True)
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A data folder of the test's own."""
    monkeypatch.setattr(kept_sessions, "folder", lambda: tmp_path / "data")
    return tmp_path / "data"


@pytest.fixture
def kept(home: Path) -> int:
    """The story in the store, with its words."""
    with open_store(home, kept_sessions.today()) as store:
        keeping = store.keep(agreed(until="2999-01-01"), kept_sessions.today())
        for event in STORY:
            keeping.write(event)
        return keeping.number


def asked(answers: Iterable[str], most: Consent = Consent.WORDS) -> tuple[Consent, str]:
    """What comes of these answers, and what was shown."""
    left: Iterator[str] = iter(answers)
    shown = io.StringIO()

    def ask(question: str) -> str:
        shown.write(question + "\n")
        try:
            return next(left)
        except StopIteration:
            raise EOFError from None

    console = Console(file=shown, width=200)
    return ask_everybody(SEATS, Terms(most, "2027-01-12", UNTIL), TEXTS, console, ask).level, shown.getvalue()


# --- the questions ----------------------------------------------------------------------------------------------------------


def test_when_everybody_says_yes_it_is_kept() -> None:
    level, shown = asked(["words"] * 4 + ["yes"] * 3)
    assert level is Consent.WORDS
    assert UNTIL in shown and "A, I have a question for you" in shown


def test_a_child_s_no_wins_over_every_yes() -> None:
    assert asked(["words"] * 4 + ["yes", "no"])[0] is Consent.NOTHING


def test_the_lowest_level_is_what_children_are_asked_about() -> None:
    level, shown = asked(["words", "timeline", "timeline", "timeline", "yes", "yes", "yes"])
    assert level is Consent.TIMELINE
    assert "It does not write down your words" in shown


@pytest.mark.parametrize("answers", [[], ["words"], [""], ["words"] * 4, ["words"] * 4 + ["yes", "yes", ""]])
def test_silence_is_a_no(answers: list[str]) -> None:
    level, shown = asked(answers)
    assert level is Consent.NOTHING and "Nothing of this session is kept" in shown


def test_what_is_no_answer_is_asked_again() -> None:
    assert asked(["perhaps", "voices", "words", "words", "words", "words", "maybe", "yes", "yes", "yes"])[0] is Consent.WORDS


def test_the_voices_are_asked_about_apart_and_a_no_leaves_the_words() -> None:
    words = ["words"] * 4 + ["yes"] * 3
    level, shown = asked([*words, *["yes"] * 7], Consent.VOICES)
    assert level is Consent.VOICES
    assert shown.count("Everybody agreed to the words. Now the voices") == 1
    for answers in ([*words, "no"], [*words, *["yes"] * 6, "no"], words):  # the last: nobody is there any more
        level, shown = asked(answers, Consent.VOICES)
        assert level is Consent.WORDS and "Will be kept: words" in shown
    level, shown = asked(["timeline"] * 4 + ["yes"] * 3, Consent.VOICES)
    assert level is Consent.TIMELINE and "Now the voices" not in shown


# --- a session kept ---------------------------------------------------------------------------------------------------------


def followed(home: Path, wishes: Wishes, marks: Iterable[Marked] = ()) -> Club:
    from assistant.assembly import open_texts

    road = Road(ScriptedEars(TALK), a_session(), ListSpeaker())
    ledger = synthetic(SEATS, Terms(Consent.WORDS, kept_sessions.today(), "2999-01-01"), TEXTS)
    with open_store(home, kept_sessions.today()) as store:
        keeping = store.keep(ledger, kept_sessions.today(), our_texts())
        club = Club(road, wishes, Console(file=io.StringIO()), open_texts(), keeping=keeping)
        due = list(marks)
        road.marks = lambda: [due.pop(0)] if due and club.sample >= due[0].sample else []
        club.follow(silence(121))
    return club


def test_a_kept_session_is_the_session(home: Path) -> None:
    club = followed(home, Wishes())
    with open_store(home, kept_sessions.today()) as store:
        assert store.events(1) == club.events


def test_taken_back_in_mid_session_nothing_of_it_is_left_in_store_or_file(home: Path, tmp_path: Path) -> None:
    path = tmp_path / "events.jsonl"
    club = followed(home, Wishes(events=path, keep_words=True), [marked(60, Mark.WITHDRAW, Seat.B)])
    assert any("crimson" in getattr(event, "text", "") for event in club.events)  # it was heard
    assert path.read_bytes() == b""
    assert b"crimson" not in raw(home)
    with open_store(home, kept_sessions.today()) as store:
        assert [(kept.level, kept.events) for kept in store.sessions()] == [(Consent.NOTHING, 0)]
        assert [(one.seat, one.giver) for one in store.receipts(1) if one.withdrawn] == [(Seat.B, Giver.CHILD)]


# --- the commands -----------------------------------------------------------------------------------------------------------


def test_list_says_who_agreed_to_what(kept: int, home: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["data", "list"]) == 0
    told = capsys.readouterr().out
    assert "words" in told and "2999-01-01" in told and str(home / FILE) in told
    assert "agreed to the words (wording 1): A child, A guardian" in told


def test_an_export_is_anonymous_unless_words_are_asked_for(kept: int, tmp_path: Path) -> None:
    assert main(["data", "export", str(kept), "--to", str(tmp_path / "out")]) == 0
    assert len(list((tmp_path / "out").iterdir())) == 10
    assert [secret for secret in SECRETS if secret.encode() in raw(tmp_path / "out")] == []
    assert "It does not hold: words, names" in (tmp_path / "out" / "README.txt").read_text()
    assert main(["data", "export", "--to", str(tmp_path / "full"), "--with-words"]) == 0
    assert b"crimson" in raw(tmp_path / "full")


def test_words_that_were_not_kept_cannot_be_exported(home: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    with open_store(home, kept_sessions.today()) as store:
        store.keep(agreed(Consent.TIMELINE, "2999-01-01"), kept_sessions.today())
    assert main(["data", "export", "--to", str(tmp_path / "out"), "--with-words"]) == 2
    assert "were not kept" in capsys.readouterr().err
    assert not (tmp_path / "out").exists()


def test_a_file_of_events_is_exported_too(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "club.jsonl"
    path.write_text(json_lines(STORY, Consent.WORDS), encoding="utf-8")
    assert main(["data", "export", "--events", str(path), "--to", str(tmp_path / "out")]) == 0
    kinds = [json.loads(line)["event"] for line in (tmp_path / "out" / "events.jsonl").read_text().splitlines()]
    assert kinds == [type(event).__name__ for event in STORY]


def test_delete_deletes(kept: int, home: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["data", "delete", str(kept)]) == 0
    assert b"crimson" not in raw(home)
    assert main(["data", "list"]) == 0
    assert "Nothing is kept." in capsys.readouterr().out


def test_delete_all_takes_the_file_with_it(kept: int, home: Path) -> None:
    assert main(["data", "delete", "--all"]) == 0
    assert list(home.iterdir()) == []


def test_check(kept: int, home: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["data", "check"]) == 0
    assert "1 session, nothing is wrong with it." in capsys.readouterr().out


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (["data", "list"], "Nothing is kept"),
        (["data", "check"], "Nothing is kept"),
        (["data", "delete"], "Name the sessions"),
        (["data", "delete", "3"], "Nothing is kept"),
        (["data", "delete", "3", "--all"], "Name the sessions"),
        (["data", "export", "--to", "x"], "Nothing is kept"),
        (["data", "export", "--events", "there-is-none.jsonl", "--to", "x"], "cannot be read"),
    ],
)
def test_what_cannot_be_done_is_a_sentence(
    arguments: list[str], says: str, home: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(arguments) == 2
    assert says in capsys.readouterr().err
    assert not home.exists()


def test_at_every_start_what_is_due_goes(home: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with open_store(home, "2027-01-12") as store:
        keeping = store.keep(agreed(), "2027-01-12")
        keeping.write(STORY[4])
        assert b"crimson" in raw(home)
    monkeypatch.setattr(kept_sessions, "today", lambda: UNTIL)
    assert main(["plan", "check", "little-boat"]) == 0
    assert b"crimson" not in raw(home)


def test_a_damaged_store_is_said_and_stops_nothing(home: Path, capsys: pytest.CaptureFixture[str]) -> None:
    home.mkdir()
    (home / FILE).write_bytes(b"this is no store" * 100)
    assert main(["plan", "check", "little-boat"]) == 0
    assert "data delete --all" in capsys.readouterr().err
    assert main(["data", "delete", "--all"]) == 0
    assert list(home.iterdir()) == []


# --- an answer governs the named files too ----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("agreed", "kept"),
    [(Consent.NOTHING, Consent.NOTHING), (Consent.TIMELINE, Consent.TIMELINE), (Consent.WORDS, Consent.WORDS)],
)
def test_an_answer_limits_the_files_that_were_named(agreed: Consent, kept: Consent, tmp_path: Path) -> None:
    named = Wishes(rttm=tmp_path / "club.rttm", events=tmp_path / "club.jsonl", keep_words=True)
    assert named.within(agreed).consent is kept
    assert Wishes(events=tmp_path / "club.jsonl").within(agreed).consent is min(agreed, Consent.TIMELINE)


@pytest.mark.parametrize("answers", [["no"], ["timeline"] * 4 + ["yes", "no"]])
def test_after_a_no_nothing_is_written_that_was_named(
    answers: list[str], home: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    named = ["--events", str(tmp_path / "club.jsonl"), "--keep-words", "--rttm", str(tmp_path / "club.rttm")]
    options = door().parse_args(["analyse", "club.wav", "--plan", "little-boat", "--keep", "timeline", *named])
    monkeypatch.setattr("sys.stdin", io.StringIO("\n".join(answers) + "\n"))
    with starting.asked(options, sessions.DEMO_SETTINGS, Console()) as agreed:
        wishes = starting.wishes_of(options, agreed)
    assert agreed.keeping is None and wishes.events is None and wishes.rttm is None
    assert "club.jsonl is not written" in capsys.readouterr().out


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="a device that is always full is Linux's")
def test_a_full_disk_under_a_named_file_does_not_end_the_club() -> None:
    from assistant.assembly import open_texts

    told = io.StringIO()
    road = Road(ScriptedEars(TALK), a_session(), ListSpeaker())
    club = Club(road, Wishes(events=Path("/dev/full")), Console(file=told, width=200), open_texts())
    with pytest.raises(KeepingError, match="/dev/full cannot be written"):
        club.follow(silence(121))
    assert [event.why for event in club.events if isinstance(event, SessionClosed)] == [Closing.ON_TIME]
    assert told.getvalue().count("The club goes on") == 1 and "Steps built" in told.getvalue()


def test_a_line_that_the_disk_takes_in_part_is_taken_back(tmp_path: Path) -> None:
    class AlmostFull(io.FileIO):
        room = 300

        def write(self, data: Any) -> int:
            if not self.room:
                raise OSError(ENOSPC, "No space left on device")
            done = super().write(bytes(data)[: self.room])
            self.room -= done
            return done

    path = tmp_path / "club.jsonl"
    with AlmostFull(path, "wb") as disk:
        file = EventFile(path, disk, Keeper(Consent.WORDS))
        for event in STORY:
            file.write(event)
    assert file.trouble and "No space left" in str(file.trouble)
    events = kept_sessions.read_events(path)
    assert 0 < len(events) < len(STORY) and events == STORY[: len(events)]


@pytest.mark.parametrize("wrong", ["damaged", "later", "no folder"])
def test_a_store_that_cannot_be_used_is_said_before_anybody_is_asked(
    wrong: str, home: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    if wrong == "no folder":
        home.write_text("a file where the folder should be")
    else:
        with open_store(home, kept_sessions.today()) as store:
            store._db.execute("PRAGMA user_version = 99")
        if wrong == "damaged":
            (home / FILE).write_bytes(b"this is no store" * 100)
    options = door().parse_args(["analyse", "club.wav", "--plan", "little-boat", "--keep", "timeline"])
    with pytest.raises(KeepingError), starting.asked(options, sessions.DEMO_SETTINGS, Console()):
        pass
    assert capsys.readouterr().out == ""


def test_after_a_no_no_store_was_made(home: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    options = door().parse_args(["analyse", "club.wav", "--plan", "little-boat", "--keep", "timeline"])
    monkeypatch.setattr("sys.stdin", io.StringIO("no\n"))
    with starting.asked(options, sessions.DEMO_SETTINGS, Console()):
        pass
    assert not home.exists()


@pytest.mark.parametrize("cut", [1, 10, 40])
def test_a_file_that_breaks_off_in_its_last_line_is_read_as_far_as_it_goes(
    cut: int, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "club.jsonl"
    path.write_bytes(json_lines(STORY, Consent.WORDS).encode()[: -1 - cut])
    assert kept_sessions.read_events(path) == STORY[:-1]
    assert "the end of the session is missing" in capsys.readouterr().err
    path.write_bytes(json_lines(STORY, Consent.WORDS).encode()[:-1])  # an editor took the last newline away
    assert kept_sessions.read_events(path) == STORY and capsys.readouterr().err == ""


def test_half_a_letter_at_the_end_is_a_broken_end_too(tmp_path: Path) -> None:
    path = tmp_path / "club.jsonl"
    path.write_bytes(json_lines(STORY, Consent.WORDS).encode() + '{"event": "ü'.encode()[:-1])
    assert kept_sessions.read_events(path) == STORY


class Closed(io.StringIO):
    """A pipe whose reader has gone after so many lines."""

    def write(self, text: str) -> int:
        if self.getvalue().count("\n") > 4:
            raise BrokenPipeError
        return super().write(text)


BROKEN_OFF = [("a closed pipe", Closing.STOPPED), ("the sound breaks off", Closing.SOUND_ENDED)]


@pytest.mark.parametrize(("strikes", "why"), BROKEN_OFF)
def test_how_a_session_was_broken_off_is_written_down(strikes: str, why: Closing, tmp_path: Path) -> None:
    from assistant.assembly import open_texts

    def breaking_off() -> Iterator[Frame]:
        yield from islice(silence(121), 600)
        raise SourceError("The recording ends here.")

    path = tmp_path / "club.jsonl"
    shown = Closed() if strikes == "a closed pipe" else io.StringIO()
    road = Road(ScriptedEars(TALK), a_session(), ListSpeaker())
    club = Club(road, Wishes(events=path), Console(file=shown, width=200), open_texts())
    with pytest.raises((SourceError, BrokenPipeError, SystemExit)):
        club.follow(silence(121) if strikes == "a closed pipe" else breaking_off())
    last = kept_sessions.read_events(path)[-1]
    assert isinstance(last, SessionClosed) and last.why is why


def test_who_took_it_back_gets_no_rttm_and_the_summary_all_the_same(home: Path, tmp_path: Path) -> None:
    followed(home, Wishes(rttm=tmp_path / "club.rttm"), [marked(60, Mark.WITHDRAW, Seat.B)])
    assert not (tmp_path / "club.rttm").exists()


OPENING = ["data list", "data check", "data delete 1", "progress", "review --to x.html", "goals list"]


@pytest.mark.parametrize("command", OPENING)
@pytest.mark.parametrize("wrong", ["damaged", "later"])
def test_what_is_wrong_with_the_store_is_said_once(
    wrong: str, command: str, kept: int, home: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    if wrong == "damaged":
        (home / FILE).write_bytes(b"this is no store" * 100)
    else:
        with open_store(home, kept_sessions.today()) as store:
            store._db.execute("PRAGMA user_version = 99")
    assert main(command.split()) == 2
    told = capsys.readouterr().err
    assert len(told.splitlines()) == 1 and "data check" not in told


def test_unlock_with_nothing_kept_says_that_nothing_is(home: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["data", "unlock"]) == 2
    assert "Nothing is kept." in capsys.readouterr().err
