"""What goes wrong with the sound, said once when it begins and once when it is over: rulers of seconds."""

from itertools import islice

import numpy as np
import pytest

from assistant.devices import microphone
from assistant.events import Lost, Trouble
from assistant.listening.faults import Watcher
from assistant.listening.listener import Listener
from assistant.outputs.terminal import fault_line
from assistant.samples import FRAME_SAMPLES, SAMPLE_RATE, Frame, to_samples
from assistant.terms import Fault, Loss, Seat
from tests.test_listener import EverySlot, NoWord
from tests.test_microphone import Desk

RANDOM = np.random.default_rng(1)
FRAMES = 33
"""In a second of a ruler, which is 0.99 s."""


def frame(sign: str) -> bytes:
    """A frame of: ``0`` digital silence, ``-`` a bare microphone's own noise, ``#`` speech, ``X`` speech that is too loud."""
    sound = RANDOM.normal(0, {"0": 0, "-": 0.92, "#": 3_000, "X": 60_000}[sign], FRAME_SAMPLES)
    return np.clip(np.rint(sound), -32_768, 32_767).astype(np.int16).tobytes()


def told(*rulers: str, mute: str = "") -> list[tuple[Fault, Seat | None, str, int]]:
    """What is told of these microphones, and in which second."""
    watcher = Watcher((Seat.A, Seat.B, Seat.C)[: len(rulers)] if len(rulers) > 1 else ())
    troubles: list[Trouble] = []
    for number in range(len(rulers[0]) * FRAMES):
        second = number // FRAMES
        channels = tuple(frame(ruler[second]) for ruler in rulers)
        heard = Frame(number * FRAME_SAMPLES, channels[0], channels if len(rulers) > 1 else ())
        troubles += watcher.hear(heard, muted=mute[second : second + 1] == "1")
    return [(one.fault, one.seat, "over" if one.over else "began", one.sample // SAMPLE_RATE) for one in troubles]


def test_a_room_in_which_people_speak_and_pause_is_no_trouble() -> None:
    assert told("##-#--#----------####") == []


def test_ten_seconds_of_nothing_at_all_are_told_once_and_so_is_the_first_sound_after() -> None:
    assert told("##" + "0" * 25 + "####") == [(Fault.SILENT, None, "began", 12), (Fault.SILENT, None, "over", 27)]


def test_a_microphone_in_a_still_room_is_not_a_muted_one() -> None:
    """Its own noise, of one step of int16, tells the two apart."""
    assert told("-" * 30) == []


def test_a_pause_of_nine_seconds_is_no_trouble_however_often() -> None:
    assert told(("#" + "0" * 9) * 4) == []


def test_one_muted_microphone_of_three_is_told_by_its_seat() -> None:
    assert told("#" * 12, "0" * 12, "-" * 12) == [(Fault.SILENT, Seat.B, "began", 10)]


def test_speech_that_is_too_loud_is_told_once_until_it_has_not_been_for_a_minute() -> None:
    ruler = "##" + "X--" * 6 + "#" * 57 + "X" + "#" * 62
    assert told(ruler) == [(Fault.CLIPPED, None, "began", 4), (Fault.CLIPPED, None, "over", 137)]


def test_a_bang_now_and_then_is_no_trouble() -> None:
    """Sixty knocks a minute, each 30 ms at full scale."""
    watcher = Watcher()
    knocks = [Frame(number * FRAME_SAMPLES, frame("#" if number % FRAMES else "X")) for number in range(30 * FRAMES)]
    assert [one for knock in knocks for one in watcher.hear(knock)] == []


def test_the_tools_own_voice_is_neither_too_loud_nor_a_sound() -> None:
    assert told("#" * 5 + "X" * 5 + "#" * 5, mute="0" * 5 + "1" * 5) == []
    assert told("0" * 5 + "X" * 5 + "0" * 6, mute="0" * 5 + "1" * 5) == [(Fault.SILENT, None, "began", 14)]


def test_frames_of_silence_that_stand_for_a_device_that_is_away_are_not_a_muted_one() -> None:
    watcher = Watcher()
    gone = [Frame(to_samples(1 + at / 4), frame("0"), lost=Loss.AWAY) for at in range(200)]
    assert [one for heard in gone for one in watcher.hear(heard)] == [Trouble(to_samples(1.03), Fault.AWAY, None, over=False)]


def test_a_slow_computer_is_told_when_sound_waits_and_when_it_has_caught_up() -> None:
    watcher = Watcher()
    waiting_s = (0, 1, 4, 6, 12, 29, 20, 4, 2, 0.5, 2, 0)
    troubles = [
        (number, one.fault, one.over)
        for number, seconds in enumerate(waiting_s)
        for one in watcher.hear(Frame(number * FRAME_SAMPLES, frame("#"), behind_samples=to_samples(seconds)))
    ]
    assert troubles == [(3, Fault.BEHIND, False), (9, Fault.BEHIND, True)]


def test_sound_that_comes_at_another_speed_is_told_while_it_does() -> None:
    watcher = Watcher()
    speeds = (1.0, 0.98, 1.04, 0.919, 0.919, 1.0, 3.0)
    troubles = [
        (number, one.fault, one.over)
        for number, speed in enumerate(speeds)
        for one in watcher.hear(Frame(number * FRAME_SAMPLES, frame("#"), speed=speed))
    ]
    assert troubles == [(3, Fault.RATE, False), (5, Fault.RATE, True), (6, Fault.RATE, False)]


@pytest.mark.parametrize("fault", Fault)
@pytest.mark.parametrize("over", [False, True])
def test_every_fault_can_be_said_and_names_whose_microphone_it_is(fault: Fault, over: bool) -> None:
    line = fault_line(fault, Seat.B, over)
    assert line[-1] in ".?" and "{" not in line
    assert line.startswith("B's microphone") or fault is Fault.BEHIND


# --- from the microphone to the event list ------------------------------------------------------------------------------


def test_a_recogniser_that_stalls_hears_the_oldest_speech_and_what_was_lost_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(microphone, "QUEUE_BLOCKS", 300)
    desk = Desk()
    ears = Listener(EverySlot(), None, NoWord())
    desk.say(400)  # 12 s, while the recogniser is busy; 9 s find room
    events = [event for heard in islice(desk.microphone, 299) for event in ears.hear(heard)]
    desk.say(10)
    events += [event for heard in islice(desk.microphone, 11) for event in ears.hear(heard)]
    assert [event for event in events if isinstance(event, Lost | Trouble)] == [
        Trouble(to_samples(0.03), Fault.BEHIND, None, over=False),
        Trouble(to_samples(8.01), Fault.BEHIND, None, over=True),
        Lost(to_samples(12.03), to_samples(9), to_samples(12), Loss.BEHIND),
    ]
