"""The review: one HTML file that needs nothing else, on screen and on paper.

What lives here: what stands on the page, and in which order. What must not: a sentence (``shared/review/``), or a number of its
own. The page opens no connection: its own rules forbid it.
"""

from collections.abc import Iterable, Mapping, Sequence, Set
from dataclasses import dataclass
from html import escape
from typing import Any

from assistant.core.measures.highlights import to_try, went_well
from assistant.core.measures.record import Record, read_record
from assistant.core.measures.sentences import Line
from assistant.core.measures.summary import Summary
from assistant.events import Event
from assistant.outputs.exports.lanes import doing, moments
from assistant.outputs.review.drawing import Colours, Strips, patterns, style, svg, swatch
from assistant.samples import clock_face

GLANCE = ("engineer", "supplier", "builder", "none", "muted", "lost", "swap")
LEGEND = (*GLANCE, "cue", "request", "repair", "step")
SIGNS = {"swap": "|", "cue": "┆", "request": "3", "repair": "⌣", "step": "✓3"}
"""How the legend shows what is no box."""


@dataclass(frozen=True, slots=True)
class Review:
    """What a review is made of.

    ``events`` are as they were kept; ``short`` tells the summary in a few lines, ``lines`` in all of them, and ``meanings``
    each measure in a sentence; ``main`` are the measures to be read first; ``plan`` is the plan to try next, ``""`` when there
    is none; ``holds`` says what the page holds, and ``names`` who the seats are, where the family asks for that.
    """

    events: Sequence[Event]
    summary: Summary
    short: Sequence[Line]
    lines: Sequence[Line]
    meanings: Mapping[str, str]
    main: Set[str]
    plan: str
    holds: str
    names: str = ""


@dataclass(frozen=True, slots=True)
class Dress:
    """How the page looks and what it does: colours, and the texts of ``shared/review/page.css`` and ``page.js``."""

    colours: Colours
    css: str
    script: str


def page(review: Review, texts: Mapping[str, Any], dress: Dress) -> str:
    """The whole file."""
    words, record = texts["page"], read_record(review.events)
    title = heading(review, texts)
    names = f"<p><b>{escape(review.names)}</b></p>" if review.names else ""
    parts = [
        f"<h1>{escape(title)}</h1><p>{escape(words['about'])} {escape(words['holds'].format(holds=review.holds))}</p>{names}",
        _at_first(review, texts),
        _timeline(review, record, texts),
        _numbers(review, texts),
        _table(record, review.events, texts),
    ]
    rules = dress.colours.variables() + dress.css + style()
    filled = {"title": escape(title), "style": rules, "patterns": patterns(dress.colours), "script": dress.script}
    return _PAGE % (filled | {"body": "\n".join(parts)})


def heading(review: Review, texts: Mapping[str, Any]) -> str:
    """What the review is called."""
    return " – ".join(filter(None, (texts["page"]["title"], review.summary.building.plan)))


def at_first(review: Review, texts: Mapping[str, Any]) -> list[tuple[str, list[str]]]:
    """The session in short, what went well, what could be tried, and which plan: each a title with its lines."""
    words = texts["page"]
    short = (review.short[0].section, [line.text for line in review.short])
    well = [texts["well"][key].format(**filled) for key, filled in went_well(review.summary)] or [words["nothing"]]
    key, filled = to_try(review.summary)
    parts = [short, (words["well"], well), (words["try_next"], [texts["try"][key].format(**filled)])]
    return [*parts, (words["plan_next"], [review.plan])] if review.plan else parts


def numbers(review: Review, among: Set[str] | None = None) -> list[tuple[str, list[tuple[str, str]]]]:
    """The numbers by their sections: each a sentence, and what it means.

    Args:
        among: the measures to tell; all of them without.
    """
    sections: dict[str, list[tuple[str, str]]] = {}
    for line in review.lines:
        if among is None or line.measure in among:
            sections.setdefault(line.section, []).append((line.text, review.meanings.get(line.measure, "")))
    return list(sections.items())


def _at_first(review: Review, texts: Mapping[str, Any]) -> str:
    parts = (
        _section(title, _list(lines) if len(lines) > 1 else f"<p>{escape(lines[0])}</p>")
        for title, lines in at_first(review, texts)
    )
    return f'<div class="first">{"".join(parts)}</div>'


def legend_marks(texts: Mapping[str, Any], kinds: Sequence[str] = LEGEND) -> list[tuple[str, str, str]]:
    """What stands for what on the timeline: its kind, a sign for it where it is no box, and what it means."""
    return [(kind, SIGNS.get(kind, ""), texts["legend"][kind]) for kind in kinds]


def _timeline(review: Review, record: Record, texts: Mapping[str, Any]) -> str:
    words = texts["page"]
    keys = [f"{f'<b>{sign}</b>' if sign else swatch(kind)} {escape(text)}" for kind, sign, text in legend_marks(texts)]
    buttons = f'<button id="smaller">{words["smaller"]}</button> <button id="larger">{words["larger"]}</button>'
    drawn = svg(Strips(record, review.summary.repairs.repairs, review.events, texts["mark"]))
    here = f'id="scroll" tabindex="0" role="region" aria-label="{escape(words["timeline"])}"'
    inside = f"""<p class="legend">{" &ensp; ".join(keys)}</p>
<p class="tools">{buttons} <output id="said" aria-live="polite">{escape(words["how"])}</output></p>
<div class="scroll" {here}><div id="strips">{drawn}</div></div>"""
    return _section(words["timeline"], inside)


def _numbers(review: Review, texts: Mapping[str, Any]) -> str:
    column = texts["column"]
    head = _row((column["number"], column["meaning"]), _OVER_ONE)
    parts = (f"<tbody>{_row((title,), _OVER_TWO)}{''.join(map(_row, rows))}</tbody>" for title, rows in numbers(review))
    return _section(texts["page"]["numbers"], f'<table class="numbers"><thead>{head}</thead>{"".join(parts)}</table>')


def _table(record: Record, events: Sequence[Event], texts: Mapping[str, Any]) -> str:
    heads, rows = rows_of(record, events, texts)
    return f"<details><summary>{escape(texts['page']['table'])}</summary>{_rows(heads, rows)}</details>"


def rows_of(record: Record, events: Sequence[Event], texts: Mapping[str, Any]) -> tuple[list[str], list[tuple[str, ...]]]:
    """The timeline as a table: its heads and its rows."""
    column = texts["column"]
    has_words = any(one.words for one in record.utterances)
    said: list[tuple[int, str, str, str, str, str]] = [
        (one.span.start_sample, clock_face(one.span.end_sample), one.seat, one.role or "", doing(one), " ".join(one.texts))
        for one in record.utterances
    ]
    said += [(one.sample, "", "", "", one.text, "") for one in moments(events)]
    said += [(span.start_sample, clock_face(span.end_sample), "", "", "muted", "") for span in record.muted]
    said += [(span.start_sample, clock_face(span.end_sample), "", "", "lost", "") for span in record.lost]
    width = 6 if has_words else 5
    rows = [(clock_face(row[0]), *row[1:])[:width] for row in sorted(said, key=lambda row: row[0])]
    return [column[name] for name in ("start", "end", "seat", "role", "did", "words")][:width], rows


def _section(title: str, inside: str) -> str:
    return f"<section><h2>{escape(title)}</h2>{inside}</section>"


def _list(lines: Iterable[str]) -> str:
    return "<ul>" + "".join(f"<li>{escape(line)}</li>" for line in lines) + "</ul>"


def _rows(heads: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    head = _row(heads, _OVER_ONE)
    return f"<table><thead>{head}</thead><tbody>{''.join(map(_row, rows))}</tbody></table>"


def _row(cells: Sequence[str], tag: str = "td") -> str:
    name = tag.split()[0]
    return "<tr>" + "".join(f"<{tag}>{escape(str(cell))}</{name}>" for cell in cells) + "</tr>"


_OVER_ONE = 'th scope="col"'
_OVER_TWO = 'th colspan="2" scope="rowgroup"'

_PAGE = """<!doctype html>
<html lang="en"><head><meta charset="utf-8"><meta name="viewport" content="width=device-width">
<meta http-equiv="Content-Security-Policy" content="default-src 'none'; style-src 'unsafe-inline'; script-src 'unsafe-inline'">
<meta name="referrer" content="no-referrer"><title>%(title)s</title><style>%(style)s</style></head>
<body>%(patterns)s<main>%(body)s</main><script>%(script)s</script></body></html>
"""
