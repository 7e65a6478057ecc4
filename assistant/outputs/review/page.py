"""The review: one HTML file that needs nothing else, on screen and on paper.

What lives here: what stands on the page, and in which order. What must not: a sentence (``shared/review/``), or a number of its
own. The page opens no connection: its own rules forbid it.
"""

from collections.abc import Iterable, Mapping, Sequence
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

LEGEND = ("engineer", "supplier", "builder", "muted", "lost")


@dataclass(frozen=True, slots=True)
class Review:
    """What a review is made of.

    ``events`` are as they were kept; ``lines`` tell the summary and ``meanings`` each measure in a sentence; ``plan`` is the
    plan to try next, ``""`` when there is none; ``holds`` says what the page holds, and ``names`` who the seats are, where the
    family asks for that.
    """

    events: Sequence[Event]
    summary: Summary
    lines: Sequence[Line]
    meanings: Mapping[str, str]
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
        _well(review, texts),
        _timeline(review, record, texts),
        _numbers(review, texts),
        _tallies(review.summary, texts),
        _table(record, review.events, texts),
    ]
    rules = dress.colours.variables() + dress.css + style()
    filled = {"title": escape(title), "style": rules, "patterns": patterns(dress.colours), "script": dress.script}
    return _PAGE % (filled | {"body": "\n".join(parts)})


def heading(review: Review, texts: Mapping[str, Any]) -> str:
    """What the review is called."""
    return " – ".join(filter(None, (texts["page"]["title"], review.summary.building.plan)))


def well_done(review: Review, texts: Mapping[str, Any]) -> list[tuple[str, list[str]]]:
    """What went well, what could be tried, and which plan: each a title with its lines."""
    words = texts["page"]
    well = [texts["well"][key].format(**filled) for key, filled in went_well(review.summary)] or [words["nothing"]]
    key, filled = to_try(review.summary)
    parts = [(words["well"], well), (words["try_next"], [texts["try"][key].format(**filled)])]
    return [*parts, (words["plan_next"], [review.plan])] if review.plan else parts


def _well(review: Review, texts: Mapping[str, Any]) -> str:
    parts = (
        _section(title, _list(lines) if title == texts["page"]["well"] else f"<p>{escape(lines[0])}</p>")
        for title, lines in well_done(review, texts)
    )
    return f'<div class="three">{"".join(parts)}</div>'


def legend_marks(texts: Mapping[str, Any]) -> list[tuple[str, str, str]]:
    """What stands for what: its kind, a sign for it where it is no box, and what it means."""
    legend = texts["legend"]
    boxes = [(name, "", legend[name]) for name in LEGEND]
    signs = [(name, sign, legend[name]) for name, sign in (("request", "3"), ("repair", "⌣"), ("swap", "|"), ("cue", "┆"))]
    return [*boxes, ("none", "", legend["adult"]), *signs]


def _timeline(review: Review, record: Record, texts: Mapping[str, Any]) -> str:
    words = texts["page"]
    keys = [f"{f'<b>{sign}</b>' if sign else swatch(kind)} {escape(text)}" for kind, sign, text in legend_marks(texts)]
    buttons = f'<button id="smaller">{words["smaller"]}</button> <button id="larger">{words["larger"]}</button>'
    drawn = svg(Strips(record, review.summary.repairs.repairs, review.events, texts["mark"]))
    inside = f"""<p class="legend">{" &ensp; ".join(keys)}</p>
<p class="tools">{buttons} <output id="said" aria-live="polite">{escape(words["how"])}</output></p>
<div class="scroll" id="scroll" tabindex="0" aria-label="{escape(words["timeline"])}"><div id="strips">{drawn}</div></div>"""
    return _section(words["timeline"], inside)


def _numbers(review: Review, texts: Mapping[str, Any]) -> str:
    column = texts["column"]
    rows = [(line.section, line.text, review.meanings.get(line.measure, "")) for line in review.lines]
    return _section(texts["page"]["numbers"], _rows((column["section"], column["number"], column["meaning"]), rows))


def _tallies(summary: Summary, texts: Mapping[str, Any]) -> str:
    lines = seen(summary)
    return _section(texts["page"]["tallies"], _list(lines)) if lines else ""


def seen(summary: Summary) -> list[str]:
    """The adult's tallies, a line each."""
    return [f"{tally.seat}: {tally.what or '–'} ({tally.times})" for tally in summary.building.tallies]


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
    head = "".join(f'<th scope="col">{escape(text)}</th>' for text in heads)
    body = "".join("<tr>" + "".join(f"<td>{escape(str(cell))}</td>" for cell in row) + "</tr>" for row in rows)
    return f"<table><thead><tr>{head}</tr></thead><tbody>{body}</tbody></table>"


_PAGE = """<!doctype html>
<html lang="en"><head><meta charset="utf-8"><meta name="viewport" content="width=device-width">
<meta http-equiv="Content-Security-Policy" content="default-src 'none'; style-src 'unsafe-inline'; script-src 'unsafe-inline'">
<meta name="referrer" content="no-referrer"><title>%(title)s</title><style>%(style)s</style></head>
<body>%(patterns)s<main>%(body)s</main><script>%(script)s</script></body></html>
"""
