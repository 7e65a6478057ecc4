"""Turns: who had the floor, what lay between, and what could not be heard.

What lives here: inter-pausal units, turns, and the pauses, gaps and overlaps between them. What must not: what was said.

Definitions: Heldner & Edlund 2010 (J. Phonetics 38:555-568), for any number of seats. The floor is with whoever spoke last to
the end; speech that begins and ends while another is still speaking does not take it::

    A  ▄▄▄▄▄▄▄  ▄▄▄▄                  ▄▄▄▄▄▄▄▄
    B                  ▄▄▄▄▄▄▄▄▄▄
    C                    ▄▄▄     ▄▄▄▄▄
              pp    ggg  www    oo   ggg         p pause, g gap, w overlap within, o overlap between

Muted and lost spans cut the session into stretches; each stretch is taken by itself, so that no silence and no floor transfer
is measured across something nobody heard. A span shorter than the silence that ends a unit cuts nothing.
"""

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from enum import StrEnum

from assistant.core.measures.record import Record, Utterance
from assistant.core.measures.spans import Holes, Span, joined, left_free
from assistant.samples import to_samples
from assistant.terms import Role, Seat

UNIT_SILENCE = to_samples(0.2)
"""Silence that ends an inter-pausal unit. 200 ms: close to the shortest pause and gap that listeners notice; usual in the
field (Heldner & Edlund 2010 discuss 180 to 200 ms; from memory)."""


class Between(StrEnum):
    """What lies between speech and the speech after it."""

    PAUSE = "pause"  # silence, the same seat goes on
    GAP = "gap"  # silence, another seat goes on
    OVERLAP = "overlap between"  # another seat begins before the end, and keeps the floor
    WITHIN = "overlap within"  # another seat begins and ends inside
    FLUSH = "flush"  # another seat begins at the very sample: no gap, no overlap


@dataclass(frozen=True, slots=True)
class Speech:
    """A stretch of speech of one seat: what the floor is worked out from."""

    span: Span
    seat: Seat


@dataclass(frozen=True, slots=True)
class Unit(Speech):
    """An inter-pausal unit: speech of one seat with no silence of 200 ms or more inside."""

    utterances: tuple[Utterance, ...]

    @property
    def role(self) -> Role | None:
        """The role in which it began."""
        return self.utterances[0].role

    @property
    def words(self) -> tuple[str, ...]:
        """All its words."""
        return tuple(word for utterance in self.utterances for word in utterance.texts)


@dataclass(frozen=True, slots=True)
class Interval:
    """What lay between the floor holder ``before`` and the next speech, of ``after``.

    ``span`` is the silence or the overlap. ``offset_samples`` is the start of the next speech minus the end of the floor
    holder's: the floor transfer offset where the floor changes, negative in overlap.
    """

    kind: Between
    before: Seat
    after: Seat
    span: Span
    offset_samples: int

    @property
    def is_transfer(self) -> bool:
        """Whether the floor goes to another seat."""
        return self.kind in (Between.GAP, Between.OVERLAP, Between.FLUSH)


@dataclass(frozen=True, slots=True)
class Turn:
    """The units of one seat that no other seat's divide. ``inside``: spoken wholly inside somebody else's turn."""

    units: tuple[Unit, ...]
    inside: bool

    @property
    def seat(self) -> Seat:
        """Whose turn it is."""
        return self.units[0].seat

    @property
    def span(self) -> Span:
        """From the start of its first unit to the end of its last."""
        return Span(self.units[0].span.start_sample, self.units[-1].span.end_sample)


@dataclass(frozen=True, slots=True)
class Stretch:
    """A part of the session that was heard without a break."""

    span: Span
    units: tuple[Unit, ...]
    turns: tuple[Turn, ...]
    intervals: tuple[Interval, ...]


@dataclass(frozen=True, slots=True)
class Floor:
    """The whole session: the stretches that were heard, and the spans that were not."""

    span: Span
    stretches: tuple[Stretch, ...]
    unheard: tuple[Span, ...]

    @property
    def units(self) -> tuple[Unit, ...]:
        """Every unit, in order."""
        return tuple(unit for stretch in self.stretches for unit in stretch.units)

    @property
    def turns(self) -> tuple[Turn, ...]:
        """Every turn, in order of its start."""
        return tuple(turn for stretch in self.stretches for turn in stretch.turns)

    @property
    def intervals(self) -> tuple[Interval, ...]:
        """Everything between units, in order."""
        return tuple(interval for stretch in self.stretches for interval in stretch.intervals)


def floor_of(record: Record) -> Floor:
    """Units, turns and what lies between them, over a whole session."""
    unheard = tuple(span & record.span for span in joined((*record.muted, *record.lost)) if span.length >= UNIT_SILENCE)
    stretches = left_free(record.span, unheard)
    shares = _shared_out(record.utterances, stretches)
    return Floor(record.span, tuple(map(_stretch, stretches, shares)), tuple(filter(None, unheard)))


def _shared_out(utterances: Iterable[Utterance], stretches: Sequence[Span]) -> list[list[Utterance]]:
    """For each stretch the utterances that fall into it, cut to it. Utterances come in order of their start."""
    shares: list[list[Utterance]] = [[] for _ in stretches]
    starts, ends = [one.start_sample for one in stretches], [one.end_sample for one in stretches]
    for utterance in utterances:
        first, last = bisect_right(ends, utterance.span.start_sample), bisect_left(starts, utterance.span.end_sample)
        for part in utterance.cut_to(stretches[first:last]):
            shares[bisect_right(starts, part.span.start_sample) - 1].append(part)
    return shares


def _stretch(span: Span, share: Iterable[Utterance]) -> Stretch:
    units = inter_pausal_units(share)
    between = tuple(intervals(units))
    return Stretch(span, units, turns(units, between), between)


def inter_pausal_units(utterances: Iterable[Utterance]) -> tuple[Unit, ...]:
    """Join what each seat said across silences shorter than 200 ms.

    Args:
        utterances: in order of their start.
    """
    units: list[Unit] = []
    latest: dict[Seat, int] = {}  # where each seat's last unit stands in the list
    for utterance in utterances:
        at = latest.get(utterance.seat)
        if at is not None and utterance.span.start_sample - units[at].span.end_sample < UNIT_SILENCE:
            units[at] = _extended(units[at], utterance)
        else:
            latest[utterance.seat] = len(units)
            units.append(Unit(utterance.span, utterance.seat, (utterance,)))
    return tuple(sorted(units, key=_by_time))


def _extended(unit: Unit, utterance: Utterance) -> Unit:
    end = max(unit.span.end_sample, utterance.span.end_sample)
    return Unit(Span(unit.span.start_sample, end), unit.seat, (*unit.utterances, utterance))


def intervals(speech: Iterable[Speech]) -> Iterator[Interval]:
    """What lies between each stretch of speech and the one after it: one interval fewer than there are stretches.

    Args:
        speech: in any order; stretches of one seat do not overlap one another.

    Source: Heldner & Edlund 2010; the walk is that of pympi-ling's ``get_gaps_and_overlaps2``, for any number of seats.
    """
    in_order = sorted(speech, key=_by_time)
    if not in_order:
        return
    holder = in_order[0]
    for following in in_order[1:]:
        interval = _between(holder, following)
        yield interval
        if interval.kind is not Between.WITHIN:
            holder = following


def _between(holder: Speech, following: Speech) -> Interval:
    start, end = following.span.start_sample, holder.span.end_sample
    if following.seat is holder.seat:
        kind, span = Between.PAUSE, Span(end, start)
    elif holder.span.start_sample < start and following.span.end_sample < end:
        kind, span = Between.WITHIN, following.span
    elif start < end:
        kind, span = Between.OVERLAP, Span(start, end)
    else:
        kind, span = (Between.GAP if start > end else Between.FLUSH), Span(end, start)
    return Interval(kind, holder.seat, following.seat, span, start - end)


def turns(units: Sequence[Unit], between: Sequence[Interval]) -> tuple[Turn, ...]:
    """The units gathered into turns.

    Args:
        units: in order of their start.
        between: what :func:`intervals` gives for them.
    """
    gathered: list[tuple[list[Unit], bool]] = []
    floor: list[Unit] = []  # the turn that has the floor
    kind_before = None
    for unit, interval in zip(units, (None, *between), strict=False):
        kind = interval.kind if interval else None
        if kind is Between.PAUSE:
            floor.append(unit)
        elif kind is Between.WITHIN is kind_before and gathered[-1][0][-1].seat is unit.seat:
            gathered[-1][0].append(unit)
        else:
            gathered.append(([unit], kind is Between.WITHIN))
            floor = floor if kind is Between.WITHIN else gathered[-1][0]
        kind_before = kind
    return tuple(Turn(tuple(group), inside) for group, inside in gathered)


def transfers(between: Iterable[Interval]) -> dict[tuple[Seat, Seat], tuple[int, ...]]:
    """The floor transfer offsets of each ordered pair of known seats, in samples, in their order.

    A transfer to or from somebody unsure belongs to no pair.
    """
    offsets: dict[tuple[Seat, Seat], list[int]] = {}
    for interval in between:
        if interval.is_transfer and Seat.UNSURE not in (interval.before, interval.after):
            offsets.setdefault((interval.before, interval.after), []).append(interval.offset_samples)
    return {pair: tuple(values) for pair, values in sorted(offsets.items())}


def longest_silence(seat: Seat, floor: Floor) -> int:
    """The longest time without a word of this seat, from the session's first sample to its last, less what was not heard."""
    own = joined(unit.span for unit in floor.units if unit.seat is seat)
    holes = Holes(floor.unheard)
    ends = (floor.span.start_sample, *(span.end_sample for span in own))
    starts = (*(span.start_sample for span in own), floor.span.end_sample)
    quiet = (Span(end, start) for end, start in zip(ends, starts, strict=True))
    return max(span.length - holes.within(span) for span in quiet)


def _by_time(speech: Speech) -> tuple[Span, Seat]:
    return (speech.span, speech.seat)
