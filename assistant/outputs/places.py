"""Where something may be written: nothing that is there already is ever replaced.

What lives here: the one rule for every file that a family names. What must not: writing it.

A device (``/dev/null``) or a pipe may be named: nothing in it can be lost.
"""

import os
from pathlib import Path
from shutil import disk_usage

from assistant.errors import KeepingError

LEAST_ROOM = 1_000_000
"""Bytes that a session's own files may take; chosen, on the wide side: an hour of events has about that."""


def must_be_new(*paths: Path) -> None:
    """Refuse what would replace a file, or the one another.

    Raises:
        KeepingError: a file is there already, or two of these are one.
    """
    seen: set[Path] = set()
    for path in paths:
        if path.is_file():
            raise KeepingError(f"{path} is there already. Name another file, or move that one away.")
        place = path.resolve()
        if place in seen and not path.exists():
            raise KeepingError(f"{path} is named for two things. Name a file for each.")
        seen.add(place)


def must_be_writable(*paths: Path) -> None:
    """Refuse at once what could not be written an hour later.

    Raises:
        KeepingError: a file is there already, two of these are one, or one lies where nobody may write or nothing has room.
    """
    must_be_new(*paths)
    for path in paths:
        if path.is_dir():
            raise KeepingError(f"{path} is a folder. Name a file in it.")
        if not path.parent.is_dir():
            raise KeepingError(f"{path} cannot be written: there is no folder {path.parent}. Make it, or name another place.")
        if not os.access(path if path.exists() else path.parent, os.W_OK):
            raise KeepingError(f"{path} cannot be written: that is not allowed there. Name a place where you may write.")
        if not path.exists() and disk_usage(path.parent).free < LEAST_ROOM:
            raise KeepingError(f"{path} cannot be written: the disk is full. Make room, or name a place on another one.")
