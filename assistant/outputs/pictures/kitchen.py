"""A cooking step: how much of what, and where it goes.

What lives here: measures and food as icons, an arrow, and the mark of a step that an adult does. What must not: the recipe.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import ceil

from assistant.core.plans.look import Look
from assistant.core.plans.model import Care, Piece
from assistant.core.plans.plane import Spot
from assistant.outputs.pictures.icons import ICONS, icon
from assistant.outputs.pictures.shapes import Polygon, Shape, Text, moved, rectangle, wrapped

LABEL_SIZE = 34.0
ICON = 100.0
PART = 0.65  # a half spoon is drawn smaller than a whole one
MOST_SHOWN = 6  # icons of a measure side by side; the amount is written as well


@dataclass(frozen=True, slots=True)
class Portion:
    """Something on the table: the piece, how much of it, its label and its colour."""

    piece: Piece
    amount: float | None
    label: str
    colour: str


def kitchen_icon(piece: Piece, amount: float | None) -> tuple[str, int]:
    """The icon for a piece and how many of it: a measure, a tool by its name, a jar, or a thing."""
    words = [word for word in piece.name.lower().split() if word in ICONS]
    if amount is not None and piece.unit is not None and piece.unit[0].split()[-1] in ICONS:
        return piece.unit[0].split()[-1], min(MOST_SHOWN, ceil(amount))
    if words:
        return words[-1], 1
    return ("jar", 1) if piece.unit is not None else ("thing", 1)


def portions(
    put: Sequence[Portion], into: Sequence[Portion], care: Care | None, warning: str, size: Spot, look: Look
) -> Iterator[Shape]:
    """A step: what is new on the left, an arrow, what it goes into on the right.

    Args:
        warning: the sentence of a step that an adult does, shown when ``care`` is named.
    """
    top = 120.0 if care else 0.0
    if care:
        yield from _adult(care, warning, size, look)
    middle = top + (size[1] - top) / 2
    groups = [*put, *into] if put else list(into)
    share = size[0] / (len(groups) + (0.5 if put and into else 0))
    left = 0.0
    for index, portion in enumerate(groups):
        if put and index == len(put):
            yield from moved(icon("arrow", look, look.shade), left + share * 0.25 - 35, middle - 60, 0.7)
            left += share * 0.5
        yield from _portion(portion, (left + share / 2, middle), share, look)
        left += share


def _portion(portion: Portion, middle: Spot, width: float, look: Look) -> Iterator[Shape]:
    name, count = kitchen_icon(portion.piece, portion.amount)
    scale = min(1.8, width * 0.9 / (ICON * (1 + (count - 1) * 0.5)))
    left = middle[0] - ICON * scale * (1 + (count - 1) * 0.5) / 2
    foot = middle[1] + 30
    for index in range(count):
        part = PART if portion.amount is not None and index + 1 > portion.amount else 1
        inset = ICON * scale * (0.5 * index + (1 - part) / 2)
        yield from moved(icon(name, look, portion.colour), left + inset, foot - ICON * scale * part, scale * part)
    for line, text in enumerate(wrapped(portion.label, LABEL_SIZE, width * 0.95)):
        yield Text((middle[0], middle[1] + 70 + line * LABEL_SIZE * 1.2), text, LABEL_SIZE, look.dark, bold=True)


def _adult(care: Care, warning: str, size: Spot, look: Look) -> Iterator[Shape]:
    yield Polygon(rectangle(10, 10, size[0] - 20, 100, 12), look.shade, look.dark, 3)
    yield from moved(icon("adult", look, look.pieces["yellow"]), 24, 16, 0.88)
    yield from moved(icon(care.value, look, look.pieces["orange"]), size[0] - 112, 16, 0.88)
    yield Text((size[0] / 2, 70), warning, LABEL_SIZE, look.dark, bold=True)
