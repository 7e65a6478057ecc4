"""``data``: what is kept, and how it is taken out or deleted.

What lives here: how it is spelled. What must not: where the store lies (:mod:`assistant.commands.kept_sessions`), or how it is
written.
"""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from assistant.commands import kept_sessions
from assistant.commands.numbers import listed
from assistant.commands.spelling import add_actions
from assistant.core.wording import Count
from assistant.errors import KeepingError, SettingsError

if TYPE_CHECKING:
    from assistant.core.club.consent import Receipt


def add_parsers(commands: Any) -> None:
    """Add the command and its own commands to the door's list."""
    parser = commands.add_parser("data", help="what is kept of your sessions: see it, share it, delete it")
    parser.description = "What is kept lies in one file on this computer, readable by you alone, and deletes itself on its day."
    actions = add_actions(parser)
    listing = actions.add_parser("list", help="every kept session, who agreed to what, and until when")
    listing.set_defaults(run=_run_list)
    export = actions.add_parser("export", help="write a session in open formats, without words and names")
    kept_sessions.add_choice(export)
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
    number = listed("`tray-turns data list` shows them")
    delete.add_argument("numbers", type=number, nargs="*", metavar="NUMBER", help="as data list shows them")
    delete.add_argument("--all", action="store_true", help="everything, even when the file is damaged")
    delete.set_defaults(run=_run_delete)
    lock = actions.add_parser("lock", help="encrypt all that is kept with a passphrase; without it nobody can read it again")
    lock.set_defaults(run=_run_lock)
    unlock = actions.add_parser("unlock", help="take the passphrase away again")
    unlock.set_defaults(run=_run_unlock)
    check = actions.add_parser("check", help="say whether what is kept is sound")
    check.set_defaults(run=_run_check)


def _run_list(options: argparse.Namespace) -> int:
    from assistant.core.club.consent import LEVELS
    from assistant.samples import clock_face

    with kept_sessions.open_kept() as store:
        for kept in store.sessions():
            sound = f", {clock_face(kept.voice_samples)} of sound" if kept.voice_samples else ""
            count = Count(kept.events)
            until = f"until {kept.until}  {count} {count:event|events}"
            print(f"{kept.number:4}  {kept.day}  {LEVELS[kept.level]:8}  {until}{sound}")
            print("      " + _agreed(store.receipts(kept.number)))
        if not store.sessions():
            print("Nothing is kept.")
        if names := store.names():
            print(f"Names: {kept_sessions.in_a_row(names)}.")
        print(f"All of it lies in {store.path}.")
    return 0


def _agreed(receipts: Sequence[Receipt]) -> str:
    """Who gave which answer, those of one answer together: ``"agreed to the timeline (wording 1): A child, A guardian"``."""
    by_answer: dict[str, list[str]] = {}
    for one in receipts:
        by_answer.setdefault(f"{_answer(one)} (wording {one.wording})", []).append(f"{one.seat} {one.giver}")
    return "; ".join(f"{answer}: {', '.join(givers)}" for answer, givers in by_answer.items())


def _answer(receipt: Receipt) -> str:
    from assistant.core.club.consent import LEVELS, Consent

    if receipt.withdrawn:
        return "taken back"
    return "no" if receipt.level is Consent.NOTHING else f"agreed to the {LEVELS[receipt.level]}"


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
    session = kept_sessions.chosen(options, with_voices=options.with_voices)
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
    from assistant.core.club.settings import names_from

    wanted = names_from(options.names)
    if wanted and options.forget:
        raise SettingsError("Give names, or --forget, not both.")
    with kept_sessions.open_kept() as store:
        if wanted or options.forget:
            store.keep_names(wanted)
        names = store.names()
    told = f"{kept_sessions.in_a_row(names)}. They are in the locked store alone."
    print(told if names else "No names are kept: seats are letters.")
    return 0


def _run_delete(options: argparse.Namespace) -> int:
    from assistant.outputs.keeping.in_use import alone
    from assistant.outputs.keeping.store import delete_store

    if bool(options.numbers) == options.all:
        raise SettingsError("Name the sessions to delete, as data list shows them, or --all.")
    if options.all:
        with alone(kept_sessions.folder()):
            delete_store(kept_sessions.folder())
        print("Everything is deleted.")
        return 0
    with alone(kept_sessions.folder()), kept_sessions.open_kept() as store:
        store.delete(options.numbers)
    print("Deleted. What you exported or copied elsewhere is still there.")
    return 0


def _run_lock(options: argparse.Namespace) -> int:
    kept_sessions.lock(kept_sessions.ask_new_passphrase)
    print("Locked. Who forgets the passphrase loses what is kept: nobody can open it without.")
    return 0


def _run_unlock(options: argparse.Namespace) -> int:
    from assistant.outputs.keeping.in_use import alone
    from assistant.outputs.keeping.store import is_locked, unlock_store

    if not kept_sessions.store_is_there():
        raise KeepingError(kept_sessions.NOTHING_YET)
    folder = kept_sessions.folder()
    with alone(folder):
        unlock_store(folder, kept_sessions.ask_passphrase("Passphrase") if is_locked(folder) else "")
    print("Unlocked: it can be read without a passphrase again.")
    return 0


def _run_check(options: argparse.Namespace) -> int:
    with kept_sessions.open_kept() as store:
        problems = store.check()
        if problems:
            raise KeepingError("\n".join(problems))
        count = Count(len(store.sessions()))
        print(f"{count} {count:session, nothing is wrong with it|sessions, nothing is wrong with them}.")
    return 0
