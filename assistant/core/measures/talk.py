"""How the session's time and the turns were shared.

What lives here: counts and lengths, and the evenness derived from them. What must not: who should have had more.
"""

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import log
from statistics import median
from typing import ClassVar

from assistant.core.measures.record import Record
from assistant.core.measures.spans import Holes, joined, total
from assistant.core.measures.spread import Spread
from assistant.core.measures.turns import Between, Floor, Interval, Stretch, longest_silence, transfers
from assistant.samples import to_samples
from assistant.terms import CHILDREN, Role, Seat

LAPSE = to_samples(10.0)
"""A silence this long is a lapse: talk has stopped, not paused. Chosen, not measured: hands are busy in this work, and a
silence of a few seconds is nothing out of the way."""


@dataclass(frozen=True, slots=True)
class Time:
    """Where the session's time went. The six lengths add up to its whole length."""

    speech_samples: int
    gap_samples: int
    pause_samples: int
    edge_samples: int
    """Silence beside the start, the end, or something that was not heard: nobody can say between which turns it lay."""
    muted_samples: int
    lost_samples: int

    @property
    def whole_samples(self) -> int:
        """The session's length."""
        return self.heard_samples + self.muted_samples + self.lost_samples

    @property
    def heard_samples(self) -> int:
        """What of it the ears were open for."""
        return self.speech_samples + self.gap_samples + self.pause_samples + self.edge_samples


@dataclass(frozen=True, slots=True)
class Share:
    """What one seat said, in one role or in all. ``inside`` counts its turns that lay wholly inside somebody else's."""

    seat: Seat
    role: Role | None
    turns: int
    inside: int
    talk_samples: int


@dataclass(frozen=True, slots=True)
class Presence:
    """One seat over the whole session. ``margin`` is the median margin of its voice, 0 where keys or channels told who."""

    share: Share
    longest_silence_samples: int
    margin: float


@dataclass(frozen=True, slots=True)
class Transfers:
    """The floor transfer offsets from one seat to another."""

    before: Seat
    after: Seat
    offsets: Spread


@dataclass(frozen=True, slots=True)
class Talk:
    """Everything about who talked when."""

    time: Time
    seats: tuple[Presence, ...]
    by_role: tuple[Share, ...]
    unsure: Share
    unsure_units: int
    """Stretches of speech of which nobody knows whose they were; two of them in a row may be two people's."""
    gaps: Spread
    pauses: Spread
    overlaps_between: Spread
    overlaps_within: Spread
    transfers: tuple[Transfers, ...]
    lapses: Spread

    derived: ClassVar[tuple[str, ...]] = ("offsets", "turn_evenness", "talk_evenness", "unsure_share")

    @property
    def offsets(self) -> Spread:
        """The floor transfer offsets of all pairs of known seats."""
        return Spread.of(value for pair in self.transfers for value in pair.offsets.values_samples)

    @property
    def children(self) -> tuple[Share, ...]:
        """What each child said."""
        return tuple(presence.share for presence in self.seats if presence.share.seat in CHILDREN)

    @property
    def turn_evenness(self) -> float | None:
        """Evenness of the children's turns; None while there are none."""
        return evenness([share.turns for share in self.children])

    @property
    def talk_evenness(self) -> float | None:
        """Evenness of the children's talk; None while there is none."""
        return evenness([share.talk_samples for share in self.children])

    @property
    def unsure_share(self) -> float | None:
        """The part of all talk of which nobody can say whose it was; None while there is no talk."""
        known = sum(presence.share.talk_samples for presence in self.seats)
        return self.unsure.talk_samples / (known + self.unsure.talk_samples) if known + self.unsure.talk_samples else None

    def share_of(self, seat: Seat) -> Share:
        """What a seat said, in all its roles."""
        return next((presence.share for presence in self.seats if presence.share.seat is seat), Share(seat, None, 0, 0, 0))


def talk_of(record: Record, floor: Floor) -> Talk:
    """Who talked when, over a whole session."""
    seats = (*record.children, Seat.FACILITATOR)
    shares = _shares(floor)
    roles = [(seat, role) for seat in record.children for role in Role if (seat, role) in shares]
    between = floor.intervals
    silences = [interval.span.length for interval in between if interval.kind in (Between.GAP, Between.PAUSE)]
    return Talk(
        time=_time(record, floor),
        seats=tuple(Presence(_in_all(seat, shares), longest_silence(seat, floor), _margin(seat, record)) for seat in seats),
        by_role=tuple(shares[key] for key in roles),
        unsure=_in_all(Seat.UNSURE, shares),
        unsure_units=sum(unit.seat is Seat.UNSURE for unit in floor.units),
        gaps=_lengths(between, Between.GAP),
        pauses=_lengths(between, Between.PAUSE),
        overlaps_between=_lengths(between, Between.OVERLAP),
        overlaps_within=_lengths(between, Between.WITHIN),
        transfers=tuple(Transfers(*pair, Spread.of(offsets)) for pair, offsets in transfers(between).items()),
        lapses=Spread.of(length for length in silences if length >= LAPSE),
    )


def evenness(counts: Sequence[float]) -> float | None:
    """How evenly something is shared: 1 when all have the same, near 0 when one has nearly all.

    J' = H / ln(n): H is the entropy of the shares (Shannon 1948), n how many there are to share, those with nothing included
    (Pielou 1966, J. Theor. Biol. 13:131-144). None when there is nothing to share, or nobody to share it with.
    """
    whole = sum(counts)
    if len(counts) < 2 or whole == 0:
        return None
    shares = [count / whole for count in counts if count]
    return sum(share * log(1 / share) for share in shares) / log(len(counts))


def _time(record: Record, floor: Floor) -> Time:
    speech = sum(total(joined(unit.span for unit in stretch.units)) for stretch in floor.stretches)
    gaps, pauses = (
        sum(one.span.length for one in floor.intervals if one.kind is kind) for kind in (Between.GAP, Between.PAUSE)
    )
    unheard = total(floor.unheard)
    muted = Holes(record.muted)
    muted_samples = sum(muted.within(span) for span in floor.unheard)
    return Time(
        speech_samples=speech,
        gap_samples=gaps,
        pause_samples=pauses,
        edge_samples=sum(map(_edges, floor.stretches)),
        muted_samples=muted_samples,
        lost_samples=unheard - muted_samples,
    )


def _edges(stretch: Stretch) -> int:
    if not stretch.units:
        return stretch.span.length
    last = max(unit.span.end_sample for unit in stretch.units)
    return stretch.units[0].span.start_sample - stretch.span.start_sample + stretch.span.end_sample - last


def _shares(floor: Floor) -> dict[tuple[Seat, Role | None], Share]:
    taken: Counter[tuple[Seat, Role | None]] = Counter()
    inside: Counter[tuple[Seat, Role | None]] = Counter()
    spoken: Counter[tuple[Seat, Role | None]] = Counter()
    for turn in floor.turns:
        key = (turn.seat, turn.units[0].role)
        taken[key] += 1
        inside[key] += turn.inside
        for unit in turn.units:
            spoken[turn.seat, unit.role] += unit.span.length
    return {key: Share(*key, taken[key], inside[key], spoken[key]) for key in spoken}


def _in_all(seat: Seat, shares: dict[tuple[Seat, Role | None], Share]) -> Share:
    own = [share for key, share in shares.items() if key[0] is seat]
    turns, inside, talk = (sum(getattr(share, name) for share in own) for name in ("turns", "inside", "talk_samples"))
    return Share(seat, None, turns, inside, talk)


def _margin(seat: Seat, record: Record) -> float:
    return median([one.margin for one in record.utterances if one.seat is seat and not one.is_corrected] or [0.0])


def _lengths(between: Iterable[Interval], kind: Between) -> Spread:
    """Lengths of one kind of interval beside known seats; the floor of somebody unsure belongs to no count."""
    sure = (one for one in between if Seat.UNSURE not in (one.before, one.after))
    return Spread.of(one.span.length for one in sure if one.kind is kind)
