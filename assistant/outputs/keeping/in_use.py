"""Whether a session is being kept right now, in this window or another.

What lives here: a lock of the operating system's on a small file beside the store; a kill releases it, whatever the file does.
What must not: the store.

Sessions hold it together; whoever locks, unlocks or deletes must have it alone.
"""

import sys
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import IO

from assistant.errors import KeepingError

IN_USE_FILE = "sessions.in-use"

if sys.platform == "win32":
    import msvcrt

    def _try(file: IO[bytes], alone: bool) -> bool:
        """Windows has no lock that several hold: of two sessions only the first holds it."""
        try:
            msvcrt.locking(file.fileno(), msvcrt.LK_NBLCK, 1)
        except OSError:
            return not alone
        return True
else:
    import fcntl

    def _try(file: IO[bytes], alone: bool) -> bool:
        try:
            fcntl.flock(file, (fcntl.LOCK_EX if alone else fcntl.LOCK_SH) | fcntl.LOCK_NB)
        except BlockingIOError:
            return False
        return True


@contextmanager
def in_use(folder: Path) -> Iterator[None]:
    """Hold it while a session is kept in the store of this folder.

    Raises:
        KeepingError: the store is being locked or deleted, or the folder cannot be used.
    """
    with _held(folder, alone=False, refusal="The store is being changed by another window. Start again when that is done."):
        yield


@contextmanager
def alone(folder: Path) -> Iterator[None]:
    """Hold it while nobody else may have the store of this folder; where there is no folder, there is nothing to hold.

    Raises:
        KeepingError: a session is being kept, or the folder cannot be used.
    """
    if not folder.is_dir():
        yield
        return
    with _held(folder, alone=True, refusal="A session is being kept right now. End it first (q q), then say this again."):
        yield


@contextmanager
def _held(folder: Path, *, alone: bool, refusal: str) -> Iterator[None]:
    path = folder / IN_USE_FILE
    try:
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        file = path.open("ab")
    except OSError as error:
        raise KeepingError(f"{path} cannot be opened ({error}). Make its folder one where you may write.") from error
    with file:
        if not _try(file, alone):
            raise KeepingError(refusal)
        try:
            yield
        finally:
            if _try(file, alone=True):  # the last one clears it away
                with suppress(OSError):
                    path.unlink()
