"""Colours: which there are, and whether they can be told apart.

What lives here: the palette of ``shared/look.toml``, and the arithmetic of contrast (WCAG 2.2). What must not: shapes, pages.
"""

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from assistant.errors import SharedError

TEXT_CONTRAST = 4.5  # WCAG 2.2, 1.4.3
SHAPE_CONTRAST = 3.0  # WCAG 2.2, 1.4.11: outlines and icons

INKS = ("dark", "quiet", "faint", "line", "paper", "shade")
PLAIN = "plain"  # the colour of a piece whose colour nobody names


@dataclass(frozen=True, slots=True)
class Look:
    """The palette. Colours are written ``"#RRGGBB"``. Made by :func:`read_look`."""

    dark: str
    quiet: str
    faint: str
    line: str
    paper: str
    shade: str
    pieces: Mapping[str, str]
    roles: Mapping[str, str]

    def piece(self, word: str, own: Mapping[str, str]) -> str:
        """The colour that a plan's colour word stands for; ``own`` are the plan's own colours, which come first."""
        return own.get(word) or self.pieces.get(word.lower()) or self.pieces[PLAIN]

    def outline(self, fill: str) -> str:
        """Dark, unless only light stands out from ``fill``."""
        return self.dark if contrast(self.dark, fill) >= SHAPE_CONTRAST else self.paper


def read_look(text: str) -> Look:
    """The palette from the TOML text of ``shared/look.toml``.

    Raises:
        SharedError: a colour is missing, or not written as one.
    """
    try:
        raw = tomllib.loads(text)
        look = Look(**{ink: raw["ink"][ink] for ink in INKS}, pieces=_lower(raw["piece"]), roles=raw["role"])
        for colour in (*(raw["ink"][ink] for ink in INKS), *look.pieces.values(), *look.roles.values(), look.pieces[PLAIN]):
            luminance(colour)
    except (tomllib.TOMLDecodeError, KeyError, TypeError, ValueError, AttributeError) as error:
        raise SharedError(f"shared/look.toml: {error} is missing or not a colour. Write it as {'#009E73'!r}.") from error
    return look


def luminance(colour: str) -> float:
    """Relative luminance, 0 (black) to 1 (white) (WCAG 2.2, 'relative luminance')."""
    red, green, blue = (_linear(channel) for channel in channels(colour))
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    """Contrast ratio, 1 to 21 (WCAG 2.2, 'contrast ratio')."""
    dark, light = sorted((luminance(one), luminance(other)))
    return (light + 0.05) / (dark + 0.05)


def mix(one: str, other: str, share: float) -> str:
    """The colour on the way from one to the other: ``share`` 0 is all one, 1 all the other."""
    mixed = (round(a + (b - a) * share) for a, b in zip(channels(one), channels(other), strict=True))
    return "#" + "".join(f"{channel:02X}" for channel in mixed)


def channels(colour: str) -> tuple[int, int, int]:
    """Red, green and blue, 0 to 255.

    Raises:
        ValueError: it is not written ``"#RRGGBB"``.
    """
    if len(colour) != 7 or not colour.startswith("#"):
        raise ValueError(repr(colour))
    return int(colour[1:3], 16), int(colour[3:5], 16), int(colour[5:7], 16)


def _linear(channel: int) -> float:
    value = channel / 255
    return value / 12.92 if value <= 0.04045 else float(((value + 0.055) / 1.055) ** 2.4)


def _lower(table: Mapping[str, Any]) -> dict[str, str]:
    return {word.lower(): colour for word, colour in table.items()}
