"""The store: what it keeps, what a kill or a power cut leaves of it, and that what is deleted is gone."""

import random
import shutil
import sqlite3
import stat
import sys
from pathlib import Path

import pytest

from assistant.core.club.consent import Consent, Giver, Ledger
from assistant.errors import KeepingError
from assistant.events import Heard, SessionOpened
from assistant.outputs.exports.records import json_lines
from assistant.outputs.keeping import store as module
from assistant.outputs.keeping.store import FILE, Store, delete_store, open_store
from assistant.terms import Seat
from tests.killing import DAY, UNTIL, agreed, an_event, kill_one, wrong_with
from tests.test_exports import SECRETS, STORY

LATER = "2027-07-11"


def kept(store: Store, level: Consent = Consent.WORDS, until: str = UNTIL) -> int:
    """Keep the story at a level; its number."""
    keeping = store.keep(agreed(level, until), DAY, {"Little boat"})
    for event in STORY:
        keeping.write(event)
    assert keeping.trouble is None
    return keeping.number


def raw(folder: Path) -> bytes:
    """Every byte in the folder, in lower case."""
    return b"".join(path.read_bytes() for path in sorted(folder.iterdir())).lower()


def test_what_was_kept_comes_back_as_it_was(tmp_path: Path) -> None:
    with open_store(tmp_path, DAY) as store:
        number = kept(store)
    with open_store(tmp_path, LATER) as store:
        assert store.events(number) == STORY
        [session] = store.sessions()
        assert (session.day, session.level, session.until, session.events) == (DAY, Consent.WORDS, UNTIL, len(STORY))
        assert len(store.receipts(number)) == 7  # a guardian and a child each, and the adult
        assert store.check() == []


def test_at_the_timeline_level_no_word_and_no_name_is_in_the_raw_bytes(tmp_path: Path) -> None:
    with open_store(tmp_path, DAY) as store:
        kept(store, Consent.TIMELINE)
        assert [secret for secret in SECRETS if secret.encode() in raw(tmp_path)] == []


def test_the_search_would_have_found_them(tmp_path: Path) -> None:
    with open_store(tmp_path, DAY) as store:
        kept(store, Consent.WORDS)
        assert [secret for secret in SECRETS if secret.encode() not in raw(tmp_path)] == []


@pytest.mark.parametrize("ledger", [Ledger((Seat.A,)), agreed(Consent.NOTHING)], ids=["not asked", "no"])
def test_nothing_is_kept_without_consent(ledger: Ledger, tmp_path: Path) -> None:
    with open_store(tmp_path, DAY) as store:
        with pytest.raises(KeepingError, match="agreed"):
            store.keep(ledger, DAY)
        assert store.sessions() == []


# --- deleted is deleted -----------------------------------------------------------------------------------------------------


def test_what_is_deleted_is_gone_from_file_journal_and_free_pages(tmp_path: Path) -> None:
    with open_store(tmp_path, DAY) as store:
        first, second = kept(store), kept(store, Consent.TIMELINE)
        assert b"crimson" in raw(tmp_path)
        store.delete([first])
        assert [secret for secret in SECRETS if secret.encode() in raw(tmp_path)] == []
        assert [session.number for session in store.sessions()] == [second]
        assert store.check() == []
    assert [secret for secret in SECRETS if secret.encode() in raw(tmp_path)] == []


def test_withdrawn_in_mid_session_nothing_of_it_stays_but_the_receipt(tmp_path: Path) -> None:
    with open_store(tmp_path, DAY) as store:
        keeping = store.keep(agreed(), DAY)
        for event in STORY[:8]:
            keeping.write(event)
        assert b"crimson" in raw(tmp_path)
        keeping.withdraw(Seat.B, Giver.CHILD, DAY)
        for event in STORY[8:]:
            keeping.write(event)
        assert b"crimson" not in raw(tmp_path) and b"wilhelmina" not in raw(tmp_path)
        [session] = store.sessions()
        assert (session.level, session.events) == (Consent.NOTHING, 0)
        assert [(one.seat, one.giver) for one in store.receipts(keeping.number) if one.withdrawn] == [(Seat.B, Giver.CHILD)]


def test_on_its_day_it_deletes_itself_at_the_next_start(tmp_path: Path) -> None:
    with open_store(tmp_path, DAY) as store:
        kept(store)
        stays = kept(store, Consent.TIMELINE, until="2028-01-01")
    with open_store(tmp_path, LATER) as store:
        assert len(store.sessions()) == 2
    with open_store(tmp_path, UNTIL) as store:
        assert [session.number for session in store.sessions()] == [stays]
        assert b"crimson" not in raw(tmp_path)


def test_the_whole_store_can_be_deleted_even_when_it_is_damaged(tmp_path: Path) -> None:
    with open_store(tmp_path, DAY) as store:
        kept(store)
    path = tmp_path / FILE
    path.write_bytes(b"not a database" + path.read_bytes()[14:])
    with pytest.raises(KeepingError, match="data delete --all"):
        open_store(tmp_path, DAY)
    delete_store(tmp_path)
    assert list(tmp_path.iterdir()) == []


def test_deleting_what_is_not_there_deletes_nothing(tmp_path: Path) -> None:
    with open_store(tmp_path, DAY) as store:
        number = kept(store)
        with pytest.raises(KeepingError, match="no session 7"):
            store.delete([number, 7])
        assert len(store.sessions()) == 1


def test_a_reader_elsewhere_is_said_and_not_passed_over(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(module, "BUSY_MS", 50)
    with open_store(tmp_path, DAY) as store:
        number = kept(store)
        reader = sqlite3.connect(tmp_path / FILE, isolation_level=None)
        reader.execute("BEGIN")
        reader.execute("SELECT count(*) FROM event").fetchone()
        with pytest.raises(KeepingError, match="close that|Close that"):
            store.delete([number])
        reader.close()
        if store.sessions():
            store.delete([number])
        else:
            store._rub_out()
        assert b"crimson" not in raw(tmp_path)


# --- who can read it --------------------------------------------------------------------------------------------------------


@pytest.mark.skipif(sys.platform == "win32", reason="Windows has no such modes: there the user's own folder protects the file")
def test_only_the_owner_can_read_it(tmp_path: Path) -> None:
    folder = tmp_path / "deep" / "data"
    with open_store(folder, DAY) as store:
        kept(store)
        modes = {path.name: stat.S_IMODE(path.stat().st_mode) for path in [folder, *folder.iterdir()]}
        assert modes == {"data": 0o700, FILE: 0o600, f"{FILE}-wal": 0o600, f"{FILE}-shm": 0o600}


# --- killed, cut off, full --------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("number", range(20))
def test_a_writer_killed_at_any_moment_loses_at_most_the_event_it_was_writing(number: int, tmp_path: Path) -> None:
    rng = random.Random(number)
    assert kill_one(tmp_path, rng.randrange(1, 40), rng) == ""


def test_a_power_cut_that_loses_the_end_of_the_journal_leaves_an_earlier_moment(tmp_path: Path) -> None:
    """A copy of file and journal while the writer has them open, the journal cut at any byte, is what a power cut can leave."""
    rng = random.Random(1)
    alive = tmp_path / "alive"
    with open_store(alive, DAY) as store:
        keeping = store.keep(agreed(), DAY)
        for number in range(40):
            keeping.write(an_event(number))
        whole = (alive / f"{FILE}-wal").read_bytes()
        found = set()
        for attempt in range(60):
            cut = tmp_path / f"cut{attempt}"
            cut.mkdir()
            shutil.copy(alive / FILE, cut / FILE)
            (cut / f"{FILE}-wal").write_bytes(whole[: rng.randrange(len(whole))])
            with open_store(cut, DAY) as after:
                assert after.check() == []
                sessions = after.sessions()
                events = after.events(sessions[0].number) if sessions else []
                assert events == [an_event(number) for number in range(len(events))]
                found.add(len(events))
    assert len(found) > 10  # the cuts did fall in many places


def test_on_a_full_disk_the_club_goes_on_and_what_was_written_stays(tmp_path: Path) -> None:
    with open_store(tmp_path, DAY) as store:
        keeping = store.keep(agreed(), DAY)
        pages = store._db.execute("PRAGMA page_count").fetchone()[0]
        store._db.execute(f"PRAGMA max_page_count = {pages + 4}")  # SQLite then says what it says when the disk is full
        for number in range(1000):
            keeping.write(an_event(number))
        assert keeping.trouble is not None and "Make room on the disk" in str(keeping.trouble)
    with open_store(tmp_path, DAY) as store:
        assert store.check() == []
        events = store.events(1)
        assert 0 < len(events) < 1000
        assert events == [an_event(number) for number in range(len(events))]
    assert wrong_with(tmp_path, len(events)) == ""


# --- versions and damage ----------------------------------------------------------------------------------------------------


def test_a_store_of_an_earlier_version_is_brought_to_this_one(tmp_path: Path) -> None:
    everything, number = module.MIGRATIONS, 1
    old = sqlite3.connect(tmp_path / FILE)
    for statement in (*everything[0], "PRAGMA user_version = 1", f"PRAGMA application_id = {module.APPLICATION}"):
        old.execute(statement)
    old.execute("INSERT INTO session VALUES (1, ?, 2, ?)", (DAY, UNTIL))
    lines = json_lines(STORY, Consent.WORDS).splitlines()
    old.executemany("INSERT INTO event VALUES (1, ?, ?)", list(enumerate(lines, start=1)))
    old.commit()
    old.close()
    with open_store(tmp_path, DAY) as store:
        assert store._db.execute("PRAGMA user_version").fetchone() == (len(everything),)
        assert store.events(number) == STORY
        assert store.figures(number) is None
        store.keep_figures(number, "some")
        assert store.figures(number) == "some"


def test_a_migration_that_fails_leaves_the_store_as_it_was(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with open_store(tmp_path, DAY) as store:
        number = kept(store)
    ours = module.MIGRATIONS
    monkeypatch.setattr(module, "MIGRATIONS", (*ours, ("ALTER TABLE session ADD COLUMN note TEXT", "NONSENSE")))
    with pytest.raises(KeepingError, match="syntax"):
        open_store(tmp_path, DAY)
    monkeypatch.setattr(module, "MIGRATIONS", ours)
    with open_store(tmp_path, DAY) as store:
        assert store.events(number) == STORY


def test_a_store_of_a_later_version_is_left_alone(tmp_path: Path) -> None:
    with open_store(tmp_path, DAY) as store:
        store._db.execute("PRAGMA user_version = 99")
    with pytest.raises(KeepingError, match="later version"):
        open_store(tmp_path, DAY)


def test_a_broken_record_is_named_and_its_session_can_be_deleted(tmp_path: Path) -> None:
    with open_store(tmp_path, DAY) as store:
        number = kept(store)
        store._db.execute("UPDATE event SET record = '{' WHERE place = 2")
        with pytest.raises(KeepingError, match="no event of ours"):
            store.events(number)
        assert any("Session 1" in problem for problem in store.check())
        store.delete([number])
        assert store.check() == []


def test_a_folder_where_nobody_may_write_is_a_sentence(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    with pytest.raises(KeepingError, match="cannot be opened"):
        open_store(tmp_path / "file", DAY)


def test_what_the_store_gives_back_are_events(tmp_path: Path) -> None:
    with open_store(tmp_path, DAY) as store:
        number = kept(store, Consent.TIMELINE)
        events = store.events(number)
    assert isinstance(events[3], SessionOpened) and events[3].plan == ""
    assert all(event.words == () for event in events if isinstance(event, Heard))
