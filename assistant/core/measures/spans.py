"""Stretches of the time line: how long, where they meet, what they leave free.

What lives here: arithmetic of spans. What must not: who speaks in them.
"""

from bisect import bisect_right
from collections.abc import Iterable
from dataclasses import dataclass
from itertools import accumulate


@dataclass(frozen=True, slots=True, order=True)
class Span:
    """From ``start_sample`` up to, not including, ``end_sample``. Empty, and false, when it ends where it starts or before."""

    start_sample: int
    end_sample: int

    @property
    def length(self) -> int:
        """In samples, never below 0."""
        return max(0, self.end_sample - self.start_sample)

    def __bool__(self) -> bool:
        return self.end_sample > self.start_sample

    def __and__(self, other: "Span") -> "Span":
        """What both have in common; empty when they do not meet."""
        return Span(max(self.start_sample, other.start_sample), min(self.end_sample, other.end_sample))


def joined(spans: Iterable[Span], within: int = 0) -> tuple[Span, ...]:
    """The same stretches without overlap, in order; those with a hole of ``within`` samples or less between them become one.

    ::

        spans    ▄▄▄▄  ▄▄▄      ▄▄
                   ▄▄▄▄▄▄
        joined   ▄▄▄▄▄▄▄▄▄      ▄▄
    """
    result: list[Span] = []
    for span in sorted(filter(None, spans)):
        if result and span.start_sample <= result[-1].end_sample + within:
            result[-1] = Span(result[-1].start_sample, max(result[-1].end_sample, span.end_sample))
        else:
            result.append(span)
    return tuple(result)


def left_free(whole: Span, taken: Iterable[Span]) -> tuple[Span, ...]:
    """What of ``whole`` none of ``taken`` covers."""
    free, start = [], whole.start_sample
    for span in joined(taken):
        free.append(Span(start, span.start_sample) & whole)
        start = max(start, span.end_sample)
    free.append(Span(start, whole.end_sample) & whole)
    return tuple(filter(None, free))


def total(spans: Iterable[Span]) -> int:
    """The lengths added up, in samples. Overlapping spans count each time; join them first where that is not meant."""
    return sum(span.length for span in spans)


class Holes:
    """Spans taken out of the time line, and how much of any other span they take."""

    def __init__(self, spans: Iterable[Span]) -> None:
        self.spans = joined(spans)
        self._starts = [span.start_sample for span in self.spans]
        self._before = [0, *accumulate(span.length for span in self.spans)]

    def within(self, span: Span) -> int:
        """How many samples of ``span`` are taken."""
        return self._until(span.end_sample) - self._until(span.start_sample) if span else 0

    def _until(self, sample: int) -> int:
        at = bisect_right(self._starts, sample)
        overhang = max(0, self.spans[at - 1].end_sample - sample) if at else 0
        return self._before[at] - overhang
