"""Progress over weeks, in lines of text.

What lives here: saying it. What must not: the numbers, or whether a change is good.
"""

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from assistant.core.measures.progress import ENOUGH_SESSIONS, Point, Series, Trend
from assistant.terms import Role, Seat


def lines(series: Sequence[Series], roles: Mapping[tuple[Seat, Role], int], texts: Mapping[str, Any]) -> Iterator[str]:
    """What the sessions show, one measure after the other; each value with what it rests on."""
    words = texts["progress"]
    count = len(series[0].points) if series else 0
    if not count:
        yield words["none"]
        return
    yield words["title"].format(count=count)
    yield words["about"]
    for one in series:
        named = texts["measure"][one.measure]
        yield ""
        yield named["name"] + (f" ({named['unit']})" if named["unit"] else "")
        yield "  " + "   ".join(_value(point, words) for point in one.points)
        yield "  " + _trend(one, named["unit"], words)
    each = ", ".join(f"{seat} {role} {times}" for (seat, role), times in sorted(Counter(roles).items()))
    yield ""
    yield words["roles"].format(each=each or "–")


def _value(point: Point, words: Mapping[str, str]) -> str:
    value = words["few_values"] if point.value is None else _number(point.value)
    return f"{value} (n={point.count})"


def _trend(one: Series, unit: str, words: Mapping[str, str]) -> str:
    trend = one.trend
    if trend is None:
        return words["few_sessions"].format(count=len(one.known), needed=ENOUGH_SESSIONS)
    direction = words["unclear"] if not trend.is_clear else words["up" if trend.low > 0 else "down"]
    return words["trend"].format(unit=unit, direction=direction, **_numbers(trend)).replace("  ", " ")


def _numbers(trend: Trend) -> dict[str, str]:
    return {name: f"{getattr(trend, name):+.2f}" for name in ("slope", "low", "high")}


def _number(value: float) -> str:
    return f"{value:.2f}" if abs(value) < 10 else f"{value:.0f}"
