"""Numbers after an option: finite, and in a range.

What lives here: the kinds of number that commands take. What must not: which range an option has.
"""

import argparse
from collections.abc import Callable
from math import isfinite

from assistant.core.club.settings import LONGEST_MIN


def in_range(least: float, most: float) -> Callable[[str], float]:
    """An argparse type: a finite number from ``least`` to ``most``; argparse says where it stood."""

    def read(text: str) -> float:
        try:
            value = float(text)
        except ValueError:
            value = float("nan")
        if not isfinite(value) or not least <= value <= most:
            raise argparse.ArgumentTypeError(f"{text!r} is no number from {least:g} to {most:g}")
        return value

    return read


def listed(where: str) -> Callable[[str], int]:
    """An argparse type: a whole number, as some command lists them; ``where`` says which, and what else may be meant."""

    def read(text: str) -> int:
        if not (text.isascii() and text.isdecimal()):
            raise argparse.ArgumentTypeError(f"{text!r} is no number; {where}")
        return int(text)

    return read


MINUTES = in_range(0, LONGEST_MIN)
