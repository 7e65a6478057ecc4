"""Points in a plane: outlines, and what lies inside them.

What lives here: the little geometry that building and drawing share. What must not: pieces, colours.
"""

from collections.abc import Iterable, Sequence
from itertools import pairwise
from math import hypot

Spot = tuple[float, float]


def hull(points: Iterable[Spot]) -> tuple[Spot, ...]:
    """The smallest convex outline around the points, anticlockwise when y goes up (Andrew's monotone chain, 1979)."""
    ordered = sorted(set(points))
    return (*_half(ordered)[:-1], *_half(ordered[::-1])[:-1])


def inside(spot: Spot, outline: Sequence[Spot]) -> bool:
    """Whether a point lies within an outline made by :func:`hull`, or on it."""
    return all(_side(a, b, spot) >= 0 for a, b in pairwise((*outline, outline[0])))


def apart(one: Sequence[Spot], other: Sequence[Spot], by: float = 0) -> bool:
    """Whether some edge of two convex outlines separates them, or they overlap by less than ``by`` (separating axes)."""
    return any(_separates(a, b, one, other, by) for outline in (one, other) for a, b in pairwise((*outline, outline[0])))


def _separates(a: Spot, b: Spot, one: Sequence[Spot], other: Sequence[Spot], by: float) -> bool:
    across = (b[1] - a[1], a[0] - b[0])
    length = hypot(*across)
    firsts, seconds = ([(x * across[0] + y * across[1]) / length for x, y in outline] for outline in (one, other))
    return max(firsts) - min(seconds) <= by or max(seconds) - min(firsts) <= by


def _half(points: Sequence[Spot]) -> list[Spot]:
    half: list[Spot] = []
    for point in points:
        while len(half) > 1 and _side(half[-2], half[-1], point) <= 0:
            half.pop()
        half.append(point)
    return half


def _side(a: Spot, b: Spot, spot: Spot) -> float:
    """Over 0 when ``spot`` is left of the way from a to b, 0 when on it."""
    return (b[0] - a[0]) * (spot[1] - a[1]) - (b[1] - a[1]) * (spot[0] - a[0])
