"""The review on paper: the same timeline, numbers and table as one PDF in A4, told apart in grey too.

What lives here: what stands where on the sheets. What must not: a sentence, a number of its own, a path.
"""

from collections.abc import Mapping, Sequence
from typing import Any

from assistant.core.measures.record import read_record
from assistant.core.plans.look import Look
from assistant.outputs.paper.page import POINT_MM, Format, Page
from assistant.outputs.pictures.shapes import moved
from assistant.outputs.review.drawing import BAR, WHOLE_WIDTH, Arc, Box, Colours, Item, Strips, Upright, shapes
from assistant.outputs.review.page import Review, heading, legend_marks, rows_of, seen, well_done

EDGE, FOOT = 12.0, 12.0  # mm, the margins and the room for the number of the page
TEXT, TABLE, HEAD, TITLE = 11.0, 9.0, 14.0, 18.0  # points; a sheet of numbers is read in the hand
LINE = 1.35
GAP = 8.0  # mm, between columns
SWATCH = 24.0  # units of the drawing
SIGNS: Mapping[str, Item] = {
    "repair": Arc((4, 2), (12, 22), (20, 2), ""),
    "swap": Upright("swap", 12, 0, BAR, ""),
    "cue": Upright("cue", 12, 0, BAR, ""),
}
"""How the legend draws what is no box and no text."""


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

    def head(self, text: str, needs: float = 20) -> None:
        """A heading, never alone at the foot of a page."""
        self.room(HEAD * POINT_MM * LINE + needs)
        self.top += 2
        self.text(text, HEAD, bold=True)

    def table(self, heads: Sequence[str], rows: Sequence[Sequence[str]], shares: Sequence[float], columns: int = 1) -> None:
        """A table, in columns side by side; its head stands on each."""
        width = (self.width - GAP * (columns - 1)) / columns
        widths = [width * share / sum(shares) for share in shares]
        top, column = self.top, 0
        self._row(heads, EDGE, widths, bold=True)
        for row in rows:
            if self.top + self._tall(row, widths) > self.page.height - FOOT:
                column += 1
                if column == columns:
                    self.turn()
                    top, column = self.top, 0
                self.top = top
                self._row(heads, EDGE + column * (width + GAP), widths, bold=True)
            self._row(row, EDGE + column * (width + GAP), widths)

    def _tall(self, cells: Sequence[str], widths: Sequence[float]) -> float:
        tall = (self.page.tall(self.page.readable(text), TABLE, width - 2) for text, width in zip(cells, widths, strict=True))
        return max(tall)

    def _row(self, cells: Sequence[str], left: float, widths: Sequence[float], *, bold: bool = False) -> None:
        at, foot = left, self.top
        for text, width in zip(cells, widths, strict=True):
            foot = max(foot, self.page.text(self.page.readable(text), at, self.top, TABLE, bold=bold, width=width - 2))
            at += width
        self.page.rule((left, foot + 0.3), (at - 1, foot + 0.3), line=0.3 if bold else 0.1)
        self.top = foot + 0.8


def on_paper(review: Review, texts: Mapping[str, Any], look: Look, language: str) -> bytes:
    """The whole review as a PDF."""
    words, colours = texts["page"], Colours(dict(look.roles), look.dark, look.line, look.shade)
    with Page(Format.A4, look, words["title"], language, landscape=True) as page:
        sheets = _Sheets(page)
        sheets.text(heading(review, texts), TITLE, bold=True)
        sheets.text(f"{words['about']} {words['holds'].format(holds=review.holds)}")
        if review.names:
            sheets.text(review.names)
        for title, lines in well_done(review, texts):
            sheets.head(title, needs=8)
            for line in lines:
                sheets.text(line, after=0.5)
        _timeline(sheets, review, texts, colours)
        column = texts["column"]
        sheets.head(words["numbers"])
        numbers = [(line.section, line.text, review.meanings.get(line.measure, "")) for line in review.lines]
        sheets.table([column[name] for name in ("section", "number", "meaning")], numbers, (2, 5, 5))
        if tallies := seen(review.summary):
            sheets.head(words["tallies"])
            for line in tallies:
                sheets.text(line, after=0.5)
        sheets.head(words["table"])
        heads, rows = rows_of(read_record(review.events), review.events, texts)
        sheets.table(heads, rows, (1.3, 1.3, 1.3, 1.8, 5, 4.7)[: len(heads)], columns=2)
        return page.to_bytes()


def _timeline(sheets: _Sheets, review: Review, texts: Mapping[str, Any], colours: Colours) -> None:
    strips = Strips(read_record(review.events), review.summary.repairs.repairs, review.events, texts["mark"])
    scale = sheets.width / WHOLE_WIDTH
    tall = strips.height * scale
    sheets.head(texts["page"]["timeline"], needs=tall + 20)
    _legend(sheets, texts, colours, scale)
    for strip in strips:
        sheets.room(tall)
        sheets.page.draw(moved(tuple(shapes(strips.items(strip), colours)), EDGE, sheets.top, scale))
        sheets.top += tall + 1.5


def _legend(sheets: _Sheets, texts: Mapping[str, Any], colours: Colours, scale: float) -> None:
    page, left, line = sheets.page, EDGE, TABLE * POINT_MM * LINE
    wide = SWATCH * scale + 1.5
    for kind, sign, text in legend_marks(texts):
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
