"""Turns, pauses, gaps and overlaps, beside two reference libraries and published examples.

T1 to T6 are worked with ``pympi-ling`` 1.71 (``Eaf.get_gaps_and_overlaps2``) and ``pyannote.core`` 6.1, which run here too.
"""

from itertools import permutations

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from pyannote.core import Annotation, Segment
from pympi.Elan import Eaf

from assistant.core.measures.record import read_record
from assistant.core.measures.spans import Span
from assistant.core.measures.turns import Between, Speech, floor_of, intervals, longest_silence, transfers
from assistant.terms import Seat
from tests.told import MS, TENTH, ms, session, speech

SIGNS = {"P": Between.PAUSE, "G": Between.GAP, "O": Between.OVERLAP, "W": Between.WITHIN}
KIND_LETTERS = {kind: letter for letter, kind in SIGNS.items()}


def told(found: list[Speech]) -> list[tuple[str, float, float]]:
    """Intervals as ``("G A>B", start_ms, end_ms)``, without those of no length."""
    return [
        (f"{KIND_LETTERS[one.kind]} {one.before}>{one.after}", one.span.start_sample / MS, one.span.end_sample / MS)
        for one in intervals(found)
        if one.kind is not Between.FLUSH
    ]


def by_pympi(found: list[Speech], first: Seat, second: Seat) -> list[tuple[str, float, float]]:
    """What pympi-ling says about two seats."""
    eaf = Eaf()
    for seat in (first, second):
        eaf.add_tier(seat.value)
        for one in found:
            if one.seat is seat:
                eaf.add_annotation(seat.value, one.span.start_sample // MS, one.span.end_sample // MS)
    names = {"1": first, "2": second}
    return [
        (f"{sign[0]} {names[sign[1]]}>{names[sign[-1]]}", start, end)
        for start, end, sign in eaf.get_gaps_and_overlaps2(first.value, second.value)
        if start != end
    ]


T1 = speech(A=[(0, 1000), (1800, 2500), (3500, 4000)], B=[(1200, 1500), (2300, 3000)])
T2 = speech(A=[(0, 3000), (4000, 5000)], B=[(1000, 1500), (3200, 3500)])
T3 = speech(A=[(0, 1000), (1600, 2000)], B=[(2000, 2500)])


@pytest.mark.parametrize(
    ("found", "expected"),
    [
        (T1, [("G A>B", 1000, 1200), ("G B>A", 1500, 1800), ("O A>B", 2300, 2500), ("G B>A", 3000, 3500)]),
        (T2, [("W A>B", 1000, 1500), ("G A>B", 3000, 3200), ("G B>A", 3500, 4000)]),
        (T3, [("P A>A", 1000, 1600)]),
    ],
    ids=["gaps and an overlap", "an overlap within", "a pause, then flush"],
)
def test_two_seats_as_pympi_tells_them(found: list[Speech], expected: list[tuple[str, float, float]]) -> None:
    assert told(found) == expected
    assert by_pympi(found, Seat.A, Seat.B) == expected


def test_nothing_lies_between_turns_that_meet() -> None:
    last = list(intervals(T3))[-1]
    assert (last.kind, last.offset_samples, last.is_transfer) == (Between.FLUSH, 0, True)


def test_three_seats_and_their_totals() -> None:
    """T4. Totals from pyannote.core; offsets from the definition: +300, -100, (a pause of 600), 0."""
    found = speech(A=[(2300, 3000)], B=[(5000, 6000)], C=[(0, 2000), (2900, 4000), (4600, 5000)])  # S, B, E of the example
    assert [(one.kind, one.offset_samples / MS) for one in intervals(found)] == [
        (Between.GAP, 300),
        (Between.OVERLAP, -100),
        (Between.PAUSE, 600),
        (Between.FLUSH, 0),
    ]
    annotation = Annotation()
    for track, one in enumerate(found):
        annotation[Segment(one.span.start_sample / 16000, one.span.end_sample / 16000), track] = one.seat.value
    silences = [one.span for one in intervals(found) if one.kind in (Between.GAP, Between.PAUSE)]
    theirs = annotation.get_timeline().support().gaps()
    assert [(round(gap.start, 3), round(gap.end, 3)) for gap in theirs] == [(2.0, 2.3), (4.0, 4.6)]
    assert silences == [ms(2000, 2300), ms(4000, 4600)]
    assert {label: round(seconds, 3) for label, seconds in annotation.chart()} == {"C": 3.5, "B": 1.0, "A": 0.7}


def test_offsets_of_speech_inside_anothers_turn() -> None:
    """T5: the example of scikit-talk's own tests: none for the first, then -800, -600, -400, +100."""
    found = speech(A=[(0, 1000)], B=[(200, 300), (400, 500), (600, 900), (1100, 1500)])
    assert [one.offset_samples / MS for one in intervals(found)] == [-800, -600, -400, 100]


# The ten segments of sample.rttm in the pyannote.audio 4.0.7 wheel (repository licence MIT): real people, thirty seconds.
T6 = speech(
    A=[(6690, 7120), (8320, 10020), (10570, 14700), (18050, 21490), (27850, 30000)],  # speaker90
    B=[(7550, 8350), (9920, 11030), (14490, 17920), (18150, 18590), (21780, 28500)],  # speaker91
)


def test_real_speech() -> None:
    """T6: lengths from pympi-ling, run on the tiers in this order."""
    lengths: dict[str, list[float]] = {}
    for name, start, end in told(T6):
        lengths.setdefault(name, []).append(end - start)
    assert lengths == {
        "G A>B": [430, 290],
        "G B>A": [130],
        "O A>B": [100, 210],
        "O B>A": [30, 460, 650],
        "W A>B": [440],
    }
    assert told(T6) == by_pympi(T6, Seat.A, Seat.B)


# --- any session --------------------------------------------------------------------------------------------------------


@st.composite
def conversations(draw: st.DrawFn) -> list[Speech]:
    """Four seats, each with speech that does not overlap itself, on a grid of 10 ms so that meetings are common."""
    found = []
    for who in (Seat.A, Seat.B, Seat.C, Seat.FACILITATOR):
        at = draw(st.integers(0, 100))
        for silence, length in draw(st.lists(st.tuples(st.integers(20, 150), st.integers(1, 200)), max_size=8)):
            found.append(Speech(ms((at + silence) * 10, (at + silence + length) * 10), who))
            at += silence + length
    return found


@settings(max_examples=500)
@given(conversations())
def test_every_pair_of_seats_is_as_pympi_tells_it(found: list[Speech]) -> None:
    for first, second in permutations((Seat.A, Seat.B, Seat.C, Seat.FACILITATOR), 2):
        if first < second:
            pair = [one for one in found if one.seat in (first, second)]
            assert told(pair) == by_pympi(pair, first, second)


@given(conversations())
def test_silences_are_those_in_which_nobody_speaks(found: list[Speech]) -> None:
    """Gaps and pauses of all seats together are the holes that pyannote.core finds in the union."""
    annotation = Annotation()
    for track, one in enumerate(found):
        annotation[Segment(one.span.start_sample, one.span.end_sample), track] = one.seat.value
    holes = [Span(round(gap.start), round(gap.end)) for gap in annotation.get_timeline().support().gaps()]
    silences = [one.span for one in intervals(found) if one.kind in (Between.GAP, Between.PAUSE)]
    assert [span for span in silences if span] == holes


@given(st.tuples(*[st.integers(0, 50)] * 2), st.tuples(*[st.integers(0, 50)] * 2))
def test_a_reversed_pair_has_the_same_offset(first: tuple[int, int], second: tuple[int, int]) -> None:
    """Played backwards, the same silence or overlap lies between the same two stretches, and the floor goes the other way."""
    one, other = Span(min(first), max(first) + 1), Span(min(second), max(second) + 1)
    assume(one != other)
    [forward] = intervals([Speech(one, Seat.A), Speech(other, Seat.B)])
    [backward] = intervals([Speech(_mirrored(one), Seat.A), Speech(_mirrored(other), Seat.B)])
    assert forward.kind is backward.kind
    if forward.is_transfer:
        assert forward.offset_samples == backward.offset_samples
        assert (forward.before, forward.after) == (backward.after, backward.before)


def _mirrored(span: Span) -> Span:
    return Span(-span.end_sample, -span.start_sample)


# --- units and turns ----------------------------------------------------------------------------------------------------


def test_a_unit_holds_no_silence_of_200_ms() -> None:
    floor = floor_of(read_record(session(A="0001 0 1 00 1")))
    assert [unit.span for unit in floor.units] == [ms(300, 600), ms(800, 900)]


def test_a_turn_is_not_divided_by_speech_inside_it() -> None:
    floor = floor_of(
        read_record(
            session(
                A="1111111111000111100000000",
                B="0001111000000000000111000",
            )
        )
    )
    assert [(turn.seat.value, turn.span, turn.inside) for turn in floor.turns] == [
        ("A", ms(0, 1700), False),
        ("B", ms(300, 700), True),
        ("B", ms(1900, 2200), False),
    ]


def test_two_units_inside_one_turn_are_one_turn_inside() -> None:
    floor = floor_of(
        read_record(
            session(
                A="11111111111111",
                B="01100111000000",
            )
        )
    )
    assert [(turn.seat.value, len(turn.units), turn.inside) for turn in floor.turns] == [("A", 1, False), ("B", 2, True)]


def test_no_silence_is_measured_through_the_tools_own_voice() -> None:
    """The gap from A to B holds a cue, so nobody knows how long B would have waited."""
    floor = floor_of(
        read_record(
            session(
                A="111000000000000000111",
                B="000000000000000111000",
                muted="000000011111000000000",
            )
        )
    )
    assert [(one.kind, one.before.value, one.after.value) for one in floor.intervals] == [(Between.FLUSH, "B", "A")]
    assert [turn.seat.value for turn in floor.turns] == ["A", "B", "A"]


def test_speech_into_a_lost_span_is_cut_off_there() -> None:
    floor = floor_of(read_record(session(A="0111111110", lost="0000111000")))
    assert [unit.span for unit in floor.units] == [ms(100, 400), ms(700, 900)]


def test_a_loss_too_short_to_end_a_unit_cuts_nothing() -> None:
    floor = floor_of(read_record(session(A="0111111110", lost="0000100000")))
    assert [unit.span for unit in floor.units] == [ms(100, 900)]
    assert floor.unheard == ()


def test_somebody_unsure_ends_a_silence_but_belongs_to_no_pair() -> None:
    """Between A and B speaks "?": there is no transfer from A to B, and none of "?" is counted."""
    floor = floor_of(
        read_record(
            session(
                A="1110000000000000",
                U="0000011100000000",
                B="0000000000111000",
            )
        )
    )
    assert transfers(floor.intervals) == {}
    assert [turn.seat.value for turn in floor.turns] == ["A", "?", "B"]


def test_offsets_are_kept_apart_for_each_direction() -> None:
    floor = floor_of(
        read_record(
            session(
                A="1110000001110000",
                B="0000111000000111",
            )
        )
    )
    assert transfers(floor.intervals) == {(Seat.A, Seat.B): (TENTH, TENTH), (Seat.B, Seat.A): (2 * TENTH,)}


def test_the_longest_silence_of_a_seat_runs_to_the_end_and_leaves_out_the_cue() -> None:
    floor = floor_of(
        read_record(
            session(
                A="0010000000000000000000",
                B="1100000000000000000001",
                muted="0000011110000000000000",
            )
        )
    )
    silences = {who: longest_silence(who, floor) for who in (Seat.A, Seat.B, Seat.C)}
    assert silences == {Seat.A: 15 * TENTH, Seat.B: 15 * TENTH, Seat.C: 18 * TENTH}


def test_an_empty_session_has_no_turn() -> None:
    floor = floor_of(read_record(session(A="0000000000")))
    assert (floor.turns, floor.intervals) == ((), ())
