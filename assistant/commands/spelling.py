"""What several commands spell alike: commands below a command, and how a club is.

What lives here: options that mean the same wherever they stand. What must not: what a command opens.
"""

from __future__ import annotations

import argparse
from typing import Any

from assistant.commands.numbers import MINUTES
from assistant.core.club.settings import LONGEST_MIN, Settings, SwapRule, names_from
from assistant.errors import SettingsError


def add_actions(parser: argparse.ArgumentParser) -> Any:
    """Commands below this one; said alone, it shows which there are."""

    def show(options: argparse.Namespace) -> int:
        parser.print_help()
        return 0

    parser.set_defaults(run=show)
    return parser.add_subparsers(title="commands", metavar="COMMAND")


def add_lengths(parser: argparse.ArgumentParser) -> None:
    """How long the club is, and what of it is for setting up and clearing away."""
    parser.add_argument("--length", type=float, default=45, metavar="MIN", help="minutes in all; nothing extends it (45)")
    parser.add_argument("--set-up", type=MINUTES, default=5, metavar="MIN", help="minutes of it for setting up (5)")
    parser.add_argument("--clear-away", type=MINUTES, default=5, metavar="MIN", help="minutes of it for clearing away (5)")


def settings_of(options: argparse.Namespace) -> Settings:
    """How the club is, from ``--children``, ``--swap``, ``--length``, ``--set-up``, ``--clear-away`` and ``--names``.

    Raises:
        SettingsError: one of them cannot be.
    """
    if not 0 < options.length <= LONGEST_MIN:
        raise SettingsError(f"--length {options.length:g} is no session. Choose up to {LONGEST_MIN} minutes, usually 30 to 60.")
    return Settings(
        children=options.children,
        swap=SwapRule.from_text(options.swap),
        length_s=options.length * 60,
        set_up_s=options.set_up * 60,
        clear_away_s=options.clear_away * 60,
        names=names_from(options.names),
    )
