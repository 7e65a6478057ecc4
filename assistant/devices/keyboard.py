"""Single keys from the terminal, without waiting and without Enter.

What lives here: the two ways that operating systems have for it. What must not: what a key means.
"""

import os
import sys
from types import TracebackType
from typing import Any

try:
    import termios
    import tty
    from select import select
except ImportError:  # Windows has msvcrt instead
    termios = None  # type: ignore[assignment]


class Keyboard:
    """The keyboard as a context: inside it :meth:`pressed` gives the keys since last asked; without a terminal, none."""

    def __init__(self) -> None:
        self._there = sys.stdin is not None and sys.stdin.isatty()
        self._before: Any = None

    def __enter__(self) -> "Keyboard":
        if self._there and termios:
            self._before = termios.tcgetattr(sys.stdin)
            tty.setcbreak(sys.stdin)
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None) -> None:
        if self._before and termios:
            termios.tcsetattr(sys.stdin, termios.TCSADRAIN, self._before)

    def pressed(self) -> str:
        """The keys pressed since last asked, oldest first; never waits."""
        if not self._there:
            return ""
        return _posix_keys() if termios else _windows_keys()


def _posix_keys() -> str:
    """Read from the descriptor itself: what Python's own buffer holds, ``select`` does not see."""
    file = sys.stdin.fileno()
    keys = b""
    while select([file], [], [], 0)[0] and (more := os.read(file, 64)):
        keys += more
    return keys.decode(errors="ignore")


def _windows_keys() -> str:
    import msvcrt

    keys = ""
    while msvcrt.kbhit():  # type: ignore[attr-defined]
        keys += msvcrt.getwch()  # type: ignore[attr-defined]
    return keys
