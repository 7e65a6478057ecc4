"""A handful of lengths of time, and what may be said of them.

What lives here: median, quartiles and how sure the median is. What must not: what the lengths are lengths of.

Below five values nothing is said; from ten on the median gets an interval. Both limits are chosen, not measured.
"""

from bisect import bisect_left
from collections.abc import Iterable
from dataclasses import dataclass
from math import exp, lgamma, log
from statistics import median, quantiles
from typing import ClassVar

FEW = 5
"""Fewer values than this are too few to say anything of."""

ENOUGH_FOR_INTERVAL = 10
"""From this many values on the median is given an interval."""

COVERAGE = 0.95

NEGLIGIBLE = 1e-12
"""A term this small beside the sum changes no place of the interval."""


@dataclass(frozen=True, slots=True)
class Spread:
    """Lengths of time in samples. They may be negative: an answer can begin before the question ends."""

    values_samples: tuple[int, ...]

    derived: ClassVar[tuple[str, ...]] = ("count", "median_samples", "quartiles_samples", "interval_samples")

    @classmethod
    def of(cls, values: Iterable[int]) -> "Spread":
        """The spread of some values, in any order; they are kept in theirs."""
        return cls(tuple(values))

    @property
    def count(self) -> int:
        """How many there are."""
        return len(self.values_samples)

    @property
    def says_something(self) -> bool:
        """Whether there are enough of them to say anything."""
        return self.count >= FEW

    @property
    def median_samples(self) -> float | None:
        """The middle value; None when there are too few to say."""
        return median(self.values_samples) if self.says_something else None

    @property
    def quartiles_samples(self) -> tuple[float, float] | None:
        """The lower and the upper quartile (type 7 of Hyndman & Fan 1996, numpy's own); None when there are too few."""
        if not self.says_something:
            return None
        lower, _, upper = quantiles(self.values_samples, n=4, method="inclusive")
        return (lower, upper)

    @property
    def interval_samples(self) -> tuple[int, int] | None:
        """The 95 % bootstrap interval of the median (percentile method); None below ten values.

        No resampling is needed: how often a value is the middle one of a sample drawn with replacement is a binomial
        probability (Efron 1979, Annals of Statistics 7:1-26). For an even count the two middle values are taken apart, the
        lower for the lower bound: the interval is then a little wide, never narrow.
        """
        if self.count < ENOUGH_FOR_INTERVAL:
            return None
        values, outside = sorted(self.values_samples), (1 - COVERAGE) / 2
        lower = values[_place(self.count, (self.count + 1) // 2, outside)]
        return (lower, values[_place(self.count, self.count // 2 + 1, 1 - outside)])


def _place(count: int, middle: int, probability: float) -> int:
    """The lowest place (from 0) such that the resampled ``middle``-th value (from 1) is at or below it this probably."""
    return bisect_left(range(count), probability, key=lambda place: _at_least(middle, count, (place + 1) / count))


def _at_least(successes: int, trials: int, chance: float) -> float:
    """The probability of that many successes or more: of drawing so many values from the lowest part of the sample.

    Each term of the binomial follows from the one before; where terms no longer count, the sum ends.
    """
    if chance >= 1:
        return 1.0
    if successes <= trials * chance:  # the failures are the smaller sum
        return 1 - _at_least(trials - successes + 1, trials, 1 - chance)
    ways = lgamma(trials + 1) - lgamma(successes + 1) - lgamma(trials - successes + 1)
    term = exp(ways + successes * log(chance) + (trials - successes) * log(1 - chance))
    total, odds = 0.0, chance / (1 - chance)
    for k in range(successes, trials + 1):
        total += term
        if term < NEGLIGIBLE * total:
            break
        term *= (trials - k) / (k + 1) * odds
    return total
