"""Small parts: which pieces a small child could choke on.

What lives here: the small-parts cylinder of 16 CFR 1501.4, whether a piece goes into it, and the caution that follows from the
youngest person in the room. What must not: the wording, which lives in ``shared/checklists``.

The cylinder is 31.7 mm across, and 25.4 to 57.1 mm deep, as its bottom is cut at an angle. A piece that goes in whole, in any
orientation and without being pressed, is a small part::

      │◄ 31.7 ►│
      │        │  25.4
      │        │┐
      │     ╱  ││ 57.1
      │  ╱     ┘│
      ╱─────────┘

This is a caution for a table at home, never a test of a product.
"""

from enum import StrEnum
from math import hypot

from assistant.core.plans.building import Form
from assistant.core.plans.model import Activity, Piece, Plan

ACROSS_MM = 31.7
SHALLOW_MM = 25.4
DEEP_MM = 57.1
BALL_MM = 44.45  # a ball that passes a hole of 1.75 inches is a small ball (16 CFR 1117.2)
SAFE_FROM_YEARS = 3  # 16 CFR 1501.2: toys for children under 3


class Small(StrEnum):
    """Whether a piece is a small part."""

    YES = "yes"
    MAYBE = "maybe"  # narrow enough, and perhaps too long: taken for small
    NO = "no"
    UNKNOWN = "unknown"  # nobody said how large it is


class Caution(StrEnum):
    """What the people in the room make necessary."""

    NONE = "none"
    LARGE_ENOUGH = "large enough"  # a small child is there, and every piece is too large for the cylinder
    SMALL_PARTS = "small parts"
    FOOD = "food"  # a small child is there, and this is about eating, not about pieces
    NOT_MEASURED = "not measured"  # a small child is there, and a size is missing


def small_part(piece: Piece) -> Small:
    """Whether a piece goes into the cylinder, or is a small ball.

    No box goes into a tube narrower than the diagonal of its smallest side: the mean squared distance of its corners from any
    axis is at least that from the longest one. Nothing goes in that is longer than the cylinder from corner to corner.
    """
    if piece.mm is None:
        return Small.UNKNOWN
    if piece.form is Form.BALL:
        return Small.YES if min(piece.mm) < BALL_MM else Small.NO
    across, length = _narrowest(piece.form, piece.mm)
    if across > ACROSS_MM or length > hypot(ACROSS_MM, DEEP_MM):
        return Small.NO
    return Small.YES if length <= SHALLOW_MM else Small.MAYBE


def caution(plan: Plan, youngest_years: float) -> tuple[Caution, tuple[Piece, ...]]:
    """What to say before this plan comes on the table, and the pieces it is about.

    Args:
        plan: tools are left out: an adult hands them over and takes them back.
        youngest_years: the age of the youngest person in the room, also of one who does not play.
    """
    if youngest_years >= SAFE_FROM_YEARS:
        return Caution.NONE, ()
    if plan.activity == Activity.COOKING:
        return Caution.FOOD, ()
    pieces = [piece for piece in plan.pieces.values() if not piece.tool]
    for kind, sizes in ((Caution.SMALL_PARTS, (Small.YES, Small.MAYBE)), (Caution.NOT_MEASURED, (Small.UNKNOWN,))):
        found = tuple(piece for piece in pieces if small_part(piece) in sizes)
        if found:
            return kind, found
    return Caution.LARGE_ENOUGH, ()


def _narrowest(form: Form, mm: tuple[float, float, float]) -> tuple[float, float]:
    """The narrowest tube that a piece goes through, and its length in it, both in mm."""
    length, width, height = mm
    if form is Form.ROUND:
        return min(length, width), max(mm)
    if form is Form.TRIANGLE:  # between its slanted side and the corner across, it is narrower than the box around it
        slant = hypot(length / 2, width)
        return hypot(min(length, width, length * width / slant), height), max(length, width)
    short, middle, long = sorted(mm)
    return hypot(short, middle), long
