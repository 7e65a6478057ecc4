"""The timeline as drawings: strips of three minutes one below the other, one lane a seat, in SVG.

What lives here: where everything stands and how it is told apart, in colour and in grey: roles by pattern and letter besides.
What must not: text that a screen reader needs only here; the table beside it says the same.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from html import escape

from assistant.core.measures.record import Record, Utterance
from assistant.core.measures.repairs import Mending
from assistant.core.measures.spans import Span
from assistant.events import CueStarted, Event, RolesSet, StepDone
from assistant.outputs.exports.lanes import doing, lanes
from assistant.samples import clock_face, to_samples
from assistant.terms import Role, Seat

STRIP = to_samples(180)
LEFT, WIDTH, TOP, LANE, BAR, BOTTOM = 34, 960, 26, 30, 14, 12  # in units of the drawing, which fits any width
LETTERS = {Role.ENGINEER: "E", Role.SUPPLIER: "S", Role.BUILDER: "B", None: ""}
ROOM_FOR_LETTER = 9


@dataclass(frozen=True, slots=True)
class Colours:
    """One colour a role, and the inks, from ``shared/look.toml``."""

    roles: dict[str, str]
    dark: str
    line: str
    shade: str


class Strips:
    """Draws a session, strip by strip."""

    def __init__(
        self, record: Record, repairs: Sequence[Mending], events: Sequence[Event], marks: Mapping[str, str]
    ) -> None:
        self._words = marks
        self._record = record
        self._lanes = lanes(record)
        self._repairs = repairs
        self._events = events
        ends = [record.span.end_sample, *(one.span.end_sample for one in record.utterances)]
        self._end = max(1, *ends)
        self._height = TOP + LANE * len(self._lanes) + BOTTOM

    def draw(self) -> str:
        """All strips, each an SVG."""
        return "\n".join(self._strip(Span(start, start + STRIP)) for start in range(0, self._end, STRIP))

    def _strip(self, strip: Span) -> str:
        parts = [*self._unheard(strip), *self._axes(strip), *self._bars(strip), *self._marks(strip), *self._arcs(strip)]
        title = f"{clock_face(strip.start_sample)} to {clock_face(strip.end_sample)}"
        size = f'viewBox="0 0 {LEFT + WIDTH + 6} {self._height}"'
        return f'<svg {size} role="group" aria-label="{title}">{"".join(parts)}</svg>'

    def _x(self, sample: int, strip: Span) -> float:
        return LEFT + (sample - strip.start_sample) * WIDTH / STRIP

    def _y(self, seat: Seat) -> float:
        return TOP + LANE * list(self._lanes).index(seat) if seat in self._lanes else TOP

    def _axes(self, strip: Span) -> Iterator[str]:
        for seat in self._lanes:
            middle = self._y(seat) + LANE / 2
            yield f'<text class="seat" x="4" y="{middle + 5}">{escape(seat.value)}</text>'
            yield f'<line class="lane" x1="{LEFT}" x2="{LEFT + WIDTH}" y1="{middle}" y2="{middle}"/>'
        for at in range(strip.start_sample, strip.end_sample, to_samples(30)):
            x = self._x(at, strip)
            yield f'<text class="time" x="{x}" y="{self._height - 2}">{clock_face(at)}</text>'

    def _unheard(self, strip: Span) -> Iterator[str]:
        for name, spans in (("muted", self._record.muted), ("lost", self._record.lost)):
            for part in filter(None, (span & strip for span in spans)):
                x, width = self._x(part.start_sample, strip), part.length * WIDTH / STRIP
                place = f'x="{x:.1f}" y="{TOP}" width="{width:.1f}" height="{self._height - TOP - BOTTOM}"'
                yield f'<rect class="{name}" {place}><title>{name}</title></rect>'

    def _marks(self, strip: Span) -> Iterator[str]:
        for event in self._events:
            if strip.start_sample <= event.sample < strip.end_sample:
                x, bottom = f"{self._x(event.sample, strip):.1f}", self._height - BOTTOM
                if isinstance(event, RolesSet):
                    name = self._words["swap" if event.round > 1 else "roles"]
                    yield f'<path class="swap" d="M{x} 12V{bottom}"><title>{name} {event.round}</title></path>'
                    yield f'<text class="mark" x="{x}" y="9">{name}</text>'
                    yield from self._roles(event, x)
                elif isinstance(event, CueStarted):
                    yield f'<path class="cue" d="M{x} 16V{bottom}"><title>cue: {event.cue}</title></path>'
                elif isinstance(event, StepDone):
                    yield f'<text class="mark step" x="{x}" y="{TOP - 4}">✓{event.step}</text>'

    def _roles(self, event: RolesSet, x: str) -> Iterator[str]:
        for seat, role in event.roles:
            yield f'<text class="role" x="{float(x) + 2}" y="{self._y(seat) + 9}">{LETTERS[role]}</text>'

    def _bars(self, strip: Span) -> Iterator[str]:
        for seat, said in self._lanes.items():
            for one in said:
                if part := one.span & strip:
                    yield self._bar(one, part, strip, self._y(seat) + (LANE - BAR) / 2)

    def _bar(self, one: Utterance, part: Span, strip: Span, y: float) -> str:
        x, width = self._x(part.start_sample, strip), max(1.0, part.length * WIDTH / STRIP)
        role = one.role.value if one.role else "none"
        drawn = f'<rect class="{role}" x="{x:.1f}" y="{y}" width="{width:.1f}" height="{BAR}"/>'
        if width >= ROOM_FOR_LETTER and one.role:
            drawn += f'<text class="letter" x="{x + width / 2:.1f}" y="{y + 11}">{LETTERS[one.role]}</text>'
        if one.meaning and one.meaning.request and part.start_sample == one.span.start_sample:
            drawn += f'<text class="fit" x="{x + width / 2:.1f}" y="{y - 1}">{one.meaning.request.fits_after}</text>'
        return f'<g class="bar" data-at="{one.span.start_sample}" aria-label="{escape(told(one))}">{drawn}</g>'

    def _arcs(self, strip: Span) -> Iterator[str]:
        for one in self._repairs:
            if one.lasted_samples is None or one.mended is None:
                continue
            whole = Span(one.start_sample, one.start_sample + one.lasted_samples)
            if whole & strip:
                x1, x2 = self._x(whole.start_sample, strip), self._x(whole.end_sample, strip)
                y1, y2 = (self._y(seat) + (LANE + BAR) / 2 for seat in (one.began, one.mended))
                over = f"{(x1 + x2) / 2:.1f} {max(y1, y2) + LANE * 0.6}"
                told_kind = f"{one.kind}: {one.began} asked, {one.mended} made it clear"
                yield f'<path class="arc" d="M{x1:.1f} {y1}Q{over} {x2:.1f} {y2}"><title>{escape(told_kind)}</title></path>'


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
    """The rules that give every class its pattern."""
    return "\n".join(f".{name}{{fill:url(#p-{name})}}" for name in names)
