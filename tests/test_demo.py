"""The demonstration from sound to summary, against its truth: the promises that README makes."""

from collections.abc import Iterable, Iterator
from itertools import accumulate, repeat, takewhile

import pytest

from assistant.core.club.session import Session
from assistant.core.measures.summary import summarise
from assistant.devices.files import real_pace
from assistant.events import CueStarted, Event, Muted, SessionClosed
from assistant.run import ECHO
from assistant.samples import FRAME_SAMPLES, Frame, to_samples
from assistant.terms import Closing, Cue, Seat
from tests.benchmarks.demo import Figures, measure, travel, true_story
from tests.benchmarks.demo_numbers import rows, told, true_events


@pytest.fixture(scope="module")
def journey() -> tuple[Session, list[Event]]:
    return travel()


@pytest.fixture(scope="module")
def events(journey: tuple[Session, list[Event]]) -> list[Event]:
    return journey[1]


@pytest.fixture(scope="module")
def figures(journey: tuple[Session, list[Event]]) -> Figures:
    return measure(*journey)


def test_every_cue_comes_after_the_right_step(figures: Figures) -> None:
    assert figures.cues == figures.true_cues
    assert [step for cue, step in figures.cues if cue is Cue.SWAP] == [3, 6]
    assert figures.over_speech == 0


def test_who_spoke_is_right_for_95_percent_of_the_answered_units_over_a_second(figures: Figures) -> None:
    assert figures.who.units > 40
    assert figures.who.share_right >= 0.95
    assert figures.who.share_unsure <= 0.10


def test_boundaries_are_within_30_ms(figures: Figures) -> None:
    assert figures.boundary_error_s <= 0.030


def test_attribute_words_of_requests(figures: Figures) -> None:
    assert figures.words.said >= 15
    assert figures.words.f1 >= 0.90


def test_the_session_ends_on_time(events: list[Event]) -> None:
    closed = [event for event in events if isinstance(event, SessionClosed)]
    assert closed == [SessionClosed(to_samples(360), Closing.ON_TIME)]


def test_the_numbers_from_the_sound_are_those_of_the_truth(journey: tuple[Session, list[Event]]) -> None:
    session, events = journey
    _, truth = true_events(true_story(), (event for event in events if isinstance(event, Muted)))
    true, heard = (rows(summarise(each, plan=session.plan, lexicon=session.lexicon)) for each in (truth, events))
    assert {name: heard[name] for name in told(true_story())} == told(true_story())
    assert heard["median gap (s)"] == pytest.approx(true["median gap (s)"], abs=0.050)
    for seat in (Seat.A, Seat.B, Seat.C):
        assert heard[f"turns of {seat}"] == pytest.approx(true[f"turns of {seat}"], rel=0.05)


def test_every_cue_fits_into_the_silence_that_the_recording_leaves_for_it(events: list[Event]) -> None:
    muted = [event for event in events if isinstance(event, Muted)]
    assert len(muted) == len([event for event in events if isinstance(event, CueStarted)])
    for cue in true_story()["cues"]:
        assert any(cue["asked"] <= span.start_sample and span.end_sample <= cue["silent_until"] + ECHO for span in muted)


def test_at_real_pace_the_events_are_the_same(events: list[Event]) -> None:
    waits: list[float] = []
    tenth_of_a_frame = accumulate(repeat(FRAME_SAMPLES / 16_000 / 10))
    until = to_samples(115)  # the first swap lies before it

    def paced(frames: Iterable[Frame]) -> Iterator[Frame]:
        begun = takewhile(lambda frame: frame.start_sample < until, frames)
        return real_pace(begun, sleep=waits.append, now=lambda: next(tenth_of_a_frame))

    _, again = travel(pace=paced)
    assert sum(waits) > 0
    assert [event for event in again if event.sample < until] == [event for event in events if event.sample < until]
