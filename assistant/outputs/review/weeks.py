"""Progress over weeks, in lines of text and as a page.

What lives here: saying it, and drawing it. What must not: the numbers, or whether a change is good.
"""

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from html import escape
from typing import Any

from assistant.core.measures.progress import ENOUGH_SESSIONS, Series, Trend
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
class _Form:
    """How the values of a series are written: the unit of a change, the decimals of a value, the most there is (0: no end)."""

    step: str = ""
    decimals: int = 0
    most: float = 0

    def value(self, value: float) -> str:
        return f"{value:.{self.decimals}f}"

    def change(self, value: float) -> str:
        """With a sign, and where a value has few decimals one more: many small changes make a visible one."""
        return f"{value:+.{min(self.decimals + 1, 3)}f}"


@dataclass(frozen=True, slots=True)
class _Block:
    """One measure or goal: its title, its points, how they are written, their texts, and what can be said of them."""

    title: str
    series: Series
    form: _Form
    values: tuple[str, ...]
    said: str

    @classmethod
    def of(cls, title: str, series: Series, form: _Form, unknown: str, words: Mapping[str, str]) -> "_Block":
        values = (f"{unknown if point.value is None else form.value(point.value)} (n={point.count})" for point in series.points)
        return cls(title, series, form, tuple(values), _trend(series, form, words))


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
        form = _Form(named.get("step", named["unit"]), named["decimals"], named.get("most", 0))
        yield _Block.of(title, one, form, words["few_values"], words)


def _goals(weeks: Weeks, texts: Mapping[str, Any]) -> Iterator[_Block]:
    words = texts["progress"]
    for title, one in weeks.goals:
        yield _Block.of(title, one, _Form(), words["not_counted"], words)


def _roles(weeks: Weeks, words: Mapping[str, str]) -> str:
    each = ", ".join(f"{seat} {role} {times}" for (seat, role), times in sorted(Counter(weeks.roles).items()))
    return words["roles"].format(each=each or "–")


def _trend(one: Series, form: _Form, words: Mapping[str, str]) -> str:
    trend = one.trend
    if trend is None:
        return words["few_sessions"].format(count=len(one.known), needed=ENOUGH_SESSIONS)
    numbers = {name: form.change(getattr(trend, name)) for name in ("slope", "low", "high")}
    return words["trend"].format(unit=form.step, direction=words[_direction(one, trend)], **numbers).replace("  ", " ")


def _direction(one: Series, trend: Trend) -> str:
    """The key of the words for where it went."""
    if len({value for _, value in one.known}) == 1:
        return "same"
    return "unclear" if not trend.is_clear else "up" if trend.low > 0 else "down"


# --- the page ---------------------------------------------------------------------------------------------------------------


def page(weeks: Weeks, texts: Mapping[str, Any], css: str) -> str:
    """The same as one HTML file that needs nothing else.

    Args:
        css: with the inks.
    """
    words = texts["progress"]
    title = escape(words["page_title"])
    parts = [f"<h1>{title}</h1><p>{escape(words['about'])} {escape(words['page_holds'])}</p>"]
    parts.append(_sections(_measures(weeks, texts), words))
    parts.append(f"<p>{escape(_roles(weeks, words))}</p>")
    if weeks.goals:
        parts.append(f"<h1>{escape(words['goals'])}</h1><p>{escape(words['goals_about'])}</p>")
        parts.append(_sections(_goals(weeks, texts), words))
    return _PAGE % {"title": title, "style": css, "body": "\n".join(parts)}


def _sections(blocks: Iterable[_Block], words: Mapping[str, str]) -> str:
    return f'<div class="blocks">{"".join(_section(block, words) for block in blocks)}</div>'


def _section(block: _Block, words: Mapping[str, str]) -> str:
    title = escape(block.title)
    return f"<section><h2>{title}</h2>{_drawn(block, words)}<p>{escape(block.said)}</p>{_table(block, words)}</section>"


def _drawn(block: _Block, words: Mapping[str, str]) -> str:
    known, count = block.series.known, len(block.series.points)
    if not known:
        return ""
    top, last = block.form.most or max(value for _, value in known) or 1.0, max(1, count - 1)
    foot, right = HEIGHT - 18, WIDTH - EDGE
    spots = {place: (EDGE + place * (right - EDGE) / last, foot - value * (HEIGHT - 34) / top) for place, value in known}
    ways = (
        f'<line class="way" x1="{x:.1f}" y1="{y:.1f}" x2="{spots[place + 1][0]:.1f}" y2="{spots[place + 1][1]:.1f}"/>'
        for place, (x, y) in spots.items()
        if place + 1 in spots  # nothing is drawn across a session that says too little
    )
    dots = (f'<circle class="dot" cx="{x:.1f}" cy="{y:.1f}" r="3.5"/>' for x, y in spots.values())
    axis = f'<line class="lane" x1="{EDGE}" x2="{right}" y1="{foot}" y2="{foot}"/>'
    ends = f'<text class="end" x="0" y="{foot + 4}">0</text><text class="end" x="0" y="20">{block.form.value(top)}</text>'
    ends += f'<text class="end" x="{EDGE - 4}" y="{HEIGHT - 2}">{escape(words["session"])} 1</text>'
    ends += f'<text class="end last" x="{right + 4}" y="{HEIGHT - 2}">{count}</text>' if count > 1 else ""
    drawn = f"{axis}{''.join(ways)}{''.join(dots)}{ends}"
    return f'<svg class="weeks" viewBox="0 0 {WIDTH} {HEIGHT}" role="img" aria-label="{escape(block.title)}">{drawn}</svg>'


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
