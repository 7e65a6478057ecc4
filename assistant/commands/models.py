"""``models``: which speech models are on this machine.

What lives here: options, and what is printed. What must not: looking for a model; that is in :mod:`assistant.devices.models`.
"""

import argparse
from typing import Any


def add_parsers(commands: Any) -> None:
    """Add the command to the door's list."""
    models = commands.add_parser("models", help="the speech models on this machine")
    actions = models.add_subparsers(title="commands", required=True, metavar="COMMAND")
    check = actions.add_parser("check", help="say which models are there, and whether they work")
    check.set_defaults(run=_check)


def _check(options: argparse.Namespace) -> int:
    raise NotImplementedError
