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
    MOST_STRIPS,
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
    end_of,
    glance,
    shapes,
)
from assistant.outputs.review.page import GLANCE, Review, at_first, heading, legend_marks, numbers, rows_of

EDGE, FOOT = 12.0, 12.0  # mm, the margins and the room for the number of the page
TEXT, TABLE, HEAD, TITLE = 11.0, 9.0, 14.0, 18.0  # points; a sheet of numbers is read in the hand
LINE = 1.35
SMALLER = (8.0, 7.0)  # for more numbers than one sheet holds
GAP, ROW_GAP, STRIP_GAP = 8.0, 0.8, 1.5  # mm, between columns, rows and strips
SWATCH = 24.0  # units of the drawing
DRAWN: Mapping[str, Item] = {
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

    @property
    def left(self) -> float:
        """How much of the page is free, above the number at its foot."""
        return self.page.height - FOOT - self.top

    def turn(self) -> None:
        """A new page."""
        self._number += 1
        self.page.new()
        self.page.text(str(self._number), EDGE, self.page.height - FOOT + 2, TABLE, width=self.width, align="R")
        self.top = EDGE

    def room(self, height: float) -> None:
        """Make sure that so much is left."""
        if height > self.left:
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

    def table(
        self,
        heads: Sequence[str],
        rows: Sequence[Sequence[str]],
        shares: Sequence[float],
        columns: int = 1,
        size: float = TABLE,
    ) -> None:
        """A table, in columns side by side; its head stands on each. A row of one cell is a heading over all of them."""
        width = (self.width - GAP * (columns - 1)) / columns
        widths = [width * share / sum(shares) for share in shares]
        top, column = self.top, 0
        self._row(heads, EDGE, widths, size, bold=True)
        for number, row in enumerate(rows, start=1):
            with_it = rows[number : number + 1] if len(row) == 1 else ()
            if self._tall(row, widths, size) + sum(self._tall(one, widths, size) for one in with_it) > self.left:
                column += 1
                if column == columns:
                    self.turn()
                    top, column = self.top, 0
                self.top = top
                self._row(heads, EDGE + column * (width + GAP), widths, size, bold=True)
            self._row(row, EDGE + column * (width + GAP), widths, size, bold=len(row) == 1)

    def tall(self, rows: Sequence[Sequence[str]], shares: Sequence[float], size: float) -> float:
        """How high a table of one column is."""
        widths = [self.width * share / sum(shares) for share in shares]
        return sum(self._tall(row, widths, size) + ROW_GAP for row in rows)

    def _tall(self, cells: Sequence[str], widths: Sequence[float], size: float) -> float:
        pairs = zip(cells, _fitting(cells, widths), strict=True)
        return max(self.page.tall(self.page.readable(text), size, width - 2) for text, width in pairs)

    def _row(self, cells: Sequence[str], left: float, widths: Sequence[float], size: float, *, bold: bool = False) -> None:
        at, foot = left, self.top
        for text, width in zip(cells, _fitting(cells, widths), strict=True):
            foot = max(foot, self.page.text(self.page.readable(text), at, self.top, size, bold=bold, width=width - 2))
            at += width
        self.page.rule((left, foot + 0.3), (at - 1, foot + 0.3), line=0.3 if bold else 0.1)
        self.top = foot + ROW_GAP


def _fitting(cells: Sequence[str], widths: Sequence[float]) -> Sequence[float]:
    """The widths of a row: one cell alone goes over all columns."""
    return [sum(widths)] if len(cells) == 1 else widths


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
    words, length = texts["page"], end_of(read_record(review.events))
    sheets.text(heading(review, texts), TITLE, bold=True)
    sheets.text(f"{words['about']} {words['holds'].format(holds=review.holds)}", TABLE, after=0)
    if review.names:
        sheets.text(review.names, bold=True, after=0)
    short, well, *rest = at_first(review, texts)
    sheets.beside(([short], [well], rest))
    sheets.head(words["glance"])
    _legend(sheets, legend_marks(texts, GLANCE), colours)
    tall = _strips(review, texts, glance(length)).height * sheets.width / WHOLE_WIDTH + STRIP_GAP
    fitting = max(1, min(MOST_STRIPS, int(sheets.left // tall)))
    _timeline(sheets, _strips(review, texts, glance(length, fitting)), colours)


def _second_sheet(sheets: _Sheets, review: Review, texts: Mapping[str, Any]) -> None:
    sheets.turn()
    _numbers(sheets, review, texts, review.main)
    sheets.top += 1
    sheets.text(texts["page"]["more"], TABLE)


def _everything(sheets: _Sheets, review: Review, texts: Mapping[str, Any], colours: Colours) -> None:
    sheets.turn()
    sheets.head(texts["page"]["timeline"])
    _legend(sheets, legend_marks(texts), colours)
    _timeline(sheets, _strips(review, texts, WHOLE), colours)
    _numbers(sheets, review, texts)
    sheets.head(texts["page"]["table"])
    heads, rows = rows_of(read_record(review.events), review.events, texts)
    sheets.table(heads, rows, (1.3, 1.3, 1.3, 1.8, 5, 4.7)[: len(heads)], columns=2)


def _numbers(sheets: _Sheets, review: Review, texts: Mapping[str, Any], among: Set[str] | None = None) -> None:
    """The numbers by section; those of a choice on one sheet, in smaller letters where they would need more."""
    column, shares = texts["column"], (1, 1)
    sheets.head(texts["page"]["numbers"])
    heads = (column["number"], column["meaning"])
    rows = [row for title, told in numbers(review, among) for row in ((title,), *told)]
    room = sheets.left - 2 * TABLE * POINT_MM * LINE  # below it stands where to find the rest
    sizes = (TABLE, *SMALLER) if among else (TABLE,)
    size = next((one for one in sizes if sheets.tall([heads, *rows], shares, one) <= room), sizes[-1])
    sheets.table(heads, rows, shares, size=size)


def _strips(review: Review, texts: Mapping[str, Any], scale: Scale) -> Strips:
    return Strips(read_record(review.events), review.summary.repairs.repairs, review.events, texts["mark"], scale)


def _timeline(sheets: _Sheets, strips: Strips, colours: Colours) -> None:
    size = sheets.width / WHOLE_WIDTH
    for strip in strips:
        sheets.room(strips.height * size)
        sheets.page.draw(moved(tuple(shapes(strips.items(strip), colours)), EDGE, sheets.top, size))
        sheets.top += strips.height * size + STRIP_GAP


def _legend(sheets: _Sheets, marks: Sequence[tuple[str, str, str]], colours: Colours) -> None:
    page, left, line, scale = sheets.page, EDGE, TABLE * POINT_MM * LINE, sheets.width / WHOLE_WIDTH
    wide = SWATCH * scale + 1.5
    for kind, sign, text in marks:
        whole = wide + page.wide(text, TABLE) + 5
        if left + whole > EDGE + sheets.width:
            left, sheets.top = EDGE, sheets.top + line + 1.5
        if kind in DRAWN or not sign:
            item = DRAWN.get(kind, Box(kind, 0, 0, SWATCH, BAR))
            page.draw(moved(tuple(shapes([item], colours)), left, sheets.top, scale))
        else:
            page.text(sign, left, sheets.top, TABLE, bold=True, width=wide - 1.5, align="C")
        page.text(text, left + wide, sheets.top, TABLE)
        left += whole
    sheets.top += line + 3
