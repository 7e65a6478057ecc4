"""Pictures of a plan: each step, the finished model, each piece, the tray.

What lives here: which pieces a picture shows and which stand out. What must not: files; how a solid, a bead or a bowl is drawn.

    drawing = Drawing(plan, look, {"hot": "An adult does this: it is hot.", ...})
    to_svg(drawing.step(3))
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

from assistant.core.plans.building import Form, Lies, Place, lay
from assistant.core.plans.look import Look
from assistant.core.plans.model import Activity, Piece, Plan, Step, cells
from assistant.core.plans.plane import Spot
from assistant.outputs.pictures.beads import Bead, bead_shapes, string
from assistant.outputs.pictures.blocks import TAG_SIZE, Solid, alone, build, extent, from_the_back
from assistant.outputs.pictures.icons import icon
from assistant.outputs.pictures.kitchen import Portion, kitchen_icon, portions
from assistant.outputs.pictures.shapes import Picture, Shape, Text, moved, wrapped

SIZE: Spot = (800, 600)
PIECE_SIZE: Spot = (200, 150)
BEAD_MM = (20.0, 20.0, 20.0)  # a bead that nobody measured
BLOCK_MM = (40.0, 40.0, 40.0)  # a piece that nobody measured
TRAY_COLUMNS = 4
NAME_SIZE = 20.0


@dataclass(frozen=True)
class Drawing:
    """The pictures of one plan. ``care`` is the sentence on a step that an adult does, by kind of care."""

    plan: Plan
    look: Look
    care: Mapping[str, str]

    def step(self, number: int) -> Picture:
        """A step, counted from 1: its new pieces stand out, what was built before is paler."""
        step = self.plan.steps[number - 1]
        said = "; ".join(part for part in (", ".join(step.measured), step.where) if part)
        title = f"{self.plan.title}, {number}/{len(self.plan.steps)}: {said}"
        return Picture(*SIZE, title, tuple(self._shapes(number, step)))

    def model(self) -> Picture:
        """The finished model, every piece in its full colour, no colour named."""
        if self.plan.grid_mm is not None:
            shapes = build(self._solids, None, SIZE, self.look)
        elif self.plan.activity == Activity.BEADS:
            beads = self._beads(new=range(1, len(self.plan.steps) + 1), named=False)
            shapes = tuple(string(beads, beads, SIZE, self.look))
        else:
            shapes = self.tray().shapes
        return Picture(*SIZE, self.plan.title, shapes)

    def piece(self, key: str) -> Picture:
        """One piece, drawn to the same scale as the others of the plan."""
        piece = self.plan.pieces[key]
        return Picture(*PIECE_SIZE, piece.name, tuple(self._piece(piece)))

    def tray(self) -> Picture:
        """Every kind of piece with its name and how many there are."""
        keys = list(self.plan.tray())
        columns = min(TRAY_COLUMNS, len(keys))
        wide, high = PIECE_SIZE[0], PIECE_SIZE[1] + NAME_SIZE * 4
        rows = -(-len(keys) // columns)
        shapes = [
            shape
            for index, key in enumerate(keys)
            for shape in moved(self._tray_cell(key), index % columns * wide, index // columns * high)
        ]
        return Picture(columns * wide, rows * high, self.plan.title, tuple(shapes))

    def count(self, key: str) -> str:
        """How many or how much of a piece lies on the tray: ``"2 ×"``, ``"3 spoons"``."""
        piece, amount = self.plan.pieces[key], self.plan.amounts().get(key)
        return f"{self.plan.tray()[key]} ×" if amount is None else piece.measured(amount).split(" of ")[0]

    # --- which pieces ------------------------------------------------------------------------------------------------------

    def _shapes(self, number: int, step: Step) -> Iterator[Shape]:
        if self.plan.grid_mm is not None:
            yield from build(self._solids, number, SIZE, self.look)
        elif self.plan.activity == Activity.BEADS:
            there_ = self._beads(new=(number,), named=True, until=number)
            yield from string(there_, self._beads(new=()), SIZE, self.look)
        elif self.plan.activity == Activity.COOKING:
            put = [
                self._portion(piece, amount)
                for piece, amount in zip(step.put, step.amounts or (None,) * len(step.put), strict=True)
            ]
            into = [self._portion(piece, None) for piece in step.use]
            warning = self.care[step.care] if step.care else ""
            yield from portions(put, into, step.care, warning, SIZE, self.look)
        else:
            yield from self._side_by_side(step.put)

    @cached_property
    def _solids(self) -> tuple[Solid, ...]:
        put = (piece for step in self.plan.steps for piece in step.put)
        pairs = zip(self.plan.laid(), put, strict=True)
        return from_the_back([Solid(laid, self._colour(piece), _word(piece)) for laid, piece in pairs])

    def _beads(self, new: Sequence[int], *, named: bool = True, until: int | None = None) -> list[Bead]:
        steps = self.plan.steps[:until]
        return [self._bead(piece, step.number in new, named) for step in steps for piece in step.put]

    def _bead(self, piece: Piece, new: bool, named: bool) -> Bead:
        across, down, _ = piece.mm or BEAD_MM
        return Bead(piece.form, across, down, self._colour(piece), _word(piece) if named else "", new)

    def _portion(self, piece: Piece, amount: float | None) -> Portion:
        return Portion(piece, amount, piece.measured(amount), self._colour(piece))

    # --- single pieces -----------------------------------------------------------------------------------------------------

    def _piece(self, piece: Piece) -> Iterator[Shape]:
        middle = PIECE_SIZE[0] / 2, PIECE_SIZE[1] / 2
        if self.plan.activity == Activity.COOKING:
            name, _ = kitchen_icon(piece, 1)
            yield from moved(icon(name, self.look, self._colour(piece)), middle[0] - 60, middle[1] - 60, 1.2)
        elif self.plan.activity == Activity.BEADS:
            widest = max(max((one.mm or BEAD_MM)[:2]) for one in self.plan.pieces.values())
            yield from bead_shapes(self._bead(piece, True, False), middle, PIECE_SIZE[1] * 0.7 / widest, self.look, pale=False)
        else:
            yield from alone(self._loose(piece), PIECE_SIZE, self._piece_scale(), self.look)

    def _loose(self, piece: Piece) -> Solid:
        """A piece as it lies on the tray: a triangle stands, to show its shape."""
        sized = Piece(piece.key, piece.attributes, piece.mm or BLOCK_MM, piece.form)
        lies = Lies.EDGE if piece.form is Form.TRIANGLE else Lies.FLAT
        laid = lay(0, piece.name, piece.form, cells(sized, 1), Place((0, 0, 0), lies))
        return Solid(laid, self._colour(piece), _word(piece))

    def _piece_scale(self) -> float:
        """Units a millimetre, so that the largest piece fits its box."""
        extents = [extent(self._loose(piece)) for piece in self.plan.pieces.values()]
        return min(min(PIECE_SIZE[0] * 0.9 / across, PIECE_SIZE[1] * 0.9 / down) for across, down in extents)

    def _tray_cell(self, key: str) -> Iterator[Shape]:
        piece = self.plan.pieces[key]
        yield from self._piece(piece)
        middle = PIECE_SIZE[0] / 2
        for line, text in enumerate((self.count(key), *wrapped(piece.name, NAME_SIZE, PIECE_SIZE[0]))):
            yield Text((middle, PIECE_SIZE[1] + NAME_SIZE * (1 + line * 1.2)), text, NAME_SIZE, self.look.dark, bold=line == 0)

    def _side_by_side(self, put: Sequence[Piece]) -> Iterator[Shape]:
        """The new pieces of a step whose places only a photo or words tell."""
        scale = min(2.5, SIZE[0] / (PIECE_SIZE[0] * max(1, len(put))))
        for index, piece in enumerate(put):
            left = (SIZE[0] - PIECE_SIZE[0] * scale * len(put)) / 2 + index * PIECE_SIZE[0] * scale
            top = (SIZE[1] - PIECE_SIZE[1] * scale) / 2
            yield from moved(self._piece(piece), left, top, scale)
            if _word(piece):
                at = left + PIECE_SIZE[0] * scale / 2, top + PIECE_SIZE[1] * scale + NAME_SIZE
                yield Text(at, _word(piece), TAG_SIZE, self.look.dark, bold=True)

    def _colour(self, piece: Piece) -> str:
        return self.look.piece(_word(piece), self.plan.colours)


def _word(piece: Piece) -> str:
    """The name of its colour, empty where it has none."""
    return piece.attributes.get("colour", piece.attributes.get("color", ""))
