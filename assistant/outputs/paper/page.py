"""A page to print: its size, its typeface, and shapes and text on it.

What lives here: the way to the PDF library. What must not: what stands on a sheet; files, but for the typeface that is read.

All lengths are millimetres, sizes of letters are points; y goes down from the top edge. Every file has the same date in it, so
that the same sheet is the same bytes on every day, and tells nothing of when it was made.
"""

from collections.abc import Iterable, Sequence
from datetime import UTC, datetime
from enum import StrEnum
from io import BytesIO
from typing import Self

import fontpkg_atkinson_hyperlegible as hyperlegible  # letters made to be told apart (OFL-1.1)
from fpdf import FPDF
from fpdf.enums import RenderStyle

from assistant.core.plans.look import Look
from assistant.core.plans.plane import Spot
from assistant.errors import SettingsError
from assistant.outputs.pictures.shapes import Ellipse, Picture, Polygon, Shape, Text, fitted, rectangle

NO_DATE = datetime(2000, 1, 1, tzinfo=UTC)  # the library wants one
POINT_MM = 25.4 / 72
MARGIN_MM = 16.0
SMALLEST_PT = 14.0  # easy reading asks for 12 to 14 points at least; a card lies on a table, at arm's length
BODY_PT, LARGE_PT, TITLE_PT = 16.0, 24.0, 28.0
LEADING = 1.35  # from line to line, of the letters' size


_STYLES = {(True, True): RenderStyle.DF, (False, True): RenderStyle.F, (True, False): RenderStyle.D}
"""How a shape is painted: with a stroke, with a fill."""


class Format(StrEnum):
    """The paper in the printer."""

    A4 = "a4"
    LETTER = "letter"


class Page:
    """A document under work, open until its ``with`` ends. Everything is drawn on its last page."""

    def __init__(self, paper: Format, look: Look, title: str, language: str, *, landscape: bool = False) -> None:
        self.look = look
        self._pdf = FPDF("landscape" if landscape else "portrait", "mm", paper.value)
        self._pdf.set_auto_page_break(False)
        self._pdf.set_margin(0)
        self._pdf.set_creation_date(NO_DATE)
        self._pdf.set_title(title)
        self._pdf.set_lang(language)
        for style, file in (("", "Regular"), ("B", "Bold")):
            self._pdf.add_font("sheet", style, hyperlegible.ROOT / "files" / f"AtkinsonHyperlegible-{file}.ttf")
        self._pdf.set_font("sheet", "", BODY_PT)

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *error: object) -> None:
        for font in self._pdf.fonts.values():
            font.ttfont.close()  # type: ignore[union-attr]  # the library leaves the typeface's files open

    @property
    def width(self) -> float:
        """The width of the paper."""
        return float(self._pdf.epw)

    @property
    def height(self) -> float:
        """The height of the paper."""
        return float(self._pdf.eph)

    @property
    def inner(self) -> float:
        """The width between the margins."""
        return self.width - 2 * MARGIN_MM

    def new(self) -> None:
        """Turn to a new page."""
        self._pdf.add_page()

    def to_bytes(self) -> bytes:
        """The finished PDF."""
        return bytes(self._pdf.output())

    # --- text -------------------------------------------------------------------------------------------------------------

    def text(
        self,
        text: str,
        left: float,
        top: float,
        size: float = BODY_PT,
        *,
        bold: bool = False,
        width: float = 0,
        align: str = "L",
    ) -> float:
        """Write a text, broken into lines where ``width`` is given.

        Returns:
            where the next line would begin.
        """
        lines = self.lines(text, size, width, bold=bold) if width else [text]
        for line in lines:
            self._line(line, left, top, size, bold, width, align)
            top += size * POINT_MM * LEADING
        return top

    def lines(self, text: str, size: float, width: float, *, bold: bool = False) -> list[str]:
        """The text in lines of at most this width."""
        self._font(size, bold)
        if self._pdf.get_string_width(whole := " ".join(text.split())) <= width:
            return [whole] if whole else []
        lines: list[str] = []
        for word in (part for whole in text.split() for part in self._parts(whole, width)):
            if lines and self._pdf.get_string_width(f"{lines[-1]} {word}") <= width:
                lines[-1] += f" {word}"
            else:
                lines.append(word)
        return lines

    def _parts(self, word: str, width: float) -> list[str]:
        """A word, cut where it is wider than the line."""
        if self._pdf.get_string_width(word) <= width:
            return [word]
        parts = [""]
        for sign in word:
            if parts[-1] and self._pdf.get_string_width(parts[-1] + sign) > width:
                parts.append("")
            parts[-1] += sign
        return parts

    def wide(self, text: str, size: float) -> float:
        """How wide a line of text is."""
        self._font(size, False)
        return float(self._pdf.get_string_width(text))

    def tall(self, text: str, size: float, width: float, *, bold: bool = False) -> float:
        """How high a text of this width is."""
        return len(self.lines(text, size, width, bold=bold)) * size * POINT_MM * LEADING

    def _line(self, line: str, left: float, top: float, size: float, bold: bool, width: float, align: str) -> None:
        self._font(size, bold)
        self._pdf.set_text_color(self.look.dark)
        spare = width - self._pdf.get_string_width(line)
        self._pdf.text(left + {"L": 0.0, "C": spare / 2, "R": spare}[align], top + size * POINT_MM, self._known(line))

    def _font(self, size: float, bold: bool) -> None:
        self._pdf.set_font("sheet", "B" if bold else "", size)

    def readable(self, text: str) -> str:
        """The text, with a question mark for every sign that the typeface does not have: for words that nobody chose."""
        cmap = self._pdf.fonts["sheet"].cmap  # type: ignore[union-attr]
        return "".join(sign if ord(sign) in cmap else "?" for sign in text)

    def _known(self, text: str) -> str:
        """The text, if the typeface has all its signs."""
        font = self._pdf.fonts["sheet"]
        for sign in text:
            if ord(sign) not in font.cmap:  # type: ignore[union-attr]
                raise SettingsError(f"The typeface of the sheets has no sign {sign!r} ({text!r}). Use Latin letters there.")
        return text

    # --- shapes -----------------------------------------------------------------------------------------------------------

    def picture(self, picture: Picture, left: float, top: float, width: float, height: float) -> None:
        """Draw a picture as large as goes into a box, in its middle."""
        self.draw(fitted(picture, left, top, width, height))

    def draw(self, shapes: Iterable[Shape]) -> None:
        """Draw shapes whose units are millimetres."""
        with self._pdf.local_context(stroke_join_style="round", stroke_cap_style="round"):
            for shape in shapes:
                self._shape(shape)

    def box(
        self, left: float, top: float, width: float, height: float, *, dash: float = 0, line: float = 0.5, fill: str = ""
    ) -> None:
        """Draw a rectangle."""
        self.draw([Polygon(rectangle(left, top, width, height), fill, self.look.dark, line, dash)])

    def rule(self, start: Spot, end: Spot, *, dash: float = 0, line: float = 0.3) -> None:
        """Draw a line."""
        self.draw([Polygon((start, end), "", self.look.dark, line, dash, closed=False)])

    def photo(self, jpeg: bytes, left: float, top: float, width: float, height: float) -> None:
        """Lay a photo into a box, whole and in its middle."""
        self._pdf.image(BytesIO(jpeg), left, top, width, height, keep_aspect_ratio=True)

    def _shape(self, shape: Shape) -> None:
        match shape:
            case Polygon():
                self._polygon(shape)
            case Ellipse():
                (x, y), across, down = shape.middle, shape.across, shape.down
                self._pdf.ellipse(x - across, y - down, 2 * across, 2 * down, self._ink(shape))
            case Text():
                self._drawn_text(shape)

    def _polygon(self, shape: Polygon) -> None:
        style = self._ink(shape)
        self._pdf.set_dash_pattern(shape.dash, shape.dash)
        if shape.closed:
            self._pdf.polygon(shape.points, style=style)
        else:
            self._pdf.polyline(shape.points, style=style)
        self._pdf.set_dash_pattern()

    def _ink(self, shape: Polygon | Ellipse) -> RenderStyle:
        if shape.stroke:
            self._pdf.set_draw_color(shape.stroke)
            self._pdf.set_line_width(shape.width)
        if shape.fill:
            self._pdf.set_fill_color(shape.fill)
        return _STYLES[bool(shape.stroke), bool(shape.fill)]

    def _drawn_text(self, shape: Text) -> None:
        size = shape.size / POINT_MM
        self._font(size, shape.bold)
        width = self._pdf.get_string_width(shape.text)
        left = shape.at[0] - {"start": 0.0, "middle": width / 2, "end": width}[shape.anchor]
        self._pdf.set_text_color(shape.colour)
        self._pdf.text(left, shape.at[1], self._known(shape.text))

    # --- tables -----------------------------------------------------------------------------------------------------------

    def tick_box(self, left: float, top: float, size: float = 7) -> None:
        """A box to tick."""
        self.box(left, top, size, size, line=0.6)

    def grid(self, left: float, top: float, widths: Sequence[float], heights: Sequence[float]) -> None:
        """The lines of a table."""
        across, down = sum(widths), sum(heights)
        for index in range(len(heights) + 1):
            y = top + sum(heights[:index])
            self.rule((left, y), (left + across, y))
        for index in range(len(widths) + 1):
            x = left + sum(widths[:index])
            self.rule((x, top), (x, top + down))
