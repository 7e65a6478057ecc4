"""Pictures as plain shapes, and their SVG.

What lives here: polygons, lines, ellipses and text in a box, how to move and scale them, and the way to SVG text. What must
not: what they show; files. The printed sheets draw the same shapes into PDF.

x goes right and y goes down, as on a page. Lengths are in picture units; what a unit is, is decided by whoever shows it.
"""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from html import escape
from math import cos, pi, sin

from assistant.core.plans.plane import Spot

LETTER_WIDTH = 0.56  # of the letter height: the mean of a sans serif, on the wide side, for fitting text without measuring it


@dataclass(frozen=True, slots=True)
class Polygon:
    """A filled or open outline. ``fill`` and ``stroke`` are colours, empty for none."""

    points: tuple[Spot, ...]
    fill: str = ""
    stroke: str = ""
    width: float = 1
    dash: float = 0  # length of a dash, 0 for a whole line
    closed: bool = True


@dataclass(frozen=True, slots=True)
class Ellipse:
    """An ellipse around a middle, with its half widths."""

    middle: Spot
    across: float
    down: float
    fill: str = ""
    stroke: str = ""
    width: float = 1


@dataclass(frozen=True, slots=True)
class Text:
    """One line of text; ``at`` is its foot, at the left, middle or right of it."""

    at: Spot
    text: str
    size: float
    colour: str
    bold: bool = False
    anchor: str = "middle"  # "start", "middle", "end"


Shape = Polygon | Ellipse | Text


@dataclass(frozen=True, slots=True)
class Picture:
    """Shapes in a box, from the back to the front. ``title`` says in words what it shows."""

    width: float
    height: float
    title: str
    shapes: tuple[Shape, ...]


def moved(shapes: Iterable[Shape], right: float, down: float, scale: float = 1) -> tuple[Shape, ...]:
    """The same shapes, first scaled about the corner, then moved."""

    def spot(at: Spot) -> Spot:
        return at[0] * scale + right, at[1] * scale + down

    def one(shape: Shape) -> Shape:
        match shape:
            case Polygon():
                points = tuple(map(spot, shape.points))
                return replace(shape, points=points, width=shape.width * scale, dash=shape.dash * scale)
            case Ellipse():
                across, down_, width = shape.across * scale, shape.down * scale, shape.width * scale
                return replace(shape, middle=spot(shape.middle), across=across, down=down_, width=width)
            case Text():
                return replace(shape, at=spot(shape.at), size=shape.size * scale)

    return tuple(map(one, shapes))


def fitted(picture: Picture, left: float, top: float, width: float, height: float) -> tuple[Shape, ...]:
    """The shapes of a picture, as large as goes into a box, in its middle."""
    scale = min(width / picture.width, height / picture.height)
    return moved(
        picture.shapes,
        left + (width - picture.width * scale) / 2,
        top + (height - picture.height * scale) / 2,
        scale,
    )


def rectangle(left: float, top: float, width: float, height: float, radius: float = 0) -> tuple[Spot, ...]:
    """The outline of a rectangle, its corners rounded by ``radius``."""
    if not radius:
        return (left, top), (left + width, top), (left + width, top + height), (left, top + height)
    right, bottom = left + width - radius, top + height - radius
    corners = ((right, top + radius, -90), (right, bottom, 0), (left + radius, bottom, 90), (left + radius, top + radius, 180))
    return tuple(spot for x, y, start in corners for spot in arc((x, y), radius, radius, start, start + 90, 6))


def arc(middle: Spot, across: float, down: float, start: float, end: float, pieces: int = 24) -> tuple[Spot, ...]:
    """Points along part of an ellipse, in degrees, clockwise from the right."""
    angles = (start + (end - start) * index / pieces for index in range(pieces + 1))
    return tuple((middle[0] + across * cos(angle * pi / 180), middle[1] + down * sin(angle * pi / 180)) for angle in angles)


def text_width(text: str, size: float) -> float:
    """About how wide a line of text is."""
    return len(text) * size * LETTER_WIDTH


def wrapped(text: str, size: float, width: float) -> list[str]:
    """A text broken into lines that are about this wide."""
    lines: list[str] = []
    for word in text.split():
        if lines and text_width(f"{lines[-1]} {word}", size) <= width:
            lines[-1] += f" {word}"
        else:
            lines.append(word)
    return lines


def to_svg(picture: Picture) -> str:
    """The picture as an SVG document that says in words what it shows."""
    body = "\n".join(map(_svg, picture.shapes))
    size = f'viewBox="0 0 {_number(picture.width)} {_number(picture.height)}"'
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" {size} role="img" stroke-linejoin="round" stroke-linecap="round" '
        f'font-family="Atkinson Hyperlegible, Helvetica, Arial, sans-serif">\n'
        f"<title>{escape(picture.title)}</title>\n{body}\n</svg>\n"
    )


def _svg(shape: Shape) -> str:
    match shape:
        case Polygon():
            points = " ".join(f"{_number(x)},{_number(y)}" for x, y in shape.points)
            dash = f' stroke-dasharray="{_number(shape.dash)}"' if shape.dash else ""
            return f'<poly{"gon" if shape.closed else "line"} points="{points}"{_paint(shape)}{dash}/>'
        case Ellipse():
            (x, y), across, down = shape.middle, _number(shape.across), _number(shape.down)
            return f'<ellipse cx="{_number(x)}" cy="{_number(y)}" rx="{across}" ry="{down}"{_paint(shape)}/>'
        case Text():
            weight = ' font-weight="bold"' if shape.bold else ""
            return (
                f'<text x="{_number(shape.at[0])}" y="{_number(shape.at[1])}" font-size="{_number(shape.size)}"'
                f' text-anchor="{shape.anchor}" fill="{shape.colour}"{weight}>{escape(shape.text)}</text>'
            )


def _paint(shape: Polygon | Ellipse) -> str:
    stroke = f' stroke="{shape.stroke}" stroke-width="{_number(shape.width)}"' if shape.stroke else ""
    return f' fill="{shape.fill or "none"}"{stroke}'


def _number(value: float) -> str:
    """Short, and the same on every machine: a tenth of a unit is finer than a line."""
    return f"{round(value, 1) + 0:g}"
