"""A session as a table: one row an utterance, as CSV (RFC 4180), and the dictionary that explains every column and field.

What lives here: the columns. What must not: their explanations; they are in ``shared/dictionary/``.
"""

import csv
import io
import tomllib
from collections.abc import Callable, Sequence
from dataclasses import fields

from assistant.core.measures.record import Utterance, read_record
from assistant.errors import SharedError
from assistant.events import Event, Request, Word
from assistant.outputs.exports.lanes import LANES
from assistant.outputs.exports.records import KINDS
from assistant.samples import to_seconds

COLUMNS: dict[str, Callable[[Utterance], object]] = {
    "unit": lambda one: one.number,
    "start_s": lambda one: f"{to_seconds(one.span.start_sample):.5f}",
    "end_s": lambda one: f"{to_seconds(one.span.end_sample):.5f}",
    "seat": lambda one: LANES[one.seat],
    "role": lambda one: one.role or "",
    "margin": lambda one: f"{one.margin:.4f}",
    "step": lambda one: one.step or "",
    "act": lambda one: one.meaning.act if one.meaning else "",
    "request": lambda one: _of(one, "number"),
    "fits_before": lambda one: _of(one, "fits_before"),
    "fits_after": lambda one: _of(one, "fits_after"),
    "kinds_after": lambda one: _of(one, "kinds_after"),
    "repair": lambda one: one.meaning.repair or "" if one.meaning else "",
    "prompt": lambda one: one.meaning.prompt or "" if one.meaning else "",
    "praise": lambda one: one.meaning.praise or "" if one.meaning else "",
    "text": lambda one: " ".join(one.texts),
}
"""Every column, and where it comes from."""


def _of(utterance: Utterance, name: str) -> object:
    request = utterance.meaning.request if utterance.meaning else None
    return getattr(request, name) if request else ""


def csv_table(events: Sequence[Event]) -> str:
    """The session as CSV. An empty cell is something that was not there, or was not kept."""
    rows = ([column(one) for column in COLUMNS.values()] for one in read_record(events).utterances)
    return _csv([list(COLUMNS), *rows])


def dictionary(meanings: str) -> str:
    """The data dictionary as CSV: every column of the table, every field of every event, and what it means.

    Args:
        meanings: the text of ``shared/dictionary/<language>.toml``.

    Raises:
        SharedError: something is not explained there.
    """
    read = tomllib.loads(meanings)
    try:
        table = [["session.csv", name, read["column"][name]] for name in COLUMNS]
        lines = [["events.jsonl", f"{kind}.{name}", read["field"][name]] for kind, name in _fields()]
    except KeyError as error:
        raise SharedError(f"shared/dictionary does not explain {error}. Write a sentence about it there.") from error
    return _csv([["file", "name", "meaning"], *table, *lines])


def _fields() -> list[tuple[str, str]]:
    kinds = [*KINDS.values(), Request, Word]
    return [(kind.__name__, field.name) for kind in kinds for field in fields(kind)]


def _csv(rows: Sequence[Sequence[object]]) -> str:
    text = io.StringIO()
    csv.writer(text).writerows(rows)
    return text.getvalue()
