"""What was heard against what was said: pairs, boundaries, who, words. Pure; used by the benchmarks and by the tests."""

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from statistics import median

from assistant.samples import to_samples, to_seconds
from assistant.terms import Seat


@dataclass(frozen=True, slots=True)
class Stretch:
    """Speech of one seat, as it was or as it was heard. Samples."""

    start: int
    end: int
    seat: Seat

    @property
    def length(self) -> int:
        """In samples."""
        return self.end - self.start

    def shared(self, other: "Stretch") -> int:
        """How many samples both cover."""
        return max(0, min(self.end, other.end) - max(self.start, other.start))


@dataclass(frozen=True, slots=True)
class Who:
    """Whose units were told right. ``right`` and ``answered`` count units; unanswered ones were ``?``."""

    right: int
    answered: int
    units: int

    @property
    def share_right(self) -> float:
        """Of those answered."""
        return self.right / self.answered if self.answered else 0.0

    @property
    def share_unsure(self) -> float:
        """Of all."""
        return 1 - self.answered / self.units if self.units else 0.0


@dataclass(frozen=True, slots=True)
class Harmonic:
    """F1 from its components."""

    both: int
    said: int
    heard: int

    def __add__(self, other: "Harmonic") -> "Harmonic":
        return Harmonic(self.both + other.both, self.said + other.said, self.heard + other.heard)

    @property
    def f1(self) -> float:
        """Harmonic mean of precision and recall; 0 where nothing was said or heard."""
        return 2 * self.both / (self.said + self.heard) if self.said + self.heard else 0.0


def overlap_of_counts(said: Iterable[object], heard: Iterable[object]) -> Harmonic:
    """How much two bags share."""
    a, b = Counter(said), Counter(heard)
    return Harmonic((a & b).total(), a.total(), b.total())


def pairs(truth: Sequence[Stretch], heard: Sequence[Stretch]) -> list[tuple[Stretch, Stretch]]:
    """Each true stretch with the heard one that shares most with it, where that is so the other way round too."""
    best = {one: max(heard, key=one.shared, default=None) for one in truth}
    back = {one: max(truth, key=one.shared, default=None) for one in heard}
    return [(one, other) for one, other in best.items() if other and one.shared(other) and back[other] == one]


def boundary_errors_s(matched: Iterable[tuple[Stretch, Stretch]]) -> tuple[list[float], list[float]]:
    """Heard minus true, at the starts and at the ends."""
    matched = list(matched)
    return (
        [to_seconds(heard.start - true.start) for true, heard in matched],
        [to_seconds(heard.end - true.end) for true, heard in matched],
    )


def median_size(errors: Iterable[float]) -> float:
    """The median of the sizes of signed errors."""
    return median(map(abs, errors))


def who(truth: Sequence[Stretch], heard: Iterable[Stretch], over_s: float = 1.0) -> Who:
    """Whether heard units longer than ``over_s`` have the seat of the true stretch they share most with."""
    right = answered = units = 0
    for unit in heard:
        true = max(truth, key=unit.shared)
        if unit.length <= to_samples(over_s) or not unit.shared(true):
            continue
        units += 1
        answered += unit.seat is not Seat.UNSURE
        right += unit.seat is true.seat
    return Who(right, answered, units)
