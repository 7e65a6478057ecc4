"""The door: which command, and the only place where an error becomes a sentence and an exit code.

What lives here: :func:`main`. What must not: a rule or a measure, or how any one command is spelled; that is in
:mod:`assistant.commands`.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator, Sequence
from io import TextIOWrapper
from typing import TYPE_CHECKING

from assistant import __version__
from assistant.errors import KeepingError, TrayTurnsError

if TYPE_CHECKING:
    import argparse

BROKEN_OFF = 130  # 128 and the number of the signal that Ctrl+C sends, as shells count
_LONGEST_SHOWN = 80  # characters of a file's name in a sentence


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command.

    Returns:
        0 when it worked, 2 when something was wrong with what was asked (one sentence on stderr), 130 when it was broken off.
    """
    try:
        _open_streams()
        code = _run(argv)
        sys.stdout.flush()  # here, where a full disk can still be said in words
        return code
    except TrayTurnsError as error:
        return _say(f"{error}", 2)
    except BrokenPipeError:  # `| head` has seen enough
        _write_no_more()
        return 0
    except OSError as error:
        if error.filename is None:
            _write_no_more()
        return _say(_sentence(error), 2)
    except BaseException as error:
        causes = tuple(_causes(error))
        if any(isinstance(cause, KeyboardInterrupt) for cause in causes):  # an import it struck can make another error of it
            return _say("broken off", BROKEN_OFF)
        if isinstance(error, SystemExit) and any(isinstance(cause, BrokenPipeError) for cause in causes):  # so rich ends it
            return _say("broken off: what reads the output was closed. Files may not be complete.", BROKEN_OFF)
        raise


def _run(argv: Sequence[str] | None) -> int:
    from assistant.commands import kept_sessions

    options = door().parse_args(argv)
    said = kept_sessions.delete_due()
    try:
        return int(options.run(options))
    except KeepingError as error:
        if str(error) == said:  # of the store, and once is enough
            return 2
        raise


def _open_streams() -> None:
    """Standard streams that can be used: one that was closed is empty, and what cannot be encoded is written as ``?``."""
    for name, mode in (("stdin", "r"), ("stdout", "w"), ("stderr", "w")):
        if getattr(sys, name) is None:
            setattr(sys, name, open(os.devnull, mode, encoding="utf-8"))
    if isinstance(sys.stdout, TextIOWrapper):
        sys.stdout.reconfigure(errors="replace")


def _write_no_more() -> None:
    """Let what still waits for standard output go nowhere, or Python would try, and fail, once more at its end."""
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, sys.stdout.fileno())
    os.close(nowhere)


def _say(sentence: str, code: int) -> int:
    print(f"tray-turns: {sentence}", file=sys.stderr)
    return code


def _sentence(error: OSError) -> str:
    """What the system refused; our own modules say it better where they expect it."""
    why = error.strerror or str(error)
    if error.filename is None:
        return f"The output cannot be written ({why}). Make room, or send it elsewhere."
    name = str(error.filename)
    shown = name if len(name) <= _LONGEST_SHOWN else f"{name[:_LONGEST_SHOWN]}..."
    return f"{shown} cannot be used ({why}). Choose another file or folder."


def _causes(error: BaseException | None) -> Iterator[BaseException]:
    while error:
        yield error
        error = error.__cause__ or error.__context__


def door() -> argparse.ArgumentParser:
    """Every command and option."""
    import argparse

    from assistant.commands import data, goals, models, paper, plans, review, sessions, setup, warmups
    from assistant.commands.spelling import add_actions

    parser = argparse.ArgumentParser(
        prog="tray-turns",
        description="A quiet helper for a building club at home: it listens offline, keeps the turns, and speaks the swaps. "
        "Nothing is written to disk unless you name a file for it, or ask to keep it.",
        epilog="To begin: tray-turns demo shows a whole session, tray-turns setup tries your own room, and tray-turns session "
        "--pages begins a club. Each command says what it takes: tray-turns print --help.",
    )
    parser.add_argument("--version", action="version", version=f"tray-turns {__version__}")
    commands = add_actions(parser)
    for family in (sessions, setup, review, goals, data, plans, paper, warmups, models):
        family.add_parsers(commands)
    return parser
