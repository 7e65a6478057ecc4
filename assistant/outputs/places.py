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


def cannot_write(path: Path, error: Exception) -> KeepingError:
    """The sentence for what the system, or a library, has against writing there."""
    why = getattr(error, "strerror", None) or error
    return KeepingError(f"{path} cannot be written ({why}). Name a place where you may write.")


def must_end(path: Path, *endings: str) -> None:
    """Refuse a name by which a computer would not know what the file is. A device or a pipe may be called anything.

    Raises:
        KeepingError: it ends otherwise.
    """
    if path.suffix.lower() not in endings and (path.is_file() or not path.exists()):
        raise KeepingError(f"{path} does not end in {' or '.join(endings)}. Give it that ending, so that it opens by itself.")


def must_be_no_file(folder: Path) -> None:
    """Refuse a folder that is a file.

    Raises:
        KeepingError: it is one.
    """
    if folder.is_file():
        raise KeepingError(f"{folder} cannot be written into: it is a file. Name a folder.")


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
