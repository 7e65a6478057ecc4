"""The store: what a family keeps of its sessions, in one SQLite file that only its owner can read.

What lives here: the file, its schema, and what may be done with it. What must not: deciding what may be kept (the ledger), or
which day it is.

Every event is one transaction, synced before the next: whoever kills the program or pulls the plug loses at most the event
that was being written. What is deleted is overwritten (``secure_delete``), the file is rebuilt without it (``VACUUM``; a locked
file gives its free pages back at once, ``auto_vacuum``, because with voices it can be too large to rebuild) and the journal
emptied. Nothing is written beside the file but its journal: SQLite's own scratch space is memory.

Voices and names are kept in a locked store alone, and while there are any it cannot be unlocked.
"""

import json
import os
import sqlite3
import sys
from collections.abc import Iterable, Iterator, Mapping, Sequence, Set
from contextlib import closing, contextmanager
from dataclasses import dataclass
from pathlib import Path
from types import TracebackType, UnionType
from typing import Any

from assistant.core.club.consent import Consent, Giver, Ledger, Receipt, givers
from assistant.core.club.setting_up import LONGEST_PASSPHRASE
from assistant.core.measures.progress import Goal
from assistant.core.wording import Count
from assistant.errors import KeepingError
from assistant.events import Event, Marked
from assistant.outputs.exports.records import as_record, from_record
from assistant.outputs.keeping.sound import Gathering, Piece, samples_of
from assistant.samples import Frame
from assistant.terms import Mark, Seat

FILE = "sessions.sqlite"
LOCKED_FILE = "sessions.locked"
SHORTEST_PASSPHRASE = 8
APPLICATION = 0x54524159  # "TRAY": says in the file's header whose it is
BUSY_MS = 5_000  # another window of this program may be writing one event

MIGRATIONS: tuple[tuple[str, ...], ...] = (
    (
        "CREATE TABLE session (number INTEGER PRIMARY KEY, day TEXT NOT NULL, level INTEGER NOT NULL, until TEXT NOT NULL) "
        "STRICT",
        "CREATE TABLE receipt (session INTEGER NOT NULL REFERENCES session ON DELETE CASCADE, seat TEXT NOT NULL, "
        "giver TEXT NOT NULL, level INTEGER NOT NULL, day TEXT NOT NULL, wording INTEGER NOT NULL, until TEXT NOT NULL, "
        "withdrawn INTEGER NOT NULL, PRIMARY KEY (session, seat, giver)) STRICT, WITHOUT ROWID",
        "CREATE TABLE event (session INTEGER NOT NULL REFERENCES session ON DELETE CASCADE, place INTEGER NOT NULL, "
        "record TEXT NOT NULL, PRIMARY KEY (session, place)) STRICT, WITHOUT ROWID",
    ),
    ("ALTER TABLE session ADD COLUMN figures TEXT",),  # what progress over weeks needs, worked out once
    (
        "CREATE TABLE voice (session INTEGER NOT NULL REFERENCES session ON DELETE CASCADE, start INTEGER NOT NULL, "
        "stop INTEGER NOT NULL, flac BLOB NOT NULL, PRIMARY KEY (session, start)) STRICT",
        "CREATE TABLE name (seat TEXT PRIMARY KEY, name TEXT NOT NULL) STRICT, WITHOUT ROWID",
    ),
    (
        "CREATE TABLE goal (number INTEGER PRIMARY KEY, tally TEXT NOT NULL, seat TEXT, skill TEXT NOT NULL, "
        "words TEXT NOT NULL, until TEXT NOT NULL) STRICT",
    ),
)
"""What brings a store from each version of the schema to the next; the first makes it. Only ever add to the end."""

ONLY_LOCKED = ("voice", "name")
"""Tables that have rows in a locked store alone."""
LOCK_FIRST = "kept only in a locked store. Lock it first: tray-turns data lock."


@dataclass(frozen=True, slots=True)
class Kept:
    """One kept session, as a list shows it. Days are texts, ``"2027-01-12"``."""

    number: int
    day: str
    level: Consent
    until: str
    events: int
    voice_samples: int = 0


@dataclass(frozen=True, slots=True)
class KeptGoal:
    """A goal of the family, and until when it is kept."""

    number: int
    goal: Goal
    until: str


class Store:
    """An open store. Use it in a ``with``; see :func:`open_store`."""

    def __init__(self, connection: Any, path: Path) -> None:
        self._db = connection
        self.path = path

    def __enter__(self) -> "Store":
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None) -> None:
        self.close()

    def close(self) -> None:
        """Let the file go."""
        self._db.close()

    def sessions(self) -> list[Kept]:
        """Every kept session, the oldest first."""
        query = (
            "SELECT number, day, level, until, (SELECT count(*) FROM event WHERE session = number), "
            "(SELECT coalesce(sum(stop - start), 0) FROM voice WHERE session = number) FROM session ORDER BY number"
        )
        with _told(self.path):
            rows = self._rows(query, (), int, str, int, str, int, int)
            return [Kept(number, day, Consent(level), *rest) for number, day, level, *rest in rows]

    def receipts(self, number: int) -> list[Receipt]:
        """Who agreed to what for a session."""
        columns = "seat, giver, level, day, wording, until, withdrawn"
        with _told(self.path):
            query = f"SELECT {columns} FROM receipt WHERE session = ?"
            rows = self._rows(query, (number,), str, str, int, str, int, str, int)
            return [
                Receipt(Seat(seat), Giver(giver), Consent(level), day, wording, until, bool(withdrawn))
                for seat, giver, level, day, wording, until, withdrawn in rows
            ]

    def events(self, number: int) -> list[Event]:
        """The events of a session, as far as they were kept.

        Raises:
            KeepingError: there is no such session, or what is kept cannot be read.
        """
        if number not in {kept.number for kept in self.sessions()}:
            raise KeepingError(f"There is no session {number}. See them: tray-turns data list.")
        with _told(self.path):
            rows = self._rows("SELECT record FROM event WHERE session = ? ORDER BY place", (number,), str)
            return [from_record(json.loads(record)) for (record,) in rows]

    def voices(self, number: int) -> list[Piece]:
        """The sound of a session in its pieces; none where it was not kept."""
        with _told(self.path):
            query = "SELECT start, stop, flac FROM voice WHERE session = ? ORDER BY start"
            return [Piece(*row) for row in self._rows(query, (number,), int, int, bytes)]

    @property
    def is_locked(self) -> bool:
        """Whether everything in it is encrypted."""
        return self.path.name == LOCKED_FILE

    def names(self) -> dict[Seat, str]:
        """What the family calls its seats; apart from the sessions, and in none of them."""
        with _told(self.path):
            return {Seat(seat): name for seat, name in self._rows("SELECT seat, name FROM name ORDER BY seat", (), str, str)}

    def keep_names(self, names: Mapping[Seat, str]) -> None:
        """Keep these names, and no others.

        Raises:
            KeepingError: the store is not locked, or cannot be written.
        """
        if names and not self.is_locked:
            raise KeepingError(f"Names are {LOCK_FIRST}")
        with _told(self.path):
            with self._transaction():
                self._db.execute("DELETE FROM name")
                self._db.executemany("INSERT INTO name VALUES (?, ?)", list(names.items()))
            self._rub_out()

    def goals(self) -> list[KeptGoal]:
        """What the family works at, in the order in which it was written down."""
        with _told(self.path):
            query = "SELECT number, until, tally, seat, skill, words FROM goal ORDER BY number"
            rows = self._rows(query, (), int, str, str, str | None, str, str)
            return [
                KeptGoal(number, Goal(tally, Seat(seat) if seat else None, skill, words), until)
                for number, until, tally, seat, skill, words in rows
            ]

    def keep_goal(self, goal: Goal, until: str) -> int:
        """Keep a goal until a day; its number."""
        row = (goal.tally, goal.seat, goal.skill, goal.words, until)
        with _told(self.path):
            done = self._db.execute("INSERT INTO goal (tally, seat, skill, words, until) VALUES (?, ?, ?, ?, ?)", row)
            return int(done.lastrowid)

    def delete_goal(self, number: int) -> None:
        """Delete a goal: from the file, its free pages and its journal.

        Raises:
            KeepingError: there is no such goal.
        """
        if number not in {one.number for one in self.goals()}:
            raise KeepingError(f"There is no goal {number}. See them: tray-turns goals list.")
        with _told(self.path):
            self._db.execute("DELETE FROM goal WHERE number = ?", (number,))
            self._rub_out()

    def figures(self, number: int) -> str | None:
        """What was worked out of a session for progress over weeks; None when nothing was yet."""
        with _told(self.path):
            row = self._db.execute("SELECT figures FROM session WHERE number = ?", (number,)).fetchone()
            return row[0] if row else None

    def keep_figures(self, number: int, figures: str) -> None:
        """Keep what was worked out of a session; it goes when the session goes."""
        with _told(self.path):
            self._db.execute("UPDATE session SET figures = ? WHERE number = ?", (figures, number))

    def must_be_writable(self) -> None:
        """Refuse at once what could not be written to later.

        Raises:
            KeepingError: another program holds it, or it may only be read.
        """
        with _told(self.path), self._transaction():
            pass

    def keep(self, ledger: Ledger, day: str, ours: Set[str] = frozenset()) -> "Keeping":
        """Begin to keep a session, as far as its ledger allows.

        Raises:
            KeepingError: it allows nothing, or voices in a store that is not locked; or the store cannot be written.
        """
        if ledger.level < Consent.TIMELINE:
            raise KeepingError("Nothing is kept: not everybody in this session agreed to it.")
        if ledger.level >= Consent.VOICES and not self.is_locked:
            raise KeepingError(f"Voices are {LOCK_FIRST}")
        with _told(self.path), self._transaction():
            row = (day, int(ledger.level), ledger.until)
            number = self._db.execute("INSERT INTO session (day, level, until) VALUES (?, ?, ?)", row).lastrowid
            assert number is not None
            self._write_receipts(number, ledger.receipts)
        return Keeping(self, number, ledger, day, ours)

    def delete(self, numbers: Sequence[int]) -> None:
        """Delete sessions with everything about them: from the file, its free pages and its journal.

        Raises:
            KeepingError: one is not there, and then none is deleted; or another program holds the file open.
        """
        if missing := set(numbers) - {kept.number for kept in self.sessions()}:
            raise KeepingError(f"There is no session {min(missing)}; nothing was deleted. See them: tray-turns data list.")
        with _told(self.path):
            with self._transaction():
                self._db.executemany("DELETE FROM session WHERE number = ?", [(number,) for number in numbers])
            self._rub_out()

    def delete_due(self, today: str) -> list[int]:
        """Delete the goals and sessions whose day has come, and say which sessions they were."""
        for goal in [one for one in self.goals() if one.until <= today]:
            self.delete_goal(goal.number)
        due = [kept.number for kept in self.sessions() if kept.until <= today]
        if due:
            self.delete(due)
        return due

    def check(self) -> list[str]:
        """What is wrong with the store, one sentence each; nothing when it is sound."""
        problems = []
        with _told(self.path):
            for (found,) in self._db.execute("PRAGMA integrity_check").fetchall():
                if found != "ok":
                    problems.append(f"{self.path} is damaged: {found}.")
            if self._db.execute("PRAGMA foreign_key_check").fetchall():
                problems.append(f"{self.path} holds events of a session that is not there.")
        for kept in self.sessions():
            problems += self._check_session(kept)
        return problems

    def _check_session(self, kept: Kept) -> list[str]:
        last = self._db.execute("SELECT coalesce(max(place), 0) FROM event WHERE session = ?", (kept.number,)).fetchone()[0]
        if last != kept.events:
            count = Count(kept.events)
            return [f"Session {kept.number} has {count} {count:event|events}, and should have {last}."]
        try:
            self.events(kept.number)
            for piece in self.voices(kept.number):
                samples_of(piece)
        except KeepingError as error:
            return [f"Session {kept.number}: {error}"]
        return []

    def _rows(self, query: str, values: Sequence[object], *kinds: type | UnionType) -> list[Any]:
        """What the query finds; a damaged file can hold values of any kind, and those are refused."""
        rows = self._db.execute(query, values).fetchall()
        for row in rows:
            if not all(isinstance(value, kind) for value, kind in zip(row, kinds, strict=True)):
                raise ValueError(f"{row!r:.60} is damaged")
        return list(rows)

    def _write_receipts(self, number: int, receipts: Sequence[Receipt]) -> None:
        rows = [
            (number, one.seat, one.giver, int(one.level), one.day, one.wording, one.until, int(one.withdrawn))
            for one in receipts
        ]
        self._db.executemany("INSERT OR REPLACE INTO receipt VALUES (?, ?, ?, ?, ?, ?, ?, ?)", rows)

    def _rub_out(self) -> None:
        """Rebuild the file without what was deleted, unless it has no free pages by itself, and empty the journal."""
        [[shrinks]] = self._db.execute("PRAGMA auto_vacuum").fetchall()
        if not shrinks:
            self._db.execute("VACUUM")
        busy, _, _ = self._db.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchone()
        if busy:
            what = "is open elsewhere, so its journal could not be emptied. Close that, and delete again."
            raise KeepingError(f"{self.path} {what}")

    @contextmanager
    def _transaction(self) -> Iterator[None]:
        self._db.execute("BEGIN IMMEDIATE")
        try:
            yield
        except BaseException:
            if self._db.in_transaction:
                self._db.execute("ROLLBACK")
            raise
        self._db.execute("COMMIT")


class Keeping:
    """One session being kept, event by event. Made by :meth:`Store.keep`.

    A club does not stop because a disk is full: what cannot be written is said in ``trouble``, and no more is written then.
    """

    def __init__(self, store: Store, number: int, ledger: Ledger, day: str, ours: Set[str]) -> None:
        self._store = store
        self._day = day
        self._ours = ours
        self._place = 0
        self._sound = Gathering()
        self.number = number
        self.ledger = ledger
        self.trouble: KeepingError | None = None

    def write(self, event: Event) -> None:
        """Add one event, as far as consent reaches; it is safe when this returns, unless ``trouble`` says otherwise."""
        if self.trouble or self.ledger.level < Consent.TIMELINE:
            return
        if isinstance(event, Marked) and event.mark is Mark.WITHDRAW:
            self._withdraw_by(event.seat or Seat.FACILITATOR)
            return
        self._place += 1
        record = json.dumps(as_record(event, self.ledger.level, self._ours), ensure_ascii=False)
        try:
            with _told(self._store.path):
                self._store._db.execute("INSERT INTO event VALUES (?, ?, ?)", (self.number, self._place, record))
        except KeepingError as error:
            self.trouble = error

    def hear(self, frame: Frame, shut: bool = False) -> None:
        """Take in the sound of a frame, where everybody agreed to voices; not while the ears are shut.

        It is safe less than a second later, unless ``trouble`` says otherwise.
        """
        if self.trouble or self.ledger.level < Consent.VOICES:
            return
        self._write_sound(self._sound.rest() if shut else self._sound.take(frame))

    def finish(self) -> None:
        """The session is over: the rest of its sound is kept."""
        if not self.trouble:
            self._write_sound(self._sound.rest())

    def _write_sound(self, piece: Piece | None) -> None:
        if piece is None:
            return
        row = (self.number, piece.start_sample, piece.end_sample, piece.flac)
        try:
            with _told(self._store.path):
                self._store._db.execute("INSERT INTO voice VALUES (?, ?, ?, ?)", row)
        except KeepingError as error:
            self.trouble = error

    def write_all(self, events: Iterable[Event]) -> None:
        """Add many events at once, all of them or, when ``trouble`` says so, none."""
        try:
            with _told(self._store.path), self._store._transaction():
                for event in events:
                    self.write(event)
                if self.trouble:
                    raise self.trouble
        except KeepingError as error:
            self.trouble = error

    def _withdraw_by(self, seat: Seat) -> None:
        try:
            self.withdraw(seat, givers(seat)[-1], self._day)
        except KeepingError as error:
            self.trouble = error

    def withdraw(self, seat: Seat, giver: Giver, day: str) -> None:
        """Somebody takes the answer back: what was kept of the session is gone, and only the receipt of that stays.

        Raises:
            KeepingError: it could not be deleted.
        """
        store = self._store
        self.ledger = self.ledger.withdrawn(seat, giver, day)
        self._sound = Gathering()
        with _told(store.path):
            with store._transaction():
                store._db.execute("DELETE FROM event WHERE session = ?", (self.number,))
                store._db.execute("DELETE FROM voice WHERE session = ?", (self.number,))
                gone = "UPDATE session SET level = ?, figures = NULL WHERE number = ?"
                store._db.execute(gone, (int(Consent.NOTHING), self.number))
                store._write_receipts(self.number, self.ledger.receipts)
            store._rub_out()


def open_store(folder: Path, today: str, passphrase: str = "") -> Store:
    """The store in this folder, made when there is none, brought to this version, and without what was due to go.

    Args:
        passphrase: of a locked store; a new store is never locked.

    Raises:
        KeepingError: the folder cannot be used; or the file is damaged, of a later version, or locked with another passphrase.
    """
    path = folder / (LOCKED_FILE if is_locked(folder) else FILE)
    _make_private(folder, path)
    with _told(path):
        connection = _connect(path, passphrase) if path.name == LOCKED_FILE else _plain(path)
    store = Store(connection, path)
    try:
        with _told(path):
            _prepare(connection)
            _migrate(store)
        store.delete_due(today)
    except BaseException:
        connection.close()
        raise
    return store


def is_locked(folder: Path) -> bool:
    """Whether the store of this folder needs a passphrase."""
    return (folder / LOCKED_FILE).exists() and not (folder / FILE).exists()


def is_there(folder: Path) -> bool:
    """Whether this folder has a store; looking makes none."""
    return (folder / FILE).exists() or (folder / LOCKED_FILE).exists()


def lock_store(folder: Path, passphrase: str) -> None:
    """Encrypt the whole store with a passphrase (SQLCipher), and overwrite what was there in the clear.

    Raises:
        KeepingError: it is locked already, the passphrase is too short, or SQLCipher is not installed.
    """
    if is_locked(folder):
        raise KeepingError("The store is locked already.")
    must_be_fit(passphrase)
    _copy(folder / FILE, "", folder / LOCKED_FILE, passphrase)
    _delete(folder / FILE)


def must_be_fit(passphrase: str) -> None:
    """Refuse a new passphrase that is soon guessed, or that the set-up page has no place for.

    Raises:
        KeepingError: it is too short, or too long.
    """
    if len(passphrase) < SHORTEST_PASSPHRASE:
        enough = f"at least {SHORTEST_PASSPHRASE} characters"
        raise KeepingError(f"A passphrase has {enough}. Several words in a row are easy to keep.")
    if len(passphrase) > LONGEST_PASSPHRASE:
        raise KeepingError(f"A passphrase has at most {LONGEST_PASSPHRASE} characters. Choose a shorter one.")


def unlock_store(folder: Path, passphrase: str) -> None:
    """Decrypt the whole store, so that it needs no passphrase any more.

    Raises:
        KeepingError: it is not locked, or with another passphrase; or it holds what is only kept locked.
    """
    if not is_locked(folder):
        raise KeepingError("The store is not locked.")
    with _told(folder / LOCKED_FILE), closing(_connect(folder / LOCKED_FILE, passphrase)) as connection:
        if any(_has_rows(connection, table) for table in ONLY_LOCKED):
            how = "Delete them first: tray-turns data names --forget, tray-turns data delete."
            raise KeepingError(f"Voices and names are never kept unlocked. {how}")
    _copy(folder / LOCKED_FILE, passphrase, folder / FILE, "")
    _delete(folder / LOCKED_FILE)


def _has_rows(connection: Any, table: str) -> bool:
    there = connection.execute("SELECT count(*) FROM sqlite_master WHERE name = ?", (table,)).fetchone()[0]
    return bool(there and connection.execute(f"SELECT count(*) FROM {table}").fetchone()[0])


def _copy(source: Path, key: str, target: Path, new_key: str) -> None:
    """A copy under another key. It gets its name only when it is whole: a kill before that leaves the source as it was."""
    new = target.with_name(f"{target.name}.new")
    _delete(new)
    _make_private(target.parent, new)
    with _told(source), closing(_connect(source, key)) as connection:
        [[version]] = connection.execute("PRAGMA user_version").fetchall()
        connection.execute("ATTACH DATABASE ? AS copy KEY ?", (str(new), new_key))
        if new_key:
            connection.execute("PRAGMA copy.auto_vacuum = FULL")
        connection.execute("SELECT sqlcipher_export('copy')").fetchall()
        connection.execute(f"PRAGMA copy.user_version = {version}")
        connection.execute(f"PRAGMA copy.application_id = {APPLICATION}")
        connection.execute("DETACH DATABASE copy")
    try:
        _delete(target)
        new.replace(target)
    except OSError as error:
        raise KeepingError(f"{target} could not be written ({error}).") from error


def _plain(path: Path) -> sqlite3.Connection:
    return sqlite3.connect(path, isolation_level=None, timeout=BUSY_MS / 1000)


def _connect(path: Path, key: str) -> Any:
    """A connection by SQLCipher, which is SQLite with every page encrypted; with an empty key it is SQLite."""
    dbapi2 = cipher()
    connection = dbapi2.connect(str(path), isolation_level=None, timeout=BUSY_MS / 1000)
    connection.execute("PRAGMA cipher_log_level = NONE")
    if key:
        quoted = key.replace("'", "''")
        connection.execute(f"PRAGMA key = '{quoted}'")
    try:
        connection.execute("SELECT count(*) FROM sqlite_master").fetchall()
    except dbapi2.DatabaseError as error:
        connection.close()
        why = f"that is not its passphrase, or {path} is damaged"
        raise KeepingError(f"What is kept does not open: {why}. Type it once more.") from error
    return connection


def cipher() -> Any:
    """SQLCipher, in the shape of Python's own ``sqlite3``.

    Raises:
        KeepingError: it is not installed.
    """
    try:
        from sqlcipher3 import dbapi2
    except ImportError as error:
        how = "Install it: .venv/bin/python -m pip install sqlcipher3 (the Python that Tray Turns runs in)."
        raise KeepingError(f"A locked store needs SQLCipher, which is not there. {how}") from error
    return dbapi2


def delete_store(folder: Path) -> None:
    """Delete the whole store, damaged or not, locked or not: every byte is overwritten before the file goes.

    Raises:
        KeepingError: it could not be deleted.
    """
    for name in (FILE, LOCKED_FILE, f"{FILE}.new", f"{LOCKED_FILE}.new"):
        _delete(folder / name)


def _delete(path: Path) -> None:
    """A database file with its journals."""
    try:
        for one in (path, *(path.with_name(path.name + ending) for ending in ("-wal", "-shm", "-journal"))):
            if one.exists():
                _overwrite(one)
                one.unlink()
    except OSError as error:
        raise KeepingError(f"{path} could not be deleted ({error}). Delete it by hand.") from error


def _overwrite(path: Path) -> None:
    with path.open("r+b") as file:
        file.write(bytes(path.stat().st_size))
        file.flush()
        os.fsync(file.fileno())


def _make_private(folder: Path, path: Path) -> None:
    """Make folder and file readable by nobody but their owner, before there is anything in them."""
    try:
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        with closing(_Descriptor(os.open(path, os.O_CREAT | os.O_RDWR, 0o600))):
            pass
        path.chmod(0o600)
    except OSError as error:
        raise KeepingError(f"{path} cannot be opened ({error}). Make its folder one where you may write.") from error


@dataclass(frozen=True, slots=True)
class _Descriptor:
    number: int

    def close(self) -> None:
        os.close(self.number)


def _prepare(connection: Any) -> None:
    for setting in ("secure_delete=ON", "temp_store=MEMORY", "foreign_keys=ON", "journal_mode=WAL", "synchronous=FULL"):
        connection.execute(f"PRAGMA {setting}").fetchall()


def _migrate(store: Store) -> None:
    [[version]] = store._db.execute("PRAGMA user_version").fetchall()
    [[application]] = store._db.execute("PRAGMA application_id").fetchall()
    if version and application != APPLICATION:
        raise KeepingError(f"{store.path} belongs to another program. Move it away.")
    if version > len(MIGRATIONS):
        raise KeepingError(f"{store.path} was made by a later version of Tray Turns. Use that version.")
    for number, statements in enumerate(MIGRATIONS[version:], start=version + 1):
        with store._transaction():
            for statement in (*statements, f"PRAGMA user_version = {number}", f"PRAGMA application_id = {APPLICATION}"):
                store._db.execute(statement)


@contextmanager
def _told(path: Path) -> Iterator[None]:
    """Says in a sentence what SQLite, or a record in the file, has against it."""
    try:
        yield
    except _database_errors() as error:
        raise KeepingError(f"{path} cannot be used ({error}). {_what_to_do(error)}") from error
    except (ValueError, RecursionError) as error:
        what = f"holds something that is no event of ours ({error}). Delete that session: tray-turns data delete."
        raise KeepingError(f"{path} {what}") from error


def _database_errors() -> tuple[type[Exception], ...]:
    """SQLite's, and SQLCipher's where it was needed: they have no common parent."""
    cipher = sys.modules.get("sqlcipher3.dbapi2")
    return (sqlite3.DatabaseError, cipher.DatabaseError) if cipher else (sqlite3.DatabaseError,)


def _what_to_do(error: Exception) -> str:
    text = str(error)
    if "full" in text:
        return "Make room on the disk."
    if "locked" in text:
        return "Another program has it open: close that."
    return "If you have a copy of that file, put it back. Otherwise delete it all: tray-turns data delete --all."
