"""The small-parts cylinder: 31.7 mm across, 25.4 to 57.1 mm deep (16 CFR 1501.4, figure 1)."""

from itertools import product
from math import hypot, sqrt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.core.plans.building import Form
from assistant.core.plans.model import Piece, Plan, Step
from assistant.core.plans.small_parts import Caution, Small, caution, small_part


def piece(mm: tuple[float, float, float] | None, form: Form = Form.BOX, key: str = "p", **more: bool) -> Piece:
    return Piece(key, {"shape": key}, mm, form, **more)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("mm", "form", "expected"),
    [
        ((22, 22, 25), Form.BOX, Small.YES),  # diagonal 31.1 mm, 25 mm long: sqrt(a^2 + b^2) <= 31.7 and h <= 25.4
        ((25, 22, 22), Form.BOX, Small.YES),  # in any orientation
        ((23, 22, 25), Form.BOX, Small.NO),  # diagonal 31.8 mm
        ((20, 20, 40), Form.BOX, Small.MAYBE),  # deeper than 25.4 and not than 57.1: the slanted bottom decides
        ((20, 20, 66), Form.BOX, Small.NO),  # longer than the cylinder from corner to corner (65.3 mm)
        ((40, 40, 40), Form.BOX, Small.NO),
        ((31, 31, 10), Form.ROUND, Small.MAYBE),
        ((25, 25, 10), Form.ROUND, Small.YES),
        ((32, 32, 5), Form.ROUND, Small.NO),  # a disc wider than the cylinder
        ((44, 44, 44), Form.BALL, Small.YES),  # a small ball passes a hole of 1.75 inches, 44.45 mm (16 CFR 1117.2)
        ((45, 45, 45), Form.BALL, Small.NO),
        ((40, 40, 24), Form.TRIANGLE, Small.NO),
        ((24, 20, 10), Form.TRIANGLE, Small.YES),
        ((60, 12, 40), Form.ARCH, Small.NO),
        (None, Form.BOX, Small.UNKNOWN),
    ],
)
def test_what_goes_into_the_cylinder(mm: tuple[float, float, float] | None, form: Form, expected: Small) -> None:
    assert small_part(piece(mm, form)) is expected


@given(
    st.tuples(*[st.floats(1, 60)] * 3),
    st.tuples(*[st.floats(-1, 1)] * 3).filter(lambda way: 0.1 < sum(part * part for part in way)),
)
def test_no_tube_is_narrower_than_the_diagonal_of_the_smallest_side(
    sides: tuple[float, float, float], way: tuple[float, float, float]
) -> None:
    """Derived: seen along any direction, some corner of a box lies at least half that diagonal from the middle."""
    length = sqrt(sum(part * part for part in way))
    unit = [part / length for part in way]
    furthest = 0.0
    for signs in product((-0.5, 0.5), repeat=3):
        corner = [sign * side for sign, side in zip(signs, sides, strict=True)]
        along = sum(a * b for a, b in zip(corner, unit, strict=True))
        furthest = max(furthest, sqrt(max(0.0, sum(part * part for part in corner) - along * along)))

    short, middle, _ = sorted(sides)
    assert 2 * furthest >= hypot(short, middle) - 1e-9


def plan_of(*pieces: Piece) -> Plan:
    return Plan("t", "blocks", "a", (2,), ("shape",), {p.key: p for p in pieces}, (Step(1, "c", pieces),))


def test_the_youngest_in_the_room_decides() -> None:
    small, large = piece((20, 20, 20), key="small"), piece((60, 60, 60), key="large")

    assert caution(plan_of(small, large), 2.9) == (Caution.SMALL_PARTS, (small,))
    assert caution(plan_of(small, large), 3) == (Caution.NONE, ())
    assert caution(plan_of(large), 1) == (Caution.LARGE_ENOUGH, ())


def test_a_size_that_nobody_measured_is_no_all_clear() -> None:
    assert caution(plan_of(piece((60, 60, 60), key="large"), piece(None, key="gift")), 1)[0] is Caution.NOT_MEASURED


def test_tools_stay_with_the_adult() -> None:
    assert caution(plan_of(piece((20, 20, 20), tool=True)), 1) == (Caution.LARGE_ENOUGH, ())
