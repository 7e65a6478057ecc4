"""Blocks seen from the front right and above: plain solids of our own, in isometric projection.

What lives here: the solids, what is in front of what, and a build with its new pieces standing out. What must not: text other
than the colour's name; brands, studs and holes.

              z                      x goes to the right and down, y to the right and up, z up.
              │   ╱ y                Three sides of a block can be seen: its top, its front and its
              │ ╱                    right end; the further a side turns from the light, the fuller
               ╲                     its colour.
                 ╲ x
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import combinations, pairwise
from math import cos, hypot, pi, sin

from assistant.core.plans.building import Box, Form, Laid, Lies
from assistant.core.plans.look import Look, mix
from assistant.core.plans.plane import Spot, apart, hull, inside
from assistant.outputs.pictures.shapes import Ellipse, Polygon, Shape, Text, arc, rectangle, text_width

Vertex = tuple[float, float, float]

ACROSS = cos(pi / 6)  # isometric: both ground axes 30 degrees from level
DOWN = sin(pi / 6)

LIGHT = (0.0, 0.18, 0.40)  # how much lighter than its colour: the right end, the front, the top
PALE = 0.72  # how far an older piece is on the way to the paper
NEW_LINE, OLD_LINE = 3.5, 1.5
DASH = 7.0
TAG_SIZE = 34.0


@dataclass(frozen=True, slots=True)
class Face:
    """One side of a solid, anticlockwise seen from outside. The sides of a curve have no edges drawn between them."""

    vertices: tuple[Vertex, ...]
    curved: bool = False

    @property
    def normal(self) -> Vertex:
        """The direction it looks in, of length 1 (Newell's method)."""
        x = y = z = 0.0
        for (ax, ay, az), (bx, by, bz) in pairwise((*self.vertices, self.vertices[0])):
            x += (ay - by) * (az + bz)
            y += (az - bz) * (ax + bx)
            z += (ax - bx) * (ay + by)
        length = (x * x + y * y + z * z) ** 0.5
        return x / length, y / length, z / length

    @property
    def seen(self) -> bool:
        """Whether it looks towards us."""
        x, y, z = self.normal
        return x - y + z > 1e-9


@dataclass(frozen=True)
class Solid:
    """A piece in its place, in cells. ``colour`` is how it is drawn, ``word`` the colour's name, empty for none."""

    laid: Laid
    colour: str
    word: str

    @cached_property
    def faces(self) -> tuple[Face, ...]:
        """Its sides that can be seen, inner ones first."""
        return tuple(sorted((face for face in _faces(self.laid) if face.seen), key=lambda face: len(face.vertices) > 4))

    @cached_property
    def silhouette(self) -> tuple[Spot, ...]:
        """Its outline on the page, in cells."""
        return hull(projected(vertex) for face in _faces(self.laid) for vertex in face.vertices)


def projected(vertex: Vertex) -> Spot:
    """Where a point in the room comes to lie on the page."""
    x, y, z = vertex
    return (x + y) * ACROSS, (x - y) * DOWN - z


def build(solids: Sequence[Solid], step: int | None, size: Spot, look: Look) -> tuple[Shape, ...]:
    """A build on its board, framed for the whole model, so that every step is drawn alike.

    Args:
        solids: all pieces of the model, from the back (:func:`from_the_back`).
        step: the step whose pieces stand out and have their colour written; later ones are left out. None for the finished
            model with nothing marked.
        size: width and height of the picture, in its units.
    """
    frame = [solid.laid.box for solid in solids]
    view = _View.of(frame, size)
    ordered = [solid for solid in solids if step is None or solid.laid.step <= step]
    new = [solid for solid in ordered if solid.laid.step == step]
    shapes: list[Shape] = list(_board(frame, view, look))
    for solid in ordered:
        shapes += _solid(solid, view, look, pale=step is not None and solid not in new)
    for solid in new:
        shapes += _ghost(solid, ordered, view, look)
    return (*shapes, *_tags([solid for solid in new if solid.word], ordered, view, size, look))


def alone(solid: Solid, size: Spot, scale: float, look: Look) -> tuple[Shape, ...]:
    """One piece in the middle of a box; ``scale`` is units a cell, so that pieces side by side keep their sizes."""
    xs, ys = zip(*solid.silhouette, strict=True)
    middle = (min(xs) + max(xs)) / 2, (min(ys) + max(ys)) / 2
    view = _View(scale, size[0] / 2 - middle[0] * scale, size[1] / 2 - middle[1] * scale)
    return tuple(_solid(solid, view, look, pale=False))


def extent(solid: Solid) -> Spot:
    """Width and height of a piece on the page, in cells."""
    xs, ys = zip(*solid.silhouette, strict=True)
    return max(xs) - min(xs), max(ys) - min(ys)


@dataclass(frozen=True, slots=True)
class _View:
    """From cells on the page to picture units."""

    scale: float
    left: float
    top: float

    @classmethod
    def of(cls, frame: Sequence[Box], size: Spot) -> "_View":
        spots = [projected(corner) for box in (*frame, _ground(frame)) for corner in _corners(box)]
        xs, ys = zip(*spots, strict=True)
        room = size[0] - 2 * TAG_SIZE * 3.5, size[1] - 2 * TAG_SIZE  # tags go left and right
        scale = min(room[0] / (max(xs) - min(xs)), room[1] / (max(ys) - min(ys)))
        left, top = (size[0] - (min(xs) + max(xs)) * scale) / 2, (size[1] - (min(ys) + max(ys)) * scale) / 2
        return cls(scale, left, top)

    def spot(self, at: Spot) -> Spot:
        return self.left + at[0] * self.scale, self.top + at[1] * self.scale

    def outline(self, vertices: Sequence[Vertex]) -> tuple[Spot, ...]:
        return tuple(self.spot(projected(vertex)) for vertex in vertices)


# --- solids -------------------------------------------------------------------------------------------------------------


def _faces(laid: Laid) -> Iterator[Face]:
    """All sides of a piece where it lies."""
    size = _own_size(laid)
    for face in _own_faces(laid.form, size):
        yield Face(tuple(_stood(vertex, size, laid) for vertex in face.vertices), face.curved)


def _own_size(laid: Laid) -> Vertex:
    """Length, width and height as the piece lies on its flat side."""
    x, y, z = (high - low for low, high in zip(laid.box.low, laid.box.high, strict=True))
    if laid.place.turn % 180:
        x, y = y, x
    return {Lies.FLAT: (x, y, z), Lies.EDGE: (x, z, y), Lies.END: (z, y, x)}[laid.place.lies]


def _stood(vertex: Vertex, size: Vertex, laid: Laid) -> Vertex:
    """A corner of the piece where it lies: set on its side, turned clockwise, brought to its place."""
    (along, across, up), (_, _, height) = vertex, size
    x, y, z = {
        Lies.FLAT: (along, across, up),
        Lies.EDGE: (along, height - up, across),
        Lies.END: (height - up, across, along),
    }[laid.place.lies]
    (left, front, bottom), (right, back, _) = laid.box.low, laid.box.high
    wide, deep = right - left, back - front
    x, y = {0: (x, y), 90: (y, deep - x), 180: (wide - x, deep - y), 270: (wide - y, x)}[laid.place.turn]
    return left + x, front + y, bottom + z


def _own_faces(form: Form, size: Vertex) -> Iterator[Face]:
    length, width, height = size
    match form:
        case Form.BOX:
            yield from _prism(((0, 0), (length, 0), (length, width), (0, width)), height)
        case Form.TRIANGLE:
            yield from _prism(((0, 0), (length, 0), (length / 2, width)), height)
        case Form.ROUND:
            yield from _prism(arc((length / 2, width / 2), length / 2, width / 2, 0, 345, 23), height, curved=range(24))
        case Form.BALL:
            yield from _prism(arc((length / 2, width / 2), length / 2, width / 2, 0, 345, 23), height, curved=range(24))
        case Form.ARCH:
            opening = arc((length / 2, 0), length * 0.3, height * 0.65, 180, 0, 12)
            profile = ((0, 0), *opening, (length, 0), (length, height), (0, height))
            for face in _prism(profile, width, curved=range(1, 13)):
                yield Face(tuple((x, width - z, y) for x, y, z in face.vertices), face.curved)


def _prism(base: Sequence[Spot], height: float, curved: Sequence[int] = ()) -> Iterator[Face]:
    """The solid over an anticlockwise outline; ``curved`` numbers the sides between which no edge is drawn."""
    for index, ((ax, ay), (bx, by)) in enumerate(pairwise((*base, base[0]))):
        yield Face(((ax, ay, 0), (bx, by, 0), (bx, by, height), (ax, ay, height)), index in curved)
    yield Face(tuple((x, y, height) for x, y in base))
    yield Face(tuple((x, y, 0.0) for x, y in reversed(base)))


# --- what is in front of what -------------------------------------------------------------------------------------------


def from_the_back(solids: Sequence[Solid]) -> tuple[Solid, ...]:
    """The solids so that each comes after all that it may cover. It holds for any part of them as well."""
    behind: dict[int, list[int]] = {index: [] for index in range(len(solids))}
    for one, other in combinations(range(len(solids)), 2):
        if apart(solids[one].silhouette, solids[other].silhouette):
            continue
        if _is_behind(solids[one].laid.box, solids[other].laid.box):
            behind[other].append(one)
        else:
            behind[one].append(other)
    drawn: dict[int, None] = {}
    for index in behind:
        _draw(index, behind, drawn)
    return tuple(solids[index] for index in drawn)


def _draw(index: int, behind: dict[int, list[int]], drawn: dict[int, None], above: frozenset[int] = frozenset()) -> None:
    """Put a solid down after all that is behind it. ``above`` are the ones that wait for it: a ring of them is cut here."""
    if index not in drawn and index not in above:
        for other in behind[index]:
            _draw(other, behind, drawn, above | {index})
        drawn[index] = None


def _is_behind(one: Box, other: Box) -> bool:
    """Whether a plane between two boxes that do not overlap has ``one`` on its far side."""
    return one.high[0] <= other.low[0] or one.low[1] >= other.high[1] or one.high[2] <= other.low[2]


def _hidden_by(solid: Solid, ordered: Sequence[Solid]) -> list[Solid]:
    """What is drawn after a solid and covers part of it."""
    later = ordered[ordered.index(solid) + 1 :]
    return [other for other in later if not apart(solid.silhouette, other.silhouette, by=0.05)]


# --- shapes -------------------------------------------------------------------------------------------------------------


def _solid(solid: Solid, view: _View, look: Look, *, pale: bool) -> Iterator[Shape]:
    colour = mix(solid.colour, look.paper, PALE) if pale else solid.colour
    line, width = (look.faint, OLD_LINE) if pale else (look.outline(solid.colour), NEW_LINE)
    if solid.laid.form is Form.BALL:
        yield _ball(solid, view, colour, line, width)
        return
    for face in solid.faces:
        fill = _shaded(colour, face.normal, look)
        yield Polygon(view.outline(face.vertices), fill, fill if face.curved else line, 0.5 if face.curved else width)
    if solid.laid.form is Form.ROUND:  # the outline that the curved side leaves open
        yield Polygon(tuple(map(view.spot, solid.silhouette)), "", line, width)


def _ball(solid: Solid, view: _View, colour: str, line: str, width: float) -> Ellipse:
    radius = (solid.laid.box.high[0] - solid.laid.box.low[0]) / 2 * view.scale * 1.5**0.5  # isometric axes are drawn long
    return Ellipse(view.spot(projected(_middle(solid.laid.box))), radius, radius, colour, line, width)


def _shaded(colour: str, normal: Vertex, look: Look) -> str:
    """Lighter the more a side looks up, fullest at the right end."""
    lighter = sum(share * part * part for share, part in zip(LIGHT, normal, strict=True))
    return mix(colour, look.paper, lighter)


def _ghost(solid: Solid, ordered: Sequence[Solid], view: _View, look: Look) -> Iterator[Shape]:
    """The edges of a new piece where something stands in front of them, as dashes."""
    covers = [other.silhouette for other in _hidden_by(solid, ordered)]
    edges = {
        frozenset(edge) for face in solid.faces if not face.curved for edge in pairwise((*face.vertices, face.vertices[0]))
    }
    for start, end in sorted(sorted(edge) for edge in edges if covers and len(edge) == 2):
        for dash in _dashes(projected(start), projected(end), DASH / view.scale):
            if any(all(inside(spot, outline) for spot in dash) for outline in covers):
                yield Polygon(tuple(map(view.spot, dash)), "", look.dark, NEW_LINE - 1, closed=False)


def _dashes(start: Spot, end: Spot, length: float) -> Iterator[tuple[Spot, Spot]]:
    """Every other stretch of a line."""
    (ax, ay), (bx, by) = start, end
    count = max(1, round(hypot(bx - ax, by - ay) / length / 2)) * 2 + 1
    spots = [(ax + (bx - ax) * step / count, ay + (by - ay) * step / count) for step in range(count + 1)]
    yield from list(pairwise(spots))[::2]


def _ground(frame: Sequence[Box]) -> Box:
    """The board: the model's footprint and a margin."""
    wide = max(box.high[0] for box in frame) - min(box.low[0] for box in frame)
    deep = max(box.high[1] for box in frame) - min(box.low[1] for box in frame)
    margin = max(1, round(max(wide, deep) / 10))
    left, front = min(box.low[0] for box in frame) - margin, min(box.low[1] for box in frame) - margin
    return Box((left, front, 0), (left + wide + 2 * margin, front + deep + 2 * margin, 0))


def _board(frame: Sequence[Box], view: _View, look: Look) -> Iterator[Shape]:
    (left, front, _), (right, back, _) = _ground(frame).low, _ground(frame).high
    corners = ((left, front, 0), (right, front, 0), (right, back, 0), (left, back, 0))
    yield Polygon(view.outline(corners), look.shade, look.faint, OLD_LINE)


def _tags(new: Sequence[Solid], ordered: Sequence[Solid], view: _View, size: Spot, look: Look) -> Iterator[Shape]:
    """The colour's name of each new piece, at the nearer side, with a line to the piece."""
    spots = [view.spot(_visible_spot(solid, ordered)) for solid in new]
    for right in (False, True):
        side = sorted(
            (spot[1], spot[0], solid.word) for spot, solid in zip(spots, new, strict=True) if (spot[0] > size[0] / 2) is right
        )
        below = TAG_SIZE * 1.5
        for y, x, word in side:
            below = max(below, y)
            width = text_width(word, TAG_SIZE) + TAG_SIZE
            left = size[0] - width - 4 if right else 4.0
            yield Polygon(((left + width / 2, below), (x, y)), "", look.paper, 5, closed=False)
            yield Polygon(((left + width / 2, below), (x, y)), "", look.dark, 2, closed=False)
            yield Ellipse((x, y), 5, 5, look.dark, look.paper, 1.5)
            yield Polygon(rectangle(left, below - TAG_SIZE, width, TAG_SIZE * 1.6, 8), look.paper, look.dark, 2)
            yield Text((left + width / 2, below + TAG_SIZE * 0.12), word, TAG_SIZE, look.dark, bold=True)
            below += TAG_SIZE * 2


def _visible_spot(solid: Solid, ordered: Sequence[Solid]) -> Spot:
    """A place on the piece, on the page, that nothing covers; its middle when everything is covered."""
    covers = [other.silhouette for other in _hidden_by(solid, ordered)]
    full = [face for face in reversed(solid.faces) if solid.laid.form is not Form.ARCH or len(face.vertices) == 4]
    for face in full:  # the middle of an arch's front is its opening
        for spot in _spots_on([projected(vertex) for vertex in face.vertices]):
            if not any(inside(spot, outline) for outline in covers):
                return spot
    return projected(_middle(solid.laid.box))


def _spots_on(outline: Sequence[Spot]) -> Iterator[Spot]:
    """The middle of an outline, then places between it and the corners."""
    middle = sum(x for x, _ in outline) / len(outline), sum(y for _, y in outline) / len(outline)
    yield middle
    for x, y in outline:
        yield (middle[0] + x) / 2, (middle[1] + y) / 2


def _middle(box: Box) -> Vertex:
    x, y, z = ((low + high) / 2 for low, high in zip(box.low, box.high, strict=True))
    return x, y, z


def _corners(box: Box) -> Iterator[Vertex]:
    for x in (box.low[0], box.high[0]):
        for y in (box.low[1], box.high[1]):
            for z in (box.low[2], box.high[2]):
                yield x, y, z
