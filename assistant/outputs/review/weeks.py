"""Progress over weeks, in lines of text and as a page.

What lives here: saying it, and drawing it. What must not: the numbers, or whether a change is good.
"""

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from html import escape
from typing import Any

from assistant.core.measures.progress import ENOUGH_SESSIONS, Point, Series, Trend
from assistant.core.wording import Count
from assistant.terms import Role, Seat

WIDTH, HEIGHT, EDGE = 440, 110, 44  # of a drawing, in its own units


@dataclass(frozen=True, slots=True)
class Weeks:
    """What the sessions show: a series a measure, the rounds in each role, and the goals, each with its title."""

    series: Sequence[Series]
    roles: Mapping[tuple[Seat, Role], int]
    goals: Sequence[tuple[str, Series]] = ()


@dataclass(frozen=True, slots=True)
class _Block:
    """One measure or goal: its title, its points, their texts, and what can be said of them."""

    title: str
    series: Series
    values: tuple[str, ...]
    said: str


def lines(weeks: Weeks, texts: Mapping[str, Any]) -> Iterator[str]:
    """What the sessions show, one measure after the other; each value with what it rests on."""
    words = texts["progress"]
    if not weeks.series or not weeks.series[0].points:
        yield words["none"]
        return
    yield words["title"].format(count=Count(len(weeks.series[0].points)))
    yield words["about"]
    for block in _measures(weeks, texts):
        yield from _in_lines(block)
    yield ""
    yield _roles(weeks, words)
    if weeks.goals:
        yield from ("", words["goals"], words["goals_about"])
    for block in _goals(weeks, texts):
        yield from _in_lines(block)


def _in_lines(block: _Block) -> Iterator[str]:
    yield from ("", block.title, "  " + "   ".join(block.values), "  " + block.said)


def _measures(weeks: Weeks, texts: Mapping[str, Any]) -> Iterator[_Block]:
    words = texts["progress"]
    for one in weeks.series:
        named = texts["measure"][one.measure]
        title = named["name"] + (f" ({named['unit']})" if named["unit"] else "")
        values = tuple(_value(point, words["few_values"]) for point in one.points)
        yield _Block(title, one, values, _trend(one, named["unit"], words))


def _goals(weeks: Weeks, texts: Mapping[str, Any]) -> Iterator[_Block]:
    words = texts["progress"]
    for title, one in weeks.goals:
        yield _Block(title, one, tuple(_value(point, words["not_counted"]) for point in one.points), _trend(one, "", words))


def _roles(weeks: Weeks, words: Mapping[str, str]) -> str:
    each = ", ".join(f"{seat} {role} {times}" for (seat, role), times in sorted(Counter(weeks.roles).items()))
    return words["roles"].format(each=each or "–")


def _value(point: Point, unknown: str) -> str:
    return f"{unknown if point.value is None else _number(point.value)} (n={point.count})"


def _trend(one: Series, unit: str, words: Mapping[str, str]) -> str:
    trend = one.trend
    if trend is None:
        return words["few_sessions"].format(count=len(one.known), needed=ENOUGH_SESSIONS)
    direction = words["unclear"] if not trend.is_clear else words["up" if trend.low > 0 else "down"]
    return words["trend"].format(unit=unit, direction=direction, **_numbers(trend)).replace("  ", " ")


def _numbers(trend: Trend) -> dict[str, str]:
    return {name: f"{getattr(trend, name):+.2f}" for name in ("slope", "low", "high")}


def _number(value: float) -> str:
    return f"{value:.2f}" if abs(value) < 10 and value != int(value) else f"{value:.0f}"


# --- the page ---------------------------------------------------------------------------------------------------------------


def page(weeks: Weeks, texts: Mapping[str, Any], css: str) -> str:
    """The same as one HTML file that needs nothing else.

    Args:
        css: with the inks.
    """
    words = texts["progress"]
    title = escape(words["page_title"])
    parts = [f"<h1>{title}</h1><p>{escape(words['about'])} {escape(words['page_holds'])}</p>"]
    parts += [_section(block, words) for block in _measures(weeks, texts)]
    parts.append(f"<p>{escape(_roles(weeks, words))}</p>")
    if weeks.goals:
        parts.append(f"<h1>{escape(words['goals'])}</h1><p>{escape(words['goals_about'])}</p>")
    parts += [_section(block, words) for block in _goals(weeks, texts)]
    return _PAGE % {"title": title, "style": css, "body": "\n".join(parts)}


def _section(block: _Block, words: Mapping[str, str]) -> str:
    title = escape(block.title)
    return f"<section><h2>{title}</h2>{_drawn(block.series, title)}<p>{escape(block.said)}</p>{_table(block, words)}</section>"


def _drawn(series: Series, title: str) -> str:
    known = series.known
    if not known:
        return ""
    top, last = max(value for _, value in known) or 1.0, max(1, len(series.points) - 1)
    spots = [(EDGE + place * (WIDTH - 2 * EDGE) / last, HEIGHT - 18 - value * (HEIGHT - 34) / top) for place, value in known]
    path = " ".join(f"{x:.1f},{y:.1f}" for x, y in spots)
    dots = "".join(f'<circle class="dot" cx="{x:.1f}" cy="{y:.1f}" r="3.5"/>' for x, y in spots)
    axis = f'<line class="lane" x1="{EDGE}" x2="{WIDTH - EDGE}" y1="{HEIGHT - 18}" y2="{HEIGHT - 18}"/>'
    ends = f'<text class="end" x="0" y="{HEIGHT - 14}">0</text><text class="end" x="0" y="20">{_number(top)}</text>'
    ends += f'<text class="end" x="{EDGE}" y="{HEIGHT - 2}">1</text>'
    ends += f'<text class="end" x="{WIDTH - EDGE - 6}" y="{HEIGHT - 2}">{len(series.points)}</text>'
    drawn = f'{axis}<polyline class="way" points="{path}"/>{dots}{ends}'
    return f'<svg class="weeks" viewBox="0 0 {WIDTH} {HEIGHT}" role="img" aria-label="{title}">{drawn}</svg>'


def _table(block: _Block, words: Mapping[str, str]) -> str:
    heads = "".join(f'<th scope="col">{escape(words[name])}</th>' for name in ("session", "value"))
    rows = "".join(f"<tr><td>{number}</td><td>{escape(text)}</td></tr>" for number, text in enumerate(block.values, start=1))
    table = f"<table><thead><tr>{heads}</tr></thead><tbody>{rows}</tbody></table>"
    return f"<details><summary>{escape(words['table'])}</summary>{table}</details>"


_PAGE = """<!doctype html>
<html lang="en"><head><meta charset="utf-8"><meta name="viewport" content="width=device-width">
<meta http-equiv="Content-Security-Policy" content="default-src 'none'; style-src 'unsafe-inline'">
<meta name="referrer" content="no-referrer"><title>%(title)s</title><style>%(style)s</style></head>
<body><main>%(body)s</main></body></html>
"""
