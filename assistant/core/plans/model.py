"""A goal model as frozen values: pieces, steps, and what follows from them.

What lives here: the plan once it is read. What must not: TOML, files, drawing, and whether the plan is any good.
"""

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum

from assistant.core.plans.building import Form, Laid, Place, lay


class Activity(StrEnum):
    """The activities that have rules and pictures of their own; a family may write any other."""

    BLOCKS = "blocks"
    CHUNKY = "chunky blocks"
    BEADS = "beads"
    COOKING = "cooking"


class Fit(StrEnum):
    """How blocks hold."""

    STACK = "stack"  # by their weight
    PRESS = "press"  # pressed together


class Care(StrEnum):
    """Why an adult does a step."""

    HOT = "hot"
    SHARP = "sharp"


FORM_OF_SHAPE = {
    **dict.fromkeys(("triangle", "roof", "wedge"), Form.TRIANGLE),
    **dict.fromkeys(("round", "circle", "disc", "cylinder", "log", "tube"), Form.ROUND),
    **dict.fromkeys(("arch", "bridge"), Form.ARCH),
    **dict.fromkeys(("ball", "bead", "sphere"), Form.BALL),
}
"""The form of a piece that does not say it, from its shape's name; any other shape is drawn as a box."""


@dataclass(frozen=True, slots=True)
class Piece:
    """A kind of piece. ``mm`` is length, width, height in millimetres, None where the family did not say."""

    key: str
    attributes: Mapping[str, str]
    mm: tuple[float, float, float] | None = None
    form: Form = Form.BOX
    unit: tuple[str, str] | None = None  # what it is measured in, one and more: ("spoon", "spoons")
    tool: bool = False  # used and not used up

    @property
    def name(self) -> str:
        """As a person would say it: ``"long red block"``."""
        return " ".join(self.attributes.values())

    def measured(self, amount: float | None) -> str:
        """The name with an amount of it: ``"2 spoons of oats"``."""
        if amount is None or self.unit is None:
            return self.name
        return f"{say_number(amount)} {self.unit[amount > 1]} of {self.name}"


@dataclass(frozen=True, slots=True)
class Step:
    """One step: the pieces that are new in it, and where they go. ``number`` counts from 1."""

    number: int
    component: str
    put: tuple[Piece, ...]
    where: str = ""
    hint: str = ""  # words to offer the engineer when help is asked for
    places: tuple[Place, ...] = ()  # one for each of ``put``, or none where there is no grid
    amounts: tuple[float | None, ...] = ()  # one for each of ``put``, or none where nothing is measured
    use: tuple[Piece, ...] = ()  # what an earlier step put and this one needs again
    care: Care | None = None  # an adult does this step
    photo: str = ""  # a file beside the plan

    @property
    def measured(self) -> tuple[str, ...]:
        """What is put, as a person would say it, with amounts."""
        amounts = self.amounts or (None,) * len(self.put)
        return tuple(piece.measured(amount) for piece, amount in zip(self.put, amounts, strict=True))


@dataclass(frozen=True, slots=True)
class Plan:
    """A goal model."""

    title: str
    activity: str
    about: str
    children: tuple[int, ...]
    preference: tuple[str, ...]
    pieces: Mapping[str, Piece]
    steps: tuple[Step, ...]
    words: Mapping[str, Mapping[str, tuple[str, ...]]] = field(default_factory=dict)
    """The plan's own words: attribute, then value, then the words for it, ``{"shape": {"arch": ("arch", "bridge")}}``."""
    fit: Fit = Fit.STACK
    grid_mm: float | None = None  # the edge of one cell of the grid, None where there is no grid
    pattern: tuple[str, ...] = ()  # keys of the beads that repeat along the string
    colours: Mapping[str, str] = field(default_factory=dict)  # how to draw the plan's own colour words, "#rrggbb"

    @property
    def components(self) -> tuple[str, ...]:
        """The components in their order."""
        return tuple(dict.fromkeys(step.component for step in self.steps))

    def tray(self) -> Counter[str]:
        """How many of each kind of piece the whole model needs, by key."""
        return Counter(piece.key for step in self.steps for piece in step.put)

    def amounts(self) -> dict[str, float]:
        """How much of each measured piece the whole model needs, by key."""
        total: dict[str, float] = {}
        for step in self.steps:
            for piece, amount in zip(step.put, step.amounts, strict=False):
                if amount is not None:
                    total[piece.key] = total.get(piece.key, 0) + amount
        return total

    def ends_component(self, step: int) -> bool:
        """Whether this step (from 1) is the last of its component."""
        return step == len(self.steps) or self.steps[step].component != self.steps[step - 1].component

    def laid(self) -> tuple[Laid, ...]:
        """Every piece in its place on the grid, in the order of the steps; empty where there is no grid."""
        grid = self.grid_mm
        if grid is None:
            return ()
        return tuple(
            lay(step.number, piece.name, piece.form, cells(piece, grid), place)
            for step in self.steps
            for piece, place in zip(step.put, step.places, strict=True)
        )


def cells(piece: Piece, grid_mm: float) -> tuple[int, int, int]:
    """Length, width and height of a piece in cells of the grid, each at least one."""
    length, width, height = (max(1, round(side / grid_mm)) for side in piece.mm or (grid_mm,) * 3)
    return length, width, height


def say_number(number: float) -> str:
    """A number as a recipe says it: ``"2"``, ``"½"``, ``"1 ½"``, ``"0.3"``."""
    whole, part = divmod(number, 1)
    fraction = {0.5: "½", 0.25: "¼", 0.75: "¾"}.get(part)
    if fraction is None:
        return f"{number:g}"
    return f"{whole:g} {fraction}" if whole else fraction
