"""The timeline as drawings: strips of some minutes one below the other, one lane a seat, for the screen (SVG) and for paper.

What lives here: where everything stands and how it is told apart, in colour and in grey: roles by pattern and letter besides.
What must not: text that a screen reader needs only here; the table beside it says the same.

:class:`Strips` says what stands where; :func:`svg` and :func:`shapes` are two ways to draw it.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from html import escape
from itertools import count, takewhile

from assistant.core.measures.record import Record, Utterance
from assistant.core.measures.repairs import Mending
from assistant.core.measures.spans import Span
from assistant.events import CueStarted, Event, RolesSet, StepDone
from assistant.outputs.exports.lanes import doing, lanes
from assistant.outputs.pictures.shapes import Polygon, Shape, Text, rectangle
from assistant.samples import clock_face, to_samples
from assistant.terms import Role, Seat

LEFT, WIDTH, BOTTOM, BAR = 34, 960, 12, 14  # in units of the drawing, which fits any width
WHOLE_WIDTH = LEFT + WIDTH + 6
LETTERS = {Role.ENGINEER: "E", Role.SUPPLIER: "S", Role.BUILDER: "B", None: ""}
ROOM_FOR_LETTER = 9
ROOM_FOR_PATTERN = 2.5
TILE = 6  # of a pattern


@dataclass(frozen=True, slots=True)
class Scale:
    """How much time a strip holds, how far apart the times stand below it, and how high its parts are, in units.

    ``details``: what is too small for a whole session at one glance: steps, cues, repairs, how many pieces fitted, and what a
    line is called.
    """

    strip_samples: int
    tick_samples: int
    top: int = 26
    lane: int = 30
    bar: int = BAR
    details: bool = True


WHOLE = Scale(to_samples(180), to_samples(30))
"""Everything can be read."""

MOST_STRIPS = 3
_GLANCES = tuple(
    Scale(to_samples(60 * minutes), to_samples(60 * tick), top=8, lane=17, bar=11, details=False)
    for minutes, tick in ((2, 0.5), (3, 0.5), (5, 1), (10, 2), (15, 3), (20, 5), (30, 5), (60, 10))
)


def glance(length_samples: int, most: int = MOST_STRIPS) -> Scale:
    """The largest scale in which a session of this length has so many strips at most."""
    return next((one for one in _GLANCES if one.strip_samples * most >= length_samples), _GLANCES[-1])


@dataclass(frozen=True, slots=True)
class Colours:
    """One colour a role, and the inks, from ``shared/look.toml``."""

    roles: dict[str, str]
    dark: str
    line: str
    shade: str

    def variables(self) -> str:
        """The inks, for a style sheet."""
        return f":root{{--dark:{self.dark};--line:{self.line};--shade:{self.shade};}}\n"


@dataclass(frozen=True, slots=True)
class Lettering:
    """How a text on the drawing looks: its height in units, its weight, and which part of it stands at its place."""

    size: float
    bold: bool = False
    anchor: str = "start"


LETTERING = {
    "seat": Lettering(15, bold=True),
    "time": Lettering(9),
    "mark": Lettering(9),
    "step": Lettering(8.5, anchor="middle"),
    "role": Lettering(9, bold=True),
    "letter": Lettering(10, bold=True, anchor="middle"),
    "fit": Lettering(9.5, bold=True, anchor="middle"),
}
LINES = {"swap": (1.4, 0.0), "cue": (0.8, 2.0), "arc": (1.1, 0.0)}
"""How thick a line is, and how long its dashes are."""


@dataclass(frozen=True, slots=True)
class Label:
    """A text at a place."""

    kind: str
    x: float
    y: float
    text: str


@dataclass(frozen=True, slots=True)
class Box:
    """A filled rectangle, told apart by its pattern."""

    kind: str
    x: float
    y: float
    width: float
    height: float


@dataclass(frozen=True, slots=True)
class Bar:
    """A turn: its box, what is written on it, when it began, and what it was in words."""

    box: Box
    labels: tuple[Label, ...]
    at: int
    told: str


@dataclass(frozen=True, slots=True)
class Lane:
    """The middle of a seat's lane."""

    y: float


@dataclass(frozen=True, slots=True)
class Upright:
    """A moment that concerns everybody: a line from above down to the foot."""

    kind: str
    x: float
    top: float
    bottom: float
    told: str


@dataclass(frozen=True, slots=True)
class Arc:
    """From a question to what made it clear: a curve between two places, drawn towards a third."""

    start: tuple[float, float]
    towards: tuple[float, float]
    end: tuple[float, float]
    told: str


Item = Label | Box | Bar | Lane | Upright | Arc


def end_of(record: Record) -> int:
    """Where the timeline ends, in samples: with the session, or with the last word where somebody still spoke then."""
    return max(1, record.span.end_sample, *(one.span.end_sample for one in record.utterances))


class Strips:
    """Says what stands where in each strip of a session."""

    def __init__(
        self,
        record: Record,
        repairs: Sequence[Mending],
        events: Sequence[Event],
        marks: Mapping[str, str],
        scale: Scale = WHOLE,
    ) -> None:
        self._scale = scale
        self._words = marks
        self._record = record
        self._lanes = lanes(record)
        self._repairs = repairs
        self._events = events
        self._end = end_of(record)
        self.height = scale.top + scale.lane * len(self._lanes) + BOTTOM

    def __iter__(self) -> Iterator[Span]:
        """The strips, in their order."""
        length = self._scale.strip_samples
        return (Span(start, start + length) for start in range(0, self._end, length))

    def items(self, strip: Span) -> Iterator[Item]:
        """Everything on a strip, from the back to the front."""
        for part in (self._unheard, self._axes, self._bars, self._marks):
            yield from part(strip)
        if self._scale.details:
            yield from self._arcs(strip)

    def _x(self, sample: int, strip: Span) -> float:
        return LEFT + self._wide(sample - strip.start_sample)

    def _wide(self, samples: int) -> float:
        return samples * WIDTH / self._scale.strip_samples

    def _y(self, seat: Seat) -> float:
        """The upper edge of a seat's lane."""
        return self._scale.top + self._scale.lane * list(self._lanes).index(seat) if seat in self._lanes else self._scale.top

    def _axes(self, strip: Span) -> Iterator[Item]:
        for seat in self._lanes:
            middle = self._y(seat) + self._scale.lane / 2
            yield Label("seat", 4, middle + 5, seat.value)
            yield Lane(middle)
        for at in range(strip.start_sample, strip.end_sample, self._scale.tick_samples):
            yield Label("time", self._x(at, strip), self.height - 2, clock_face(at))

    def _unheard(self, strip: Span) -> Iterator[Item]:
        top = self._scale.top
        for name, spans in (("muted", self._record.muted), ("lost", self._record.lost)):
            for part in filter(None, (span & strip for span in spans)):
                yield Box(name, self._x(part.start_sample, strip), top, self._wide(part.length), self.height - top - BOTTOM)

    def _marks(self, strip: Span) -> Iterator[Item]:
        for event in self._events:
            if strip.start_sample <= event.sample < strip.end_sample:
                x, bottom = self._x(event.sample, strip), self.height - BOTTOM
                if isinstance(event, RolesSet):
                    name = self._words["swap" if event.round > 1 else "roles"]
                    yield Upright("swap", x, max(0, self._scale.top - 14), bottom, f"{name} {event.round}")
                    if self._scale.details:
                        yield Label("mark", x, 9, name)
                    yield from (Label("role", x + 2, self._y(seat) + 9, LETTERS[role]) for seat, role in event.roles)
                elif isinstance(event, CueStarted) and self._scale.details:
                    yield Upright("cue", x, 16, bottom, f"cue: {event.cue}")
                elif isinstance(event, StepDone) and self._scale.details:
                    yield Label("step", x, self._scale.top - 4, f"✓{event.step}")

    def _bars(self, strip: Span) -> Iterator[Item]:
        for seat, said in self._lanes.items():
            for one in said:
                if part := one.span & strip:
                    yield self._bar(one, part, strip, self._y(seat) + (self._scale.lane - self._scale.bar) / 2)

    def _bar(self, one: Utterance, part: Span, strip: Span, y: float) -> Bar:
        x, width = self._x(part.start_sample, strip), max(1.0, self._wide(part.length))
        box = Box(one.role.value if one.role else "none", x, y, width, self._scale.bar)
        labels = self._on_bar(one, box, is_start=part.start_sample == one.span.start_sample) if self._scale.details else ()
        return Bar(box, tuple(labels), one.span.start_sample, told(one))

    def _on_bar(self, one: Utterance, box: Box, *, is_start: bool) -> Iterator[Label]:
        middle = box.x + box.width / 2
        if box.width >= ROOM_FOR_LETTER and one.role:
            yield Label("letter", middle, box.y + 11, LETTERS[one.role])
        if one.meaning and one.meaning.request and is_start:
            yield Label("fit", middle, box.y - 1, str(one.meaning.request.fits_after))

    def _arcs(self, strip: Span) -> Iterator[Item]:
        for one in self._repairs:
            if one.lasted_samples is None or one.mended is None:
                continue
            whole = Span(one.start_sample, one.start_sample + one.lasted_samples)
            if whole & strip:
                x1, x2 = self._x(whole.start_sample, strip), self._x(whole.end_sample, strip)
                lane, bar = self._scale.lane, self._scale.bar
                y1, y2 = (self._y(seat) + (lane + bar) / 2 for seat in (one.began, one.mended))
                towards = ((x1 + x2) / 2, max(y1, y2) + lane * 0.6)
                told_kind = f"{one.kind}: {one.began} asked, {one.mended} made it clear"
                yield Arc((x1, y1), towards, (x2, y2), told_kind)


def told(one: Utterance) -> str:
    """An utterance in a line: ``"1:02 A engineer: request, 3 fit"``, with its words where they were kept."""
    who = f"{one.seat} {one.role}" if one.role else one.seat.value
    words = f' "{" ".join(one.texts)}"' if one.texts else ""
    return f"{clock_face(one.span.start_sample)} {who}: {doing(one)}{words}"


def patterns(colours: Colours) -> str:
    """What bars and hatches are filled with: told apart without colour."""
    engineer, supplier, builder = (colours.roles[role] for role in ("engineer", "supplier", "builder"))
    ink = colours.dark
    return f"""<svg class="hidden" aria-hidden="true"><defs>
{_pattern("engineer", engineer, "")}
{_pattern("supplier", supplier, f'<path d="M1 0V6M4 0V6" stroke="{ink}" stroke-width="0.8"/>')}
{_pattern("builder", builder, f'<path d="M0 1.5H6M0 4.5H6" stroke="{ink}" stroke-width="1.4" stroke-dasharray="1.4 1.6"/>')}
{_pattern("none", "#FFFFFF", "")}
{_pattern("muted", colours.shade, f'<path d="M0 6L6 0" stroke="{colours.line}" stroke-width="1.5"/>')}
{_pattern("lost", colours.shade, f'<path d="M0 0L6 6M0 6L6 0" stroke="{ink}" stroke-width="0.6"/>')}
</defs></svg>"""


def _pattern(name: str, ground: str, drawn: str) -> str:
    head = f'<pattern id="p-{name}" width="6" height="6" patternUnits="userSpaceOnUse">'
    return f'{head}<rect width="6" height="6" fill="{ground}"/>{drawn}</pattern>'


def swatch(kind: str) -> str:
    """A small sample of a bar, for the legend."""
    return f'<svg class="swatch" viewBox="0 0 24 14" aria-hidden="true"><rect class="{kind}" width="24" height="14"/></svg>'


def style(names: Iterable[str] = ("engineer", "supplier", "builder", "none", "muted", "lost")) -> str:
    """The rules that give every class its pattern, its letters and its lines."""
    filled = [f".{name}{{fill:url(#p-{name})}}" for name in names]
    letters = [
        f".{kind}{{font-size:{one.size}px;text-anchor:{one.anchor}{';font-weight:bold' * one.bold}}}"
        for kind, one in LETTERING.items()
    ]
    lines = [
        f".{kind}{{fill:none;stroke:var(--dark);stroke-width:{width}{f';stroke-dasharray:{dash} {dash}' * bool(dash)}}}"
        for kind, (width, dash) in LINES.items()
    ]
    return "\n".join((*filled, *letters, *lines))


# --- on the screen ----------------------------------------------------------------------------------------------------------


def svg(strips: Strips) -> str:
    """All strips, each an SVG."""
    return "\n".join(_strip(strips, strip) for strip in strips)


def _strip(strips: Strips, strip: Span) -> str:
    title = f"{clock_face(strip.start_sample)} to {clock_face(strip.end_sample)}"
    drawn = "".join(map(_svg, strips.items(strip)))
    return f'<svg viewBox="0 0 {WHOLE_WIDTH} {strips.height}" role="group" aria-label="{title}">{drawn}</svg>'


def _svg(item: Item) -> str:
    match item:
        case Label():
            return f'<text class="{item.kind}" x="{item.x:.1f}" y="{item.y:.1f}">{escape(item.text)}</text>'
        case Box():
            return f"{_rect(item)}<title>{item.kind}</title></rect>"
        case Bar():
            drawn = f"{_rect(item.box)}</rect>{''.join(map(_svg, item.labels))}"
            return f'<g class="bar" data-at="{item.at}" aria-label="{escape(item.told)}">{drawn}</g>'
        case Lane():
            return f'<line class="lane" x1="{LEFT}" x2="{LEFT + WIDTH}" y1="{item.y}" y2="{item.y}"/>'
        case Upright():
            way = f"M{item.x:.1f} {item.top}V{item.bottom}"
            return f'<path class="{item.kind}" d="{way}"><title>{escape(item.told)}</title></path>'
        case Arc():
            start, towards, end = (f"{x:.1f} {y:.1f}" for x, y in (item.start, item.towards, item.end))
            return f'<path class="arc" d="M{start}Q{towards} {end}"><title>{escape(item.told)}</title></path>'


def _rect(box: Box) -> str:
    place = f'x="{box.x:.1f}" y="{box.y}" width="{box.width:.1f}" height="{box.height}"'
    return f'<rect class="{box.kind}" {place}>'


# --- on paper ---------------------------------------------------------------------------------------------------------------


def shapes(items: Iterable[Item], colours: Colours) -> Iterator[Shape]:
    """The same as plain shapes, in units of the drawing."""
    for item in items:
        yield from _shapes(item, colours)


def _shapes(item: Item, colours: Colours) -> Iterator[Shape]:
    match item:
        case Label():
            yield from _lettered(item, colours)
        case Box():
            yield from _filled(item, colours)
        case Bar():
            yield from _filled(item.box, colours)
            yield from shapes(item.labels, colours)
        case Lane():
            yield _line(((LEFT, item.y), (LEFT + WIDTH, item.y)), colours.line, 0.5)
        case Upright():
            width, dash = LINES[item.kind]
            yield _line(((item.x, item.top), (item.x, item.bottom)), colours.dark, width, dash)
        case Arc():
            yield _line(tuple(_curve(item)), colours.dark, LINES["arc"][0])


def _filled(box: Box, colours: Colours) -> Iterator[Shape]:
    """A box with its pattern, as in :func:`patterns`; a turn has an outline. A short turn has neither: it would be all ink."""
    outline = rectangle(box.x, box.y, box.width, box.height)
    if box.kind in ("muted", "lost"):
        yield Polygon(outline, colours.shade)
        yield from _hatched(box, colours)
    elif box.width < ROOM_FOR_PATTERN:
        yield Polygon(outline, colours.roles.get(box.kind, colours.dark))
    else:
        yield Polygon(outline, colours.roles.get(box.kind, "#FFFFFF"))
        yield from _hatched(box, colours)
        yield Polygon(outline, "", colours.dark, 0.6)


def _hatched(box: Box, colours: Colours) -> Iterator[Shape]:
    match box.kind:
        case "supplier":
            yield from (_line(((x, box.y), (x, box.y + box.height)), colours.dark, 0.8) for x in _every(3, box.x, box.width))
        case "builder":
            for y in _every(4, box.y, box.height):
                yield _line(((box.x, y), (box.x + box.width, y)), colours.dark, 0.8, 2)
        case "muted":
            yield from (_line(one, colours.line, 1.5) for one in _slanting(box, 1))
        case "lost":
            yield from (_line(one, colours.dark, 0.6) for slant in (1, -1) for one in _slanting(box, slant))


def _every(step: float, start: float, length: float) -> Iterator[float]:
    return takewhile(lambda at: at < start + length, count(start + step / 2, step))


def _slanting(box: Box, slant: int) -> Iterator[tuple[tuple[float, float], tuple[float, float]]]:
    """Lines at 45 degrees, a tile apart, as far as they lie in the box."""
    for along in _every(TILE, 0, box.width + box.height):
        low, high = max(0.0, along - box.height), min(box.width, along)
        ends = [(box.x + x, box.y + (along - x if slant > 0 else box.height - along + x)) for x in (low, high)]
        yield ends[0], ends[1]


def _curve(arc: Arc, pieces: int = 12) -> Iterator[tuple[float, float]]:
    """Places along a quadratic curve."""
    for at in (number / pieces for number in range(pieces + 1)):
        weights = ((1 - at) ** 2, 2 * at * (1 - at), at**2)
        spots = (arc.start, arc.towards, arc.end)
        yield tuple(sum(weight * spot[axis] for weight, spot in zip(weights, spots, strict=True)) for axis in (0, 1))  # type: ignore[misc]


def _lettered(label: Label, colours: Colours) -> Iterator[Shape]:
    look, text = LETTERING[label.kind], label.text
    if label.kind == "letter":  # white behind it, or the pattern makes it hard to read
        yield Polygon(rectangle(label.x - 4, label.y - 9, 8, 11), "#FFFFFF")
    if text.startswith("✓"):  # the typeface of the sheets has no such sign
        text, x, y = text[1:], label.x - 3, label.y
        yield _line(((x - 5, y - 3), (x - 3, y), (x + 1, y - 7)), colours.dark, 0.8)
        label = Label(label.kind, label.x + 2 + 2 * len(text), label.y, text)
    yield Text((label.x, label.y), text, look.size, colours.dark, look.bold, look.anchor)


def _line(points: tuple[tuple[float, float], ...], ink: str, width: float, dash: float = 0) -> Polygon:
    return Polygon(points, "", ink, width, dash, closed=False)
