"""The road: frames in, events out, ears shut while the tool speaks."""

import itertools

from assistant.events import CueDropped, CueEnded, CueStarted, Event, Marked, Refused, SessionClosed, StepDone, Tick
from assistant.run import Road
from assistant.samples import to_samples
from assistant.terms import Closing, Cue, Mark, Seat
from tests.fakes import ListSpeaker, ScriptedEars, a_session, conversation, said, silence


def cue_times(events: list[Event]) -> list[tuple[int, Cue]]:
    """The cues and the whole second in which each began."""
    return [(event.sample // 16_000, event.cue) for event in events if isinstance(event, CueStarted)]


def test_cues_are_said_in_their_time_and_the_session_ends_when_the_last_is_said() -> None:
    speaker = ListSpeaker()
    events = list(Road(ScriptedEars([]), a_session(), speaker).travel(silence(200)))
    assert cue_times(events) == [(10, Cue.BEGIN), (60, Cue.TIME_LEFT), (100, Cue.CLEAR_AWAY), (120, Cue.END)]
    assert speaker.said[1:] == [
        "One minute left.",
        "Building stops now. We clear away together.",
        "The club is over. See you next time.",
    ]
    assert isinstance(events[-1], CueEnded)
    assert events[-1].sample < to_samples(123)


def test_the_ears_are_shut_while_a_cue_plays_and_two_tenths_after() -> None:
    ears = ScriptedEars([])
    list(Road(ears, a_session(), ListSpeaker()).travel(silence(15)))
    begun, shut = to_samples(10), [sample / 16_000 for sample in ears.shut]
    assert min(shut) >= begun / 16_000
    assert 12.15 < max(shut) < 12.25  # 10 s, a cue of 2 s, and 0.2 s


def test_what_is_said_into_a_cue_is_not_heard() -> None:
    talk = conversation((10.5, "C: done"), (20, "A: the long blue block"), (25, "C: done"))
    events = list(Road(ScriptedEars(talk), a_session(), ListSpeaker()).travel(silence(30)))
    assert [event.unit for event in events if isinstance(event, StepDone)] == [3]


def test_a_swap_cue_waits_until_the_children_pause() -> None:
    talk = conversation((20, "A: the long blue block"), (25, "C: done"), (26.4, "A: wait wait"), (27.8, "B: wow"))
    events = list(Road(ScriptedEars(talk), a_session(), ListSpeaker()).travel(silence(40)))
    swap_soon = next(event for event in events if isinstance(event, CueStarted) and event.cue is Cue.SWAP_SOON)
    assert swap_soon.sample >= to_samples(28.8 + 0.6)
    assert not swap_soon.over_speech


def test_without_a_speaker_cues_are_asked_for_and_never_said() -> None:
    events = list(Road(ScriptedEars([]), a_session()).travel(silence(130)))
    assert cue_times(events) == []
    assert isinstance(events[-1], SessionClosed)


def test_sound_that_ends_early_closes_the_session() -> None:
    events = list(Road(ScriptedEars([]), a_session(), ListSpeaker()).travel(silence(30)))
    assert events[-1] == SessionClosed(to_samples(30), Closing.SOUND_ENDED)


def test_keys_count_from_the_frame_in_which_they_are_taken_and_a_refusal_is_an_event() -> None:
    presses = {10: Mark.STEP_DONE, 400: Mark.STEP_DONE, 401: Mark.PAUSE}
    frame = 0

    def marks() -> list[Marked]:
        nonlocal frame
        frame += 1
        return [Marked(0, presses[frame])] if frame in presses else []

    events = list(Road(ScriptedEars([]), a_session(), ListSpeaker(), marks).travel(silence(13)))
    assert [event.sample for event in events if isinstance(event, Marked)] == [10 * 480, 400 * 480, 401 * 480]
    refused = [event.why for event in events if isinstance(event, Refused)]
    assert refused == ["That cannot be done now: the club is at setting up."]
    assert [event.step for event in events if isinstance(event, StepDone)] == [1]
    assert [event.cue for event in events if isinstance(event, CueDropped)] == [Cue.SWAP_SOON]


def test_the_ears_are_told_what_was_put_right() -> None:
    ears = ScriptedEars([said(1, Seat.UNSURE, "hello everybody", 2)])
    presses = {130: [Marked(0, Mark.WHO, Seat.A, 1), Marked(0, Mark.WHO, Seat.A, 7)]}
    frames = itertools.count()
    list(Road(ears, a_session(), ListSpeaker(), lambda: presses.get(next(frames), [])).travel(silence(6)))
    assert ears.put_right_so_far == [(1, Seat.A)]


def test_ticks_are_never_kept() -> None:
    assert not any(isinstance(event, Tick) for event in Road(ScriptedEars([]), a_session()).travel(silence(5)))
