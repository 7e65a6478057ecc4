"""The door: which command, and the only place where an error becomes a sentence and an exit code.

What lives here: :func:`main`. What must not: a rule or a measure, or how any one command is spelled; that is in
:mod:`assistant.commands`.
"""

import argparse
import sys
from collections.abc import Sequence

from assistant import __version__
from assistant.commands import data, goals, models, paper, plans, review, sessions, setup, warmups
from assistant.errors import TrayTurnsError


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command.

    Returns:
        0 when it worked, 2 when something was wrong with what was asked (one sentence on stderr), 130 when it was broken off.
    """
    options = door().parse_args(argv)
    try:
        data.delete_due()
        return int(options.run(options))
    except TrayTurnsError as error:
        print(f"tray-turns: {error}", file=sys.stderr)
        return 2
    except KeyboardInterrupt:
        print("tray-turns: broken off", file=sys.stderr)
        return 130
    except BrokenPipeError:  # `| head` has seen enough
        sys.stderr.close()
        return 0


def door() -> argparse.ArgumentParser:
    """Every command and option."""
    parser = argparse.ArgumentParser(
        prog="tray-turns",
        description="A quiet helper for a building club at home: it listens offline, keeps the turns, and speaks the swaps. "
        "Nothing is written to disk unless you name a file for it, or ask to keep it.",
    )
    parser.add_argument("--version", action="version", version=f"tray-turns {__version__}")
    commands = parser.add_subparsers(title="commands", required=True, metavar="COMMAND")
    for family in (sessions, setup, review, goals, data, plans, paper, warmups, models):
        family.add_parsers(commands)
    return parser
