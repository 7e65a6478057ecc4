"""Numbers over weeks: one value a session with what it rests on, and a robust trend from six sessions on.

What lives here: the values, and the trend. What must not: whether a change is good; sessions differ in plan, length and day.
"""

import json
from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations
from math import sqrt
from statistics import NormalDist, median

from assistant.core.measures.finding import Verdict
from assistant.core.measures.spread import COVERAGE, FEW
from assistant.core.measures.summary import Summary, summarise
from assistant.events import Event, RolesSet
from assistant.samples import SAMPLE_RATE
from assistant.terms import CHILDREN, Role, Seat

VERSION = 4
"""Raise it when a measure below comes to count something else: figures written before are then worked out again."""

ENOUGH_SESSIONS = 6
"""No trend below this. Common practice, no source: changes were seen after six weekly sessions."""


@dataclass(frozen=True, slots=True)
class Point:
    """One session's value, None where it rests on too few, and how many it rests on."""

    value: float | None
    count: int


@dataclass(frozen=True, slots=True)
class Trend:
    """How much a value changes from one session to the next, in the middle, and its 95 % interval."""

    slope: float
    low: float
    high: float

    @property
    def is_clear(self) -> bool:
        """Whether the interval lies on one side of 0."""
        return self.low > 0 or self.high < 0


@dataclass(frozen=True, slots=True)
class Series:
    """One measure over all sessions, the oldest first."""

    measure: str
    points: tuple[Point, ...]

    @property
    def known(self) -> tuple[tuple[float, float], ...]:
        """Place and value of each session that has one."""
        return tuple((float(place), point.value) for place, point in enumerate(self.points) if point.value is not None)

    @property
    def trend(self) -> Trend | None:
        """None below six sessions with a value."""
        return theil_sen(self.known) if len(self.known) >= ENOUGH_SESSIONS else None


def theil_sen(points: Sequence[tuple[float, float]]) -> Trend:
    """The median of the slopes between all pairs of points, which one odd session hardly moves.

    Theil 1950 and Sen 1968 (J. Am. Stat. Assoc. 63:1379-1389); the interval as in Sen 1968, with its correction for ties.

    Args:
        points: at least two different places, each with its value.
    """
    pairs = combinations(sorted(points), 2)
    slopes = sorted((after[1] - before[1]) / (after[0] - before[0]) for before, after in pairs if after[0] > before[0])
    n, reach = len(points), NormalDist().inv_cdf((1 + COVERAGE) / 2)
    variance = _ties([n]) - _ties(Counter(x for x, _ in points).values()) - _ties(Counter(y for _, y in points).values())
    width = reach * sqrt(max(0.0, variance))
    low = max(round((len(slopes) - width) / 2) - 1, 0)
    high = min(round((len(slopes) + width) / 2), len(slopes) - 1)
    return Trend(median(slopes), slopes[low], slopes[high])


def _ties(counts: Iterable[int]) -> float:
    return sum(count * (count - 1) * (2 * count + 5) for count in counts) / 18


MEASURES: dict[str, Callable[[Summary], Point]] = {
    "answer": lambda one: _seconds(one.waits.to_answer.median_samples, one.waits.to_answer.count),
    "turn_evenness": lambda one: _point(one.talk.turn_evenness, sum(share.turns for share in one.talk.children)),
    "enough": lambda one: _share(
        sum(request.first is Verdict.ENOUGH for request in one.finding.requests), len(one.finding.requests)
    ),
    "mended": lambda one: _share(one.repairs.solved, one.repairs.told),
    "indirect": lambda one: _share(one.adult.indirect, one.adult.indirect + one.adult.direct),
    "adult_share": lambda one: _adult(one),
}


@dataclass(frozen=True, slots=True)
class Goal:
    """What a family works at: so often a tally was made, of one seat or of all children together.

    ``skill`` is the key of one in ``shared/goals``; else ``words`` are the family's own.
    """

    tally: str
    seat: Seat | None = None
    skill: str = ""
    words: str = ""


@dataclass(frozen=True, slots=True)
class Figures:
    """What progress needs to know of one session.

    A point a measure, in how many rounds each child had each role, and how often the adult tallied what of whom.
    """

    points: Mapping[str, Point]
    rounds: Mapping[tuple[Seat, Role], int]
    tallies: Mapping[tuple[Seat, str], int]

    def to_text(self) -> str:
        """As JSON, with the version of what is counted."""
        points = {name: [point.value, point.count] for name, point in self.points.items()}
        rounds = [[*key, times] for key, times in self.rounds.items()]
        tallies = [[*key, times] for key, times in self.tallies.items()]
        return json.dumps({"version": VERSION, "points": points, "rounds": rounds, "tallies": tallies})

    @classmethod
    def from_text(cls, text: str) -> "Figures | None":
        """What :meth:`to_text` wrote; None when it was another version of this program, or is not whole."""
        try:
            read = json.loads(text)
            if read["version"] != VERSION:
                return None
            points = {name: _read_point(*read["points"][name]) for name in MEASURES}
            rounds = {(Seat(seat), Role(role)): int(times) for seat, role, times in read["rounds"]}
            return cls(points, rounds, {(Seat(seat), str(what)): int(times) for seat, what, times in read["tallies"]})
        except (ValueError, KeyError, TypeError):
            return None


def figures_of(events: Sequence[Event]) -> Figures:
    """The figures of a session."""
    summary = summarise(events)
    tallies = {(tally.seat, tally.what): tally.times for tally in summary.building.tallies}
    return Figures({name: measure(summary) for name, measure in MEASURES.items()}, roles_practised(events), tallies)


def series_of(sessions: Sequence[Figures]) -> tuple[Series, ...]:
    """Every measure over these sessions, the oldest first."""
    return tuple(Series(name, tuple(one.points[name] for one in sessions)) for name in MEASURES)


def series_of_goal(goal: Goal, sessions: Sequence[Figures]) -> Series:
    """How often its tally was made in each session, out of all tallies; None where the adult made none of any kind."""
    return Series(goal.tally, tuple(_seen(goal, one.tallies) for one in sessions))


def _seen(goal: Goal, tallies: Mapping[tuple[Seat, str], int]) -> Point:
    whole, seats = sum(tallies.values()), (goal.seat,) if goal.seat else CHILDREN
    times = sum(tallies.get((seat, goal.tally), 0) for seat in seats)
    return Point(float(times) if whole else None, whole)


def roles_practised(events: Iterable[Event]) -> dict[tuple[Seat, Role], int]:
    """In how many rounds each child had each role; after a pass, the role it ended up with."""
    rounds = {event.round: event.roles for event in events if isinstance(event, RolesSet)}
    return dict(Counter((seat, role) for roles in rounds.values() for seat, role in roles if seat in CHILDREN))


def _read_point(value: float | None, count: int) -> Point:
    return Point(None if value is None else float(value), int(count))


def _point(value: float | None, count: int) -> Point:
    return Point(value if count >= FEW else None, count)


def _share(part: int, whole: int) -> Point:
    return Point(100 * part / whole if whole >= FEW else None, whole)


def _seconds(samples: float | None, count: int) -> Point:
    return Point(samples / SAMPLE_RATE if samples is not None else None, count)


def _adult(one: Summary) -> Point:
    turns = sum(presence.share.turns for presence in one.talk.seats)
    whole = one.adult.all_talk_samples
    return _point(100 * one.adult.talk_samples / whole if whole else None, turns)
