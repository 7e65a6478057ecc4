"""``data``: what is kept, and how it is taken out or deleted; and the store that other commands open.

What lives here: how it is spelled, and where the store lies. What must not: how it is written.
"""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Sequence
from contextlib import ExitStack
from dataclasses import dataclass, field
from datetime import date
from getpass import getpass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from assistant.core.wording import Count
from assistant.errors import KeepingError, SettingsError, SourceError

if TYPE_CHECKING:
    from assistant.core.club.consent import Consent
    from assistant.events import Event
    from assistant.outputs.keeping.sound import Piece
    from assistant.outputs.keeping.store import Store
    from assistant.terms import Seat


PASSPHRASE = "TRAY_TURNS_PASSPHRASE"
"""The variable that holds the passphrase of a locked store where nobody can type it."""

NOTHING_YET = "Nothing is kept. A session is kept when it is started with --keep and everybody agrees."


def add_parsers(commands: Any) -> None:
    """Add the command and its own commands to the door's list."""
    parser = commands.add_parser("data", help="what is kept of your sessions: see it, share it, delete it")
    parser.description = "What is kept lies in one file on this computer, readable by you alone, and deletes itself on its day."
    actions = parser.add_subparsers(title="commands", required=True, metavar="COMMAND")
    listing = actions.add_parser("list", help="every kept session, who agreed to what, and until when")
    listing.set_defaults(run=_run_list)
    export = actions.add_parser("export", help="write a session in open formats, without words and names")
    add_choice(export)
    export.add_argument("--to", type=Path, required=True, metavar="FOLDER", help="where the files go")
    export.add_argument("--with-words", action="store_true", help="the words too, where everybody agreed to keep them")
    hear = "the words and the sound too, no longer encrypted: whoever has it can hear who it is"
    export.add_argument("--with-voices", action="store_true", help=hear)
    export.set_defaults(run=_run_export)
    names = actions.add_parser("names", help="names for the letters, in a locked store only; they go into no export")
    names.add_argument("names", nargs="?", default="", metavar="A=..,B=..", help="these names, and no others")
    names.add_argument("--forget", action="store_true", help="delete all names")
    names.set_defaults(run=_run_names)
    delete = actions.add_parser("delete", help="delete sessions, really: from the file, its free pages and its journal")
    delete.add_argument("numbers", type=int, nargs="*", metavar="NUMBER", help="as data list shows them")
    delete.add_argument("--all", action="store_true", help="everything, even when the file is damaged")
    delete.set_defaults(run=_run_delete)
    lock = actions.add_parser("lock", help="encrypt all that is kept with a passphrase; without it nobody can read it again")
    lock.set_defaults(run=_run_lock)
    unlock = actions.add_parser("unlock", help="take the passphrase away again")
    unlock.set_defaults(run=_run_unlock)
    check = actions.add_parser("check", help="say whether what is kept is sound")
    check.set_defaults(run=_run_check)


def add_choice(parser: argparse.ArgumentParser) -> None:
    """Which session: a number of the store, or a file."""
    parser.add_argument("number", type=int, nargs="?", metavar="NUMBER", help="as data list shows them (the last one)")
    parser.add_argument("--events", type=Path, metavar="F.jsonl", help="a file made with --events, not the store")


# --- the store --------------------------------------------------------------------------------------------------------------


def folder() -> Path:
    """The platform's own place for this program's data."""
    from platformdirs import user_data_path

    return user_data_path("tray-turns", appauthor=False)


def today() -> str:
    """The day, as a text."""
    return date.today().isoformat()


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


def open_or_make() -> Store:
    """The store, made when there is none; a locked one asks for its passphrase.

    Raises:
        KeepingError: it cannot be used.
    """
    from assistant.outputs.keeping.store import is_locked, open_store

    return open_store(folder(), today(), _passphrase("Passphrase") if is_locked(folder()) else "")


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


def opened_to_keep(stack: ExitStack) -> Store:
    """The store, made when there is none, and held so that nobody locks or deletes it before the stack is left.

    Raises:
        KeepingError: it cannot be used.
    """
    from assistant.outputs.keeping.in_use import in_use

    stack.enter_context(in_use(folder()))
    return stack.enter_context(open_or_make())


def _passphrase(question: str) -> str:
    try:
        return os.environ.get(PASSPHRASE) or getpass(f"{question}: ")
    except EOFError as error:
        raise KeepingError(f"The store is locked, and nobody gave the passphrase. Type it, or set {PASSPHRASE}.") from error


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


# --- the commands -----------------------------------------------------------------------------------------------------------


def _run_list(options: argparse.Namespace) -> int:
    from assistant.core.club.consent import LEVELS
    from assistant.samples import clock_face

    with open_kept() as store:
        for kept in store.sessions():
            sound = f", {clock_face(kept.voice_samples)} of sound" if kept.voice_samples else ""
            print(f"{kept.number:4}  {kept.day}  {LEVELS[kept.level]:8}  until {kept.until}  {kept.events} events{sound}")
            print("      agreed: " + _agreed(store.receipts(kept.number)))
        if not store.sessions():
            print("Nothing is kept.")
        if names := store.names():
            print(f"Names: {in_a_row(names)}.")
        print(f"All of it lies in {store.path}.")
    return 0


def in_a_row(names: dict[Seat, str]) -> str:
    """Names, each behind its letter."""
    return ", ".join(f"{seat} is {name}" for seat, name in names.items())


def _agreed(receipts: Sequence[Any]) -> str:
    from assistant.core.club.consent import LEVELS

    return ", ".join(
        f"{one.seat} {one.giver} {'taken back' if one.withdrawn else LEVELS[one.level]} (wording {one.wording})"
        for one in receipts
    )


def _run_export(options: argparse.Namespace) -> int:
    from assistant.assembly import our_texts
    from assistant.commands.review import review_page
    from assistant.core.club.consent import LEVELS, Consent
    from assistant.devices.shelf import shared_text
    from assistant.outputs.exports.bundle import bundle
    from assistant.outputs.exports.records import at_level
    from assistant.outputs.keeping import Keeper
    from assistant.outputs.places import must_be_new

    level = Consent.VOICES if options.with_voices else Consent.WORDS if options.with_words else Consent.TIMELINE
    session = chosen(options, with_voices=options.with_voices)
    if session.level < level or (options.with_voices and not session.voices):
        what = LEVELS[level]
        raise KeepingError(f"The {what} of this session were not kept ({LEVELS[session.level]}). Leave out --with-{what}.")
    ours, keeper = our_texts(), Keeper(session.level)
    files = bundle(session.events, level, shared_text("consent/en.toml"), shared_text("dictionary/en.toml"), ours)
    files["review.html"] = review_page(at_level(session.events, level, ours))
    sound = options.to / "session.flac"
    if options.with_voices:
        must_be_new(sound)
    keeper.folder(options.to, files, level)
    if options.with_voices:
        keeper.voices(sound, session.voices)
    print(f"{len(files) + options.with_voices} files are in {options.to}. README.txt says what they hold and what they do not.")
    return 0


def _run_names(options: argparse.Namespace) -> int:
    from assistant.commands.sessions import names_from

    wanted = names_from(options.names)
    if wanted and options.forget:
        raise SettingsError("Give names, or --forget, not both.")
    with open_kept() as store:
        if wanted or options.forget:
            store.keep_names(wanted)
        names = store.names()
    print(f"{in_a_row(names)}. They are in the locked store alone." if names else "No names are kept: seats are letters.")
    return 0


def _run_delete(options: argparse.Namespace) -> int:
    from assistant.outputs.keeping.in_use import alone
    from assistant.outputs.keeping.store import delete_store

    if bool(options.numbers) == options.all:
        raise SettingsError("Name the sessions to delete, as data list shows them, or --all.")
    if options.all:
        with alone(folder()):
            delete_store(folder())
        print("Everything is deleted.")
        return 0
    with alone(folder()), open_kept() as store:
        store.delete(options.numbers)
    print("Deleted. What you exported or copied elsewhere is still there.")
    return 0


def _run_lock(options: argparse.Namespace) -> int:
    from assistant.outputs.keeping.in_use import alone
    from assistant.outputs.keeping.store import cipher, lock_store

    with alone(folder()):
        cipher()  # no SQLCipher, a damaged store: said before anybody thinks of a passphrase
        with open_or_make():  # an empty one may be locked before anything is kept in it
            pass
        passphrase = _passphrase("A passphrase, several words in a row")
        if PASSPHRASE not in os.environ and getpass("The same once more: ") != passphrase:
            raise KeepingError("The two were not the same. Nothing was changed.")
        lock_store(folder(), passphrase)
    print("Locked. Who forgets the passphrase loses what is kept: nobody can open it without.")
    return 0


def _run_unlock(options: argparse.Namespace) -> int:
    from assistant.outputs.keeping.in_use import alone
    from assistant.outputs.keeping.store import is_locked, unlock_store

    if not store_is_there():
        raise KeepingError(NOTHING_YET)
    with alone(folder()):
        unlock_store(folder(), _passphrase("Passphrase") if is_locked(folder()) else "")
    print("Unlocked: it can be read without a passphrase again.")
    return 0


def _run_check(options: argparse.Namespace) -> int:
    with open_kept() as store:
        problems = store.check()
        if problems:
            raise KeepingError("\n".join(problems))
        count = Count(len(store.sessions()))
        print(f"{count} {count:session, nothing is wrong with it|sessions, nothing is wrong with them}.")
    return 0
