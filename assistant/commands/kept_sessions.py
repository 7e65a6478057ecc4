"""What is kept, as several commands open it: the store in its place, one session of it, a file of events.

What lives here: where the store lies, its passphrase, and which session was asked for. What must not: how a command is spelled,
or how anything is written.
"""

from __future__ import annotations

import argparse
import os
import sys
import warnings
from collections.abc import Callable
from contextlib import ExitStack
from dataclasses import dataclass, field
from datetime import date, timedelta
from getpass import GetPassWarning, getpass
from pathlib import Path
from typing import TYPE_CHECKING

from assistant.commands.numbers import listed
from assistant.errors import KeepingError, SettingsError, SourceError

if TYPE_CHECKING:
    from assistant.core.club.consent import Consent
    from assistant.events import Event
    from assistant.outputs.keeping.sound import Piece
    from assistant.outputs.keeping.store import Store
    from assistant.terms import Seat


PASSPHRASE = "TRAY_TURNS_PASSPHRASE"
"""The variable that holds the passphrase of a locked store where nobody can type it."""

USUAL_DAYS, LONGEST_DAYS = 180, 3660
NOTHING_YET = "Nothing is kept. A session is kept when it is started with --keep and everybody agrees."


def add_choice(parser: argparse.ArgumentParser) -> None:
    """Which session: a number of the store, or a file."""
    number = listed("`tray-turns data list` shows them, and a file made with --events goes behind --events")
    parser.add_argument("number", type=number, nargs="?", metavar="NUMBER", help="as data list shows them (the last one)")
    parser.add_argument("--events", type=Path, metavar="F.jsonl", help="a file made with --events, not the store")


def folder() -> Path:
    """The platform's own place for this program's data."""
    from platformdirs import user_data_path

    return user_data_path("tray-turns", appauthor=False)


def today() -> str:
    """The day, as a text."""
    return date.today().isoformat()


def until_when(days: int) -> str:
    """The day on which what is kept today for so many days deletes itself.

    Raises:
        SettingsError: that is no number of days.
    """
    if not 0 < days <= LONGEST_DAYS:
        raise SettingsError(f"--keep-days {days} is no time to keep anything. Choose 1 to {LONGEST_DAYS}.")
    return (date.today() + timedelta(days=days)).isoformat()


def store_is_there() -> bool:
    """Whether anything was ever kept; asking makes no file."""
    from assistant.outputs.keeping.store import is_there

    return is_there(folder())


def open_kept() -> Store:
    """The store.

    Raises:
        KeepingError: nothing was ever kept, or the store cannot be used.
    """
    if not store_is_there():
        raise KeepingError(NOTHING_YET)
    return open_or_make()


def open_or_make(passphrase: str = "") -> Store:
    """The store, made when there is none; a locked one asks for its passphrase where that is not given.

    Raises:
        KeepingError: it cannot be used.
    """
    from assistant.outputs.keeping.store import is_locked, open_store

    given = (passphrase or ask_passphrase("Passphrase")) if is_locked(folder()) else ""
    return open_store(folder(), today(), given)


def opened_before_asking(most: Consent, stack: ExitStack) -> Store | None:
    """The store, opened before anybody is asked anything, so that what is wrong with it is said first.

    None where there is none yet: nobody has agreed to one, so it is only seen whether one could be made.

    Raises:
        KeepingError: it cannot be opened or made; or it is not locked, and voices are to be kept in it.
    """
    from assistant.core.club.consent import Consent
    from assistant.outputs.keeping.store import LOCK_FIRST, is_locked

    if most >= Consent.VOICES and not is_locked(folder()):
        raise KeepingError(f"Voices are {LOCK_FIRST}")
    if store_is_there():
        return opened_to_keep(stack)
    there = next(path for path in (folder(), *folder().parents) if path.exists())
    if not (there.is_dir() and os.access(there, os.W_OK | os.X_OK)):
        raise KeepingError(f"Nothing can be kept: {there} is no folder where you may write. Make it one, or leave out --keep.")
    return None


def opened_to_keep(stack: ExitStack, passphrase: str = "") -> Store:
    """The store, made when there is none, and held so that nobody locks or deletes it before the stack is left.

    Args:
        passphrase: of a locked one; it is asked for where it is not given.

    Raises:
        KeepingError: it cannot be used.
    """
    from assistant.outputs.keeping.in_use import in_use

    stack.enter_context(in_use(folder()))
    return stack.enter_context(open_or_make(passphrase))


def lock(passphrase: Callable[[], str]) -> None:
    """Lock the store, or an empty one where there is none.

    Args:
        passphrase: asks for it, after everything else that can be wrong.

    Raises:
        KeepingError: SQLCipher is not installed, the store cannot be used or is in use, or the passphrase will not do.
    """
    from assistant.outputs.keeping.in_use import alone
    from assistant.outputs.keeping.store import cipher, lock_store

    with alone(folder()):
        cipher()
        open_or_make().close()
        lock_store(folder(), passphrase())


def ask_passphrase(question: str) -> str:
    """The passphrase of a locked store, from the variable that holds it or typed unseen.

    Raises:
        KeepingError: nobody is there to type it.
    """
    return os.environ.get(PASSPHRASE) or _typed(question, "The store is locked, and nobody gave the passphrase.")


def ask_new_passphrase() -> str:
    """A passphrase to lock with, typed twice.

    Raises:
        KeepingError: the two were not the same, or nobody is there to type it.
    """
    if given := os.environ.get(PASSPHRASE):
        return given
    nobody = "Nobody gave a passphrase, and nothing was changed."
    passphrase = _typed("A passphrase, several words in a row", nobody)
    must_be_the_same(passphrase, _typed("The same once more", nobody))
    return passphrase


def must_be_the_same(passphrase: str, again: str) -> None:
    """Refuse a new passphrase that was not typed twice alike.

    Raises:
        KeepingError: it was not.
    """
    if passphrase != again:
        raise KeepingError("The two were not the same. Nothing was changed; type both again.")


def _typed(question: str, nobody: str) -> str:
    """What is typed unseen.

    Raises:
        KeepingError: there is no keyboard to type it on, or it would be seen; ``nobody`` says what follows from that.
    """
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error", GetPassWarning)
            return getpass(f"{question}: ")
    except (EOFError, GetPassWarning) as error:
        raise KeepingError(f"{nobody} Type it in a terminal, or set {PASSPHRASE}.") from error


def delete_due() -> str:
    """Delete what is due, at every start of the program; a store that cannot be used is said, and stops nothing.

    A locked store cannot be looked into without its passphrase; what is due in it goes when it is next opened.

    Returns:
        What was said; empty where nothing had to be.
    """
    from assistant.outputs.keeping.store import is_locked

    if not store_is_there() or is_locked(folder()):
        return ""
    try:
        with open_kept():
            return ""
    except KeepingError as error:
        print(f"tray-turns: {error}", file=sys.stderr)
        return str(error)


@dataclass(frozen=True, slots=True)
class Chosen:
    """A session that was asked for, how much of it is there, and what lies beside it in the store."""

    events: list[Event]
    level: Consent
    voices: list[Piece] = field(default_factory=list)
    names: dict[Seat, str] = field(default_factory=dict)


def chosen(options: argparse.Namespace, with_voices: bool = False) -> Chosen:
    """The session that was asked for.

    Raises:
        KeepingError: it is not in the store.
        SourceError: the file cannot be read.
    """
    from assistant.core.club.consent import Consent

    if options.events:
        return Chosen(read_events(options.events), Consent.WORDS)  # what the file holds, the family asked for by name
    with open_kept() as store:
        sessions = {kept.number: kept for kept in store.sessions()}
        if not sessions:
            raise KeepingError("There is no session in the store.")
        number = max(sessions) if options.number is None else options.number
        events, voices = store.events(number), store.voices(number) if with_voices else []
        return Chosen(events, sessions[number].level, voices, store.names())


def read_events(path: Path) -> list[Event]:
    """The events of a file; where it breaks off in its last line, that is said, and the whole ones are used.

    Raises:
        SourceError: it cannot be read, or holds something else.
    """
    from assistant.outputs.exports.records import read_json_lines, without_a_broken_end

    try:
        text, is_broken = without_a_broken_end(path.read_bytes())
        events = list(read_json_lines(text.split("\n"), path.name))
    except (OSError, UnicodeDecodeError) as error:
        raise SourceError(f"{path} cannot be read ({error}). Name a file made with --events.") from error
    if not events:
        raise SourceError(f"{path} holds no event. Name a file made with --events.")
    if is_broken:
        print(f"{path} breaks off in its last line: the end of the session is missing. What is whole is used.", file=sys.stderr)
    return events


def in_a_row(names: dict[Seat, str]) -> str:
    """Names, each behind its letter."""
    return ", ".join(f"{seat} is {name}" for seat, name in names.items())
