"""How the benchmarks score, against published worked examples and second libraries.

D1 and D2 were worked with pyannote.metrics 4.2, D3 is the example in simpleder's README (all at collar 0).
"""

import pytest
import simpleder

from assistant.events import Heard
from assistant.outputs.exports.rttm import rttm_lines
from assistant.samples import to_samples
from assistant.terms import Seat
from tests.benchmarks.hearing import der
from tests.benchmarks.scoring import Stretch, overlap_of_counts, pairs, who

Spans = list[tuple[str, float, float]]

D1 = (
    [("A", 0, 10), ("B", 12, 20), ("A", 24, 27), ("C", 30, 40)],
    [("A", 2, 13), ("F", 13, 14), ("B", 14, 20), ("C", 22, 38), ("F", 38, 40)],
    0.516129,
)
D2 = (
    [("A", 0, 2), ("B", 1.5, 3.5), ("A", 4, 5.1)],
    [("A", 0, 0.8), ("B", 0.6, 2.3), ("C", 2.1, 3.9), ("A", 3.8, 5.2)],
    0.568627,
)
D3 = (
    [("A", 0, 1), ("B", 1, 1.5), ("A", 1.6, 2.1)],
    [("A", 0, 0.8), ("B", 0.8, 1.4), ("C", 1.5, 1.8), ("A", 1.8, 2.0)],
    0.350,
)


def stretches(spans: Spans) -> list[Stretch]:
    return [Stretch(to_samples(start), to_samples(end), Seat(seat)) for seat, start, end in spans]


@pytest.mark.parametrize(("truth", "heard", "rate"), [D1, D2, D3], ids=["D1", "D2", "D3"])
def test_the_error_rate_of_who_spoke_when(truth: Spans, heard: Spans, rate: float) -> None:
    length = to_samples(max(end for _, _, end in truth + heard))
    assert der(stretches(truth), stretches(heard), length, 0.0) == pytest.approx(rate, abs=5e-4)


@pytest.mark.parametrize(("truth", "heard", "rate"), [D1, D3], ids=["D1", "D3"])
def test_what_is_written_as_rttm_scores_the_same_in_a_second_library(truth: Spans, heard: Spans, rate: float) -> None:
    """simpleder knows no overlapping speech in the truth, so D2 is left out."""
    units = [Heard(0, number, one.start, one.end, one.seat, 0.5, ()) for number, one in enumerate(stretches(heard))]
    fields = [line.split() for line in rttm_lines(units, "club")]
    read = [(seat, float(start), float(start) + float(length)) for _, _, _, start, length, _, _, seat, *_ in fields]
    assert simpleder.DER(truth, read) == pytest.approx(rate, abs=5e-4)


def test_stretches_are_paired_only_where_each_is_the_others_best() -> None:
    a, b = stretches([("A", 0, 1), ("B", 1.2, 2)])
    long = Stretch(a.start, b.end, Seat.A)
    assert pairs([a, b], [long]) == [(a, long)]


def test_who_counts_unsure_units_apart_from_wrong_ones() -> None:
    truth = stretches([("A", 0, 2), ("B", 3, 5), ("C", 6, 8), ("A", 9, 9.5)])
    heard = stretches([("A", 0, 2), ("?", 3, 5), ("B", 6, 8), ("B", 9, 9.5)])
    told = who(truth, heard)
    assert (told.right, told.answered, told.units) == (1, 2, 3)  # the last one is too short to count


def test_the_harmonic_mean_of_what_was_said_and_heard() -> None:
    shared = overlap_of_counts(["red", "red", "long"], ["red", "blue"])
    assert (shared.both, shared.said, shared.heard, shared.f1) == (1, 3, 2, 0.4)
