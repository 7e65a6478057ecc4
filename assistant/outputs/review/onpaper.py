"""The review on paper, A4 and told apart in grey too: two sheets that a parent reads, or everything that is on the page.

What lives here: what stands where on the sheets. What must not: a sentence, a number of its own, a path.
"""

from collections.abc import Mapping, Sequence, Set
from typing import Any

from assistant.core.measures.record import read_record
from assistant.core.plans.look import Look
from assistant.outputs.paper.page import POINT_MM, Format, Page
from assistant.outputs.pictures.shapes import moved
from assistant.outputs.review.drawing import (
    BAR,
    WHOLE,
    WHOLE_WIDTH,
    Arc,
    Box,
    Colours,
    Item,
    Label,
    Scale,
    Strips,
    Upright,
    glance,
    shapes,
)
from assistant.outputs.review.page import GLANCE, LEGEND, Review, at_first, heading, legend_marks, numbers, rows_of

EDGE, FOOT = 12.0, 12.0  # mm, the margins and the room for the number of the page
TEXT, TABLE, HEAD, TITLE = 11.0, 9.0, 14.0, 18.0  # points; a sheet of numbers is read in the hand
LINE = 1.35
GAP = 8.0  # mm, between columns
SWATCH = 24.0  # units of the drawing
SIGNS: Mapping[str, Item] = {
    "repair": Arc((4, 2), (12, 22), (20, 2), ""),
    "step": Label("step", 14, 10, "✓3"),
    "swap": Upright("swap", 12, 0, BAR, ""),
    "cue": Upright("cue", 12, 0, BAR, ""),
}
"""How the legend draws what is no box, and no text that the typeface has."""


class _Sheets:
    """Pages that fill from the top; whoever needs more room than is left gets a new one."""

    def __init__(self, page: Page) -> None:
        self.page = page
        self.width = page.width - 2 * EDGE
        self.top = EDGE
        self._number = 0
        self.turn()

    def turn(self) -> None:
        """A new page."""
        self._number += 1
        self.page.new()
        self.page.text(str(self._number), EDGE, self.page.height - FOOT + 2, TABLE, width=self.width, align="R")
        self.top = EDGE

    def room(self, height: float) -> None:
        """Make sure that so much is left."""
        if self.top + height > self.page.height - FOOT:
            self.turn()

    def text(self, text: str, size: float = TEXT, *, bold: bool = False, after: float = 1.5) -> None:
        """A paragraph."""
        text = self.page.readable(text)
        self.room(self.page.tall(text, size, self.width, bold=bold))
        self.top = self.page.text(text, EDGE, self.top, size, bold=bold, width=self.width) + after

    def beside(self, columns: Sequence[Sequence[tuple[str, Sequence[str]]]]) -> None:
        """Columns of headings, each with its lines; they are short enough for one page."""
        width = (self.width - GAP * (len(columns) - 1)) / len(columns)
        self.top = max(self._column(parts, EDGE + place * (width + GAP), width) for place, parts in enumerate(columns))

    def _column(self, parts: Sequence[tuple[str, Sequence[str]]], left: float, width: float) -> float:
        top = self.top
        for title, lines in parts:
            top = self.page.text(title, left, top + 2, HEAD, bold=True, width=width)
            for line in lines:
                top = self.page.text(self.page.readable(line), left, top, width=width, size=TEXT) + 1
        return top

    def head(self, text: str, needs: float = 20) -> None:
        """A heading, never alone at the foot of a page."""
        self.room(HEAD * POINT_MM * LINE + needs)
        self.top += 2
        self.text(text, HEAD, bold=True)

    def table(self, heads: Sequence[str], rows: Sequence[Sequence[str]], shares: Sequence[float], columns: int = 1) -> None:
        """A table, in columns side by side; its head stands on each. A row of one cell is a heading over all of them."""
        width = (self.width - GAP * (columns - 1)) / columns
        widths = [width * share / sum(shares) for share in shares]
        top, column = self.top, 0
        self._row(heads, EDGE, widths, bold=True)
        for number, row in enumerate(rows, start=1):
            with_it = rows[number : number + 1] if len(row) == 1 else ()
            needs = self._tall(row, widths) + sum(self._tall(one, widths) for one in with_it)
            if self.top + needs > self.page.height - FOOT:
                column += 1
                if column == columns:
                    self.turn()
                    top, column = self.top, 0
                self.top = top
                self._row(heads, EDGE + column * (width + GAP), widths, bold=True)
            left, is_head = EDGE + column * (width + GAP), len(row) == 1
            self._row(row, left, [width] if is_head else widths, bold=is_head)

    def _tall(self, cells: Sequence[str], widths: Sequence[float]) -> float:
        fitting = widths if len(cells) == len(widths) else [sum(widths)] * len(cells)
        tall = (self.page.tall(self.page.readable(text), TABLE, width - 2) for text, width in zip(cells, fitting, strict=True))
        return max(tall)

    def _row(self, cells: Sequence[str], left: float, widths: Sequence[float], *, bold: bool = False) -> None:
        at, foot = left, self.top
        for text, width in zip(cells, widths, strict=True):
            foot = max(foot, self.page.text(self.page.readable(text), at, self.top, TABLE, bold=bold, width=width - 2))
            at += width
        self.page.rule((left, foot + 0.3), (at - 1, foot + 0.3), line=0.3 if bold else 0.1)
        self.top = foot + 0.8


def on_paper(review: Review, texts: Mapping[str, Any], look: Look, language: str, *, whole: bool = False) -> bytes:
    """The review as a PDF.

    Args:
        whole: everything that is on the page, about half a sheet for each minute; else two sheets.
    """
    colours = Colours(dict(look.roles), look.dark, look.line, look.shade)
    with Page(Format.A4, look, texts["page"]["title"], language, landscape=True) as page:
        sheets = _Sheets(page)
        _first_sheet(sheets, review, texts, colours)
        if whole:
            _everything(sheets, review, texts, colours)
        else:
            _second_sheet(sheets, review, texts)
        return page.to_bytes()


def _first_sheet(sheets: _Sheets, review: Review, texts: Mapping[str, Any], colours: Colours) -> None:
    words, record = texts["page"], read_record(review.events)
    sheets.text(heading(review, texts), TITLE, bold=True)
    sheets.text(f"{words['about']} {words['holds'].format(holds=review.holds)}", TABLE, after=0)
    if review.names:
        sheets.text(review.names, bold=True, after=0)
    short, well, *rest = at_first(review, texts)
    sheets.beside(([short], [well], rest))
    _timeline(sheets, review, texts, colours, words["glance"], glance(record.span.end_sample))


def _second_sheet(sheets: _Sheets, review: Review, texts: Mapping[str, Any]) -> None:
    sheets.turn()
    _numbers(sheets, review, texts, review.main)
    sheets.top += 2
    sheets.text(texts["page"]["more"], TABLE)


def _everything(sheets: _Sheets, review: Review, texts: Mapping[str, Any], colours: Colours) -> None:
    sheets.turn()
    _timeline(sheets, review, texts, colours, texts["page"]["timeline"], WHOLE)
    _numbers(sheets, review, texts)
    sheets.head(texts["page"]["table"])
    heads, rows = rows_of(read_record(review.events), review.events, texts)
    sheets.table(heads, rows, (1.3, 1.3, 1.3, 1.8, 5, 4.7)[: len(heads)], columns=2)


def _numbers(sheets: _Sheets, review: Review, texts: Mapping[str, Any], among: Set[str] | None = None) -> None:
    column = texts["column"]
    sheets.head(texts["page"]["numbers"])
    rows = [row for title, told in numbers(review, among) for row in ((title,), *told)]
    sheets.table((column["number"], column["meaning"]), rows, (1, 1))


def _timeline(sheets: _Sheets, review: Review, texts: Mapping[str, Any], colours: Colours, title: str, scale: Scale) -> None:
    strips = Strips(read_record(review.events), review.summary.repairs.repairs, review.events, texts["mark"], scale)
    size = sheets.width / WHOLE_WIDTH
    tall = strips.height * size
    sheets.head(title, needs=tall + 20)
    _legend(sheets, legend_marks(texts, LEGEND if scale.details else GLANCE), colours, size)
    for strip in strips:
        sheets.room(tall)
        sheets.page.draw(moved(tuple(shapes(strips.items(strip), colours)), EDGE, sheets.top, size))
        sheets.top += tall + 1.5


def _legend(sheets: _Sheets, marks: Sequence[tuple[str, str, str]], colours: Colours, scale: float) -> None:
    page, left, line = sheets.page, EDGE, TABLE * POINT_MM * LINE
    wide = SWATCH * scale + 1.5
    for kind, sign, text in marks:
        whole = wide + page.wide(text, TABLE) + 5
        if left + whole > EDGE + sheets.width:
            left, sheets.top = EDGE, sheets.top + line + 1.5
        if kind in SIGNS or not sign:
            item = SIGNS.get(kind, Box(kind, 0, 0, SWATCH, BAR))
            page.draw(moved(tuple(shapes([item], colours)), left, sheets.top, scale))
        else:
            page.text(sign, left, sheets.top, TABLE, bold=True, width=wide - 1.5, align="C")
        page.text(text, left + wide, sheets.top, TABLE)
        left += whole
    sheets.top += line + 3
