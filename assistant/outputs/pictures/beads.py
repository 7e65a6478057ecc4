"""Beads on their string.

What lives here: the string in rows, and beads of our own shapes, new ones standing out. What must not: the pattern's rules.

    knot ●──◯──□──◯──□──╮      rows go to the right, then back, so that the order can be followed with a finger
         ╭──◯──□──◯─────╯
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from assistant.core.plans.building import Form
from assistant.core.plans.look import Look, mix
from assistant.core.plans.plane import Spot
from assistant.outputs.pictures.shapes import Ellipse, Polygon, Shape, Text, arc, rectangle, text_width

PALE = 0.72
NEW_LINE, OLD_LINE = 3.5, 1.5
TAG_SIZE = 34.0
MARGIN = 50.0
GAP = 0.15  # between beads, of a bead's width


@dataclass(frozen=True, slots=True)
class Bead:
    """A bead on the string: its form, how wide and high (mm), its colour and the colour's name."""

    form: Form
    across: float
    down: float
    colour: str
    word: str
    new: bool = False


def string(beads: Sequence[Bead], whole: Sequence[Bead], size: Spot, look: Look) -> Iterator[Shape]:
    """The string so far.

    Args:
        beads: the beads that are on it.
        whole: all beads of the model, so that every step is drawn alike.
        size: width and height of the picture, in its units.
    """
    rows, scale = _rows(whole, size)
    spots = list(_spots(whole, rows, scale, size))
    crowded = max(text_width(bead.word, TAG_SIZE) for bead in whole) > _pitch(whole) * scale
    yield from _thread(rows, size, look)
    for index, (bead, spot) in enumerate(zip(beads, spots, strict=False)):
        yield from bead_shapes(bead, spot, scale, look, pale=not bead.new)
        if bead.new and bead.word:
            below = crowded and index % 2
            away = bead.down * scale / 2 + (12 + TAG_SIZE * 0.7 if below else 12)
            yield Text((spot[0], spot[1] + (away if below else -away)), bead.word, TAG_SIZE, look.dark, bold=True)


def bead_shapes(bead: Bead, middle: Spot, scale: float, look: Look, *, pale: bool) -> Iterator[Shape]:
    """One bead around its middle; ``scale`` is units a millimetre."""
    fill = mix(bead.colour, look.paper, PALE) if pale else bead.colour
    line, width = (look.faint, OLD_LINE) if pale else (look.outline(bead.colour), NEW_LINE)
    across, down = bead.across * scale, bead.down * scale
    left, top = middle[0] - across / 2, middle[1] - down / 2
    match bead.form:
        case Form.BALL:
            yield Ellipse(middle, across / 2, down / 2, fill, line, width)
        case Form.TRIANGLE:
            yield Polygon(((left, top + down), (left + across, top + down), (middle[0], top)), fill, line, width)
        case Form.ROUND:  # a tube: both ends are seen a little from the side
            body = (
                *arc((left, middle[1]), across * 0.12, down / 2, 90, 270),
                *arc((left + across, middle[1]), across * 0.12, down / 2, -90, 90),
            )
            yield Polygon(body, fill, line, width)
        case Form.BOX | Form.ARCH:
            yield Polygon(rectangle(left, top, across, down, min(across, down) * 0.12), fill, line, width)


def _pitch(whole: Sequence[Bead]) -> float:
    """From one bead's middle to the next, in mm: that of the widest bead, so that the beads stand in ranks."""
    return max(bead.across for bead in whole) * (1 + GAP)


def _rows(whole: Sequence[Bead], size: Spot) -> tuple[list[int], float]:
    """How many beads go in each row, and the scale: as large as fits, in as few rows as look well."""
    width, widest = size[0] - 2 * MARGIN, _pitch(whole)
    tallest = max(bead.down for bead in whole)
    for count in range(1, len(whole) + 1):
        per_row = -(-len(whole) // count)
        across = width / (per_row * widest)
        down = (size[1] - 2 * MARGIN) / count / (tallest * 1.6)
        if across * tallest >= 60 or across >= down or count == len(whole):
            return [min(per_row, len(whole) - start) for start in range(0, len(whole), per_row)], min(across, down, 5)
    raise AssertionError("a string has at least one bead")


def _spots(whole: Sequence[Bead], rows: Sequence[int], scale: float, size: Spot) -> Iterator[Spot]:
    """The middle of each bead, along the rows, to and fro."""
    step = _pitch(whole) * scale
    for row, count in enumerate(rows):
        for place in range(count):
            along = MARGIN + step * (place + 0.5)
            yield (along if row % 2 == 0 else size[0] - along), _level(row, len(rows), size)


def _level(row: int, rows: int, size: Spot) -> float:
    return size[1] * (row + 0.5) / rows


def _thread(rows: Sequence[int], size: Spot, look: Look) -> Iterator[Shape]:
    levels = [_level(row, len(rows), size) for row in range(len(rows))]
    path: list[Spot] = [(MARGIN * 0.5, levels[0])]
    for row, (level, below) in enumerate(zip(levels, levels[1:], strict=False)):
        turn, middle = (below - level) / 2, (level + below) / 2
        if row % 2 == 0:
            path += arc((size[0] - MARGIN * 0.7, middle), MARGIN * 0.6, turn, -90, 90)
        else:
            path += arc((MARGIN * 0.7, middle), MARGIN * 0.6, turn, 270, 90)
    path.append((size[0] - MARGIN * 0.3 if len(rows) % 2 else MARGIN * 0.3, levels[-1]))
    yield Polygon(tuple(path), "", look.dark, 3, closed=False)
    yield Ellipse((MARGIN * 0.5, levels[0]), 7, 7, look.dark)
