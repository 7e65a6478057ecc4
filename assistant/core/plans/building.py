"""Blocks on a grid: where each lies, and whether the model can be built that way.

What lives here: places, boxes and what can be wrong between them: in the same place, floating, tipping, out of reach, out of
order. What must not: files, colours, drawing, other activities.

The grid counts cells: x to the right, y away from you, z up, from the front left corner of the board::

        z │   ╱ y            at = [2, 0, 1] is two cells to the right, at the front, one layer up;
          │ ╱                it names the corner of the piece that is furthest left, front and down
          └───── x

Every piece is judged by the box around it. Balance is judged piece by piece when it is put: what is laid on it later may hold
it down or tip it over, and neither is foreseen here.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from enum import StrEnum
from itertools import product

from assistant.core.plans.plane import Spot, hull, inside

FAR = 1_000_000  # cells; further than any piece lies


class Form(StrEnum):
    """What a piece looks like, whatever its shape is called."""

    BOX = "box"
    TRIANGLE = "triangle"  # a roof: length is the base, width the height of the triangle, height its thickness
    ROUND = "round"  # a log or a disc: length and width across, height along
    ARCH = "arch"  # a bridge with an opening: length, width through the opening, height
    BALL = "ball"


class Lies(StrEnum):
    """Which side of a piece is up."""

    FLAT = "flat"  # its height is up
    EDGE = "edge"  # its width is up
    END = "end"  # its length is up


TURNS = (0, 90, 180, 270)  # degrees, clockwise as seen from above; a triangle points to the back, right, front, left


@dataclass(frozen=True, slots=True)
class Place:
    """Where a piece goes: its lowest front left cell, which side is up, and how far it is turned."""

    at: tuple[int, int, int]
    lies: Lies = Lies.FLAT
    turn: int = 0


@dataclass(frozen=True, slots=True)
class Box:
    """The cells from ``low`` up to, and without, ``high``."""

    low: tuple[int, int, int]
    high: tuple[int, int, int]

    def overlaps(self, other: "Box") -> bool:
        """Whether they share a cell."""
        return all(a < d and c < b for a, b, c, d in zip(self.low, self.high, other.low, other.high, strict=True))

    def way_in(self, axis: int, sign: int) -> "Box":
        """The room it sweeps when it comes in along an axis, from the far end that ``sign`` names."""
        low, high = list(self.low), list(self.high)
        (high if sign > 0 else low)[axis] = sign * FAR
        return Box((low[0], low[1], low[2]), (high[0], high[1], high[2]))

    def grown(self, below: int, above: int) -> "Box":
        """The same box with so many layers more below and above."""
        return Box((*self.low[:2], self.low[2] - below), (*self.high[:2], self.high[2] + above))


@dataclass(frozen=True, slots=True)
class Laid:
    """A piece in its place: ``box`` holds it, ``step`` puts it, ``name`` is how a person says it."""

    step: int
    name: str
    form: Form
    place: Place
    box: Box

    @property
    def label(self) -> str:
        """How a problem names it."""
        return f"the {self.name} at {list(self.place.at)}"

    @property
    def carries(self) -> bool:
        """Whether something can stand on it: a slope, a ball and a lying log carry nothing."""
        return self.form in (Form.BOX, Form.ARCH) or (self.form is not Form.BALL and self.place.lies is Lies.FLAT)

    @property
    def middle(self) -> Spot:
        """What must be over its support: the middle of the box; of a lying triangle, the point a third up from its base."""
        (x1, y1, _), (x2, y2, _) = self.box.low, self.box.high
        x, y = (x1 + x2) / 2, (y1 + y2) / 2
        if self.form is not Form.TRIANGLE or self.place.lies is Lies.EDGE:
            return x, y
        right, back = pointing(self.place.turn)
        return x - right * (x2 - x1) / 6, y - back * (y2 - y1) / 6

    @property
    def feet(self) -> tuple[Box, ...]:
        """What touches the layer below: all of the underside, of a standing arch its two legs."""
        if self.form is not Form.ARCH or self.place.lies is not Lies.FLAT:
            return (self.box,)
        axis = 0 if self.place.turn % 180 == 0 else 1
        quarter = max(1, (self.box.high[axis] - self.box.low[axis]) // 4)
        return _cut(self.box, axis, high=self.box.low[axis] + quarter), _cut(self.box, axis, low=self.box.high[axis] - quarter)


def lay(step: int, name: str, form: Form, cells: tuple[int, int, int], place: Place) -> Laid:
    """A piece put in its place. ``cells``: its length, width and height on the grid."""
    length, width, height = cells
    upright = {Lies.FLAT: (length, width, height), Lies.EDGE: (length, height, width), Lies.END: (height, width, length)}
    x, y, z = upright[place.lies]
    if place.turn % 180:
        x, y = y, x
    a, b, c = place.at
    return Laid(step, name, form, place, Box(place.at, (a + x, b + y, c + z)))


def pointing(turn: int) -> tuple[int, int]:
    """Which way (right, back) the point of a lying triangle looks."""
    return {0: (0, 1), 90: (1, 0), 180: (0, -1), 270: (-1, 0)}[turn]


def building_problems(pieces: Sequence[Laid], *, pressed: bool) -> Iterator[tuple[int, str]]:
    """Everything that keeps these pieces from being built in this order.

    Args:
        pieces: in the order in which the steps put them. The pieces of one step may go on in any order.
        pressed: the pieces are pressed together and hold, so that they neither tip nor need something below.

    Yields:
        the number of the step and one sentence about one piece.
    """
    for index, piece in enumerate(pieces):
        for sentence in (
            *_under_the_board(piece),
            *_in_the_same_place(piece, pieces[:index]),
            *_held(piece, pieces, pressed),
            *_reached(piece, pieces, pressed),
        ):
            yield piece.step, sentence


def _under_the_board(piece: Laid) -> Iterator[str]:
    if piece.box.low[2] < 0:
        yield f"{piece.label} would lie under the board. The lowest layer is 0."


def _in_the_same_place(piece: Laid, before: Sequence[Laid]) -> Iterator[str]:
    for other in before:
        if piece.box.overlaps(other.box):
            yield f"{piece.label} and {other.label} (step {other.step}) would be in the same place. Move one of them."


def _held(piece: Laid, pieces: Sequence[Laid], pressed: bool) -> Iterator[str]:
    """Whether something holds it when it is put."""
    if piece.box.low[2] <= 0:
        return
    below = [other for other in pieces if _touches_below(piece, other)]
    now = [other for other in below if other.step <= piece.step and other.carries]
    if now:
        if not pressed and not inside(piece.middle, hull(_corners(piece, now))):
            yield f"{piece.label} would tip over: its middle is not over what it stands on. Move it, or prop it up first."
    elif not (pressed and any(_touches_above(piece, other) for other in pieces if other.step <= piece.step)):
        yield _why_not_held(piece, below)


def _why_not_held(piece: Laid, below: Sequence[Laid]) -> str:
    if later := next((other for other in below if other.carries), None):
        return f"{piece.label} stands on {later.label}, which comes only in step {later.step}. Put that step before this one."
    if below:
        return f"{piece.label} would stand on {below[0].label}, which has no flat top. Put it somewhere else."
    return f"{piece.label} floats: nothing is under it. Lower it, or put a piece under it first."


def _reached(piece: Laid, pieces: Sequence[Laid], pressed: bool) -> Iterator[str]:
    """Whether a hand can bring it to its place past what earlier steps built."""
    earlier = [other for other in pieces if other.step < piece.step and not other.box.overlaps(piece.box)]
    blocked = next((other for other in earlier if piece.box.way_in(2, 1).overlaps(other.box)), None)
    if blocked is None:
        return
    from_the_side = not pressed or not any(_touches_below(piece, other) for other in earlier)
    ways = [piece.box.way_in(axis, sign) for axis, sign in product((0, 1), (-1, 1))] if from_the_side else []
    if all(any(way.overlaps(other.box) for other in earlier) for way in ways):
        yield f"{piece.label} cannot be reached: {blocked.label} (step {blocked.step}) is in the way. Put it before that step."


def _touches_below(piece: Laid, other: Laid) -> bool:
    return other.box.high[2] == piece.box.low[2] and any(foot.grown(1, 0).overlaps(other.box) for foot in piece.feet)


def _touches_above(piece: Laid, other: Laid) -> bool:
    return other.box.low[2] == piece.box.high[2] and piece.box.grown(0, 1).overlaps(other.box)


def _corners(piece: Laid, below: Sequence[Laid]) -> list[Spot]:
    """The corners of every patch on which the piece rests."""
    corners: list[Spot] = []
    for foot, other in product(piece.feet, below):
        (ax, ay, _), (bx, by, _), (cx, cy, _), (dx, dy, _) = foot.low, foot.high, other.box.low, other.box.high
        if ax < dx and cx < bx and ay < dy and cy < by:
            corners += product((max(ax, cx), min(bx, dx)), (max(ay, cy), min(by, dy)))
    return corners


def _cut(box: Box, axis: int, *, low: int | None = None, high: int | None = None) -> Box:
    lows, highs = list(box.low), list(box.high)
    lows[axis] = box.low[axis] if low is None else low
    highs[axis] = box.high[axis] if high is None else high
    return Box((lows[0], lows[1], lows[2]), (highs[0], highs[1], highs[2]))
