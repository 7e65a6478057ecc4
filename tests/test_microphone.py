"""A microphone gives the frames of what it heard, and says in its frames when it did not."""

import subprocess
import sys
from collections.abc import Callable
from concurrent.futures import Future
from itertools import islice
from threading import Event

import numpy as np
import pytest
from numpy.typing import NDArray

from assistant.devices import microphone as module
from assistant.devices.microphone import Microphone
from assistant.errors import DeviceError
from assistant.terms import Loss
from tests.soundcard import Card, Clock, Stream


def at_once(work: Callable[[], object]) -> "Future[object]":
    future: Future[object] = Future()
    try:
        future.set_result(work())
    except DeviceError as error:
        future.set_exception(error)
    return future


@pytest.fixture(autouse=True)
def _impatient(monkeypatch: pytest.MonkeyPatch) -> None:
    """The tests' clock stands still by itself, so that waiting need not take its time; a search is over at once."""
    monkeypatch.setattr(module, "TICK_S", 0.001)
    monkeypatch.setattr(module, "_in_background", at_once)


class PatientClock(Clock):
    """A clock that notices when somebody waits for a sound that will not come."""

    asked = 0

    def __call__(self) -> float:
        self.asked += 1
        assert self.asked < 1_000, "waiting for a frame that does not come"
        return super().__call__()


class Desk:
    """A microphone on a card that the test plays, block by block, with time going by."""

    def __init__(self, card: Card | None = None, wanted: str | int | None = None, picked: tuple[int, ...] = ()) -> None:
        self.card = card or Card([("USB desk", 16_000, 1, 0)])
        self.clock = PatientClock()
        self.microphone = Microphone(wanted, picked, sound=self.card, now=self.clock)
        self._frames = iter(self.microphone)
        self._said = 0

    @property
    def stream(self) -> Stream:
        return self.card.streams[-1]

    def say(self, blocks: int, overflow: bool = False, every_s: float = 0.03) -> None:
        """Blocks of 30 ms: 1, 1, 1..., then 2, 2, 2..., and so on. ``overflow`` is told with the first."""
        for block in range(blocks):
            self._said += 1
            self.wait(every_s)
            sound = np.full(self.stream.samplerate * 3 // 100 * self.stream.channels, self._said, np.int16)
            self.stream.say(sound.tobytes(), overflow and not block)

    def wait(self, seconds: float) -> None:
        self.clock.time_s += seconds
        self.clock.asked = 0

    def hear(self, frames: int) -> list[tuple[float, int]]:
        """So many frames: at which second each begins, and the sample in its middle."""
        return [
            (round(frame.start_sample / 16_000, 3), int(np.frombuffer(frame.pcm, np.int16)[240]))
            for frame in islice(self._frames, frames)
        ]

    def rest(self) -> int:
        """How many frames come when the microphone is closed."""
        self.microphone.close()
        return len(list(self._frames))


def sine(rate: int, samples: int) -> NDArray[np.float64]:
    return 10_000 * np.sin(2 * np.pi * 440 * np.arange(samples) / rate)


# --- sound comes --------------------------------------------------------------------------------------------------------


def test_what_is_heard_is_what_was_said() -> None:
    desk = Desk()
    desk.say(3)
    assert desk.hear(3) == [(0.0, 1), (0.03, 2), (0.06, 3)]
    assert (desk.microphone.lost_why, desk.microphone.dropped_s) == (None, 0)


def test_every_sample_comes_through_untouched() -> None:
    desk = Desk()
    said = np.random.default_rng(1).integers(-32_768, 32_768, 480 * 5, dtype=np.int16)
    for at in range(0, len(said), 480):
        desk.stream.say(said[at : at + 480].tobytes())
    assert b"".join(frame.pcm for frame in islice(desk.microphone, 5)) == said.tobytes()


def test_closing_ends_the_sound_and_gives_the_device_back() -> None:
    desk = Desk()
    desk.say(2)
    with desk.microphone:
        desk.hear(2)
    assert desk.rest() == 0
    assert not desk.stream.active


def test_a_device_with_its_own_rate_and_two_channels_is_heard_at_ours() -> None:
    desk = Desk(Card([("USB desk", 44_100, 2, 0)], only=(44_100,), fewest_channels=2))
    assert (desk.microphone.device.rate, desk.microphone.device.channels) == (44_100, 2)
    desk.stream.say(np.repeat(sine(44_100, 44_100).astype(np.int16), 2).tobytes())
    heard = np.frombuffer(b"".join(frame.pcm for frame in islice(desk.microphone, 32)), np.int16)
    assert np.abs(heard - sine(16_000, len(heard)))[400:].max() < 20


def test_a_device_with_a_microphone_a_seat_is_opened_with_all_that_are_wanted() -> None:
    card = Card([("Desk of four", 48_000, 4, 0)])
    microphone = Microphone(None, picked=(3, 1), sound=card)
    (stream,) = card.streams
    assert (stream.samplerate, stream.channels) == (16_000, 3)
    stream.say(np.tile(np.array([100, 200, 300], np.int16), 480).tobytes())
    frame = next(iter(microphone))
    assert [np.frombuffer(pcm, np.int16)[0] for pcm in (frame.pcm, *frame.channels)] == [200, 300, 100]


def test_a_frame_of_silence_is_silent_in_every_microphone() -> None:
    desk = Desk(Card([("Desk of four", 16_000, 4, 0)]), picked=(1, 2))
    desk.stream.active = False
    desk.wait(1)
    assert [len(frame.channels) for frame in islice(desk.microphone, 1)] == [2]


def test_a_device_with_too_few_channels() -> None:
    with pytest.raises(DeviceError, match="'USB desk' has 1 channel, and 3 are needed. Choose another with --mic"):
        Microphone("USB", picked=(1, 3), sound=Card())


def test_a_device_that_cannot_be_opened_at_either_rate() -> None:
    with pytest.raises(DeviceError, match="'USB desk' cannot be opened, neither at 16000 Hz nor at its own 44100 Hz. Is it"):
        Microphone("USB", sound=Card(only=(8_000,)))


@pytest.mark.parametrize(("rate", "speed"), [(16_000, 1.0), (14_700, 0.919), (32_000, 2.0)])
def test_how_fast_sound_comes_is_known_after_a_minute(rate: int, speed: float) -> None:
    """A device that was asked for 16 kHz, keeps to another rate and does not say so: 44.1 kHz taken for 48 is 14.7 for 16."""
    desk = Desk()
    speeds = set()
    for _ in range(round(61 / 3 * speed)):
        desk.say(100, every_s=480 / rate)
        speeds |= {round(frame.speed, 3) for frame in islice(desk.microphone, 100)}
    assert speeds == {1.0, speed}


def test_a_device_that_was_away_is_measured_anew() -> None:
    desk = Desk()
    desk.say(40)
    desk.hear(40)
    desk.stream.active = False
    desk.wait(50)
    desk.hear(1)
    desk.say(1_000)
    assert {frame.speed for frame in islice(desk.microphone, 900)} == {1.0}


# --- sound is lost ------------------------------------------------------------------------------------------------------


def test_a_reader_that_stalls_hears_the_oldest_and_then_a_jump(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(module, "QUEUE_BLOCKS", 4)
    desk = Desk()
    desk.say(10)
    assert desk.microphone.backlog_s == pytest.approx(0.12)
    assert desk.microphone.dropped_s == pytest.approx(0.18)
    assert desk.hear(4) == [(0.0, 1), (0.03, 2), (0.06, 3), (0.09, 4)]
    desk.say(1)
    assert desk.hear(1) == [(0.3, 11)]
    assert desk.microphone.lost_why is Loss.BEHIND


def test_a_sound_card_that_could_not_wait_shows_as_the_time_it_lost() -> None:
    desk = Desk()
    desk.say(2)
    desk.wait(0.5)
    desk.say(2, overflow=True)
    assert desk.hear(4) == [(0.0, 1), (0.03, 2), (0.56, 3), (0.59, 4)]
    assert desk.microphone.lost_why is Loss.OVERFLOW


def test_the_frame_after_a_jump_says_why_and_each_how_much_sound_waits(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(module, "QUEUE_BLOCKS", 3)
    desk = Desk()
    desk.say(5)
    heard = list(islice(desk.microphone, 3))
    desk.say(2)
    heard += islice(desk.microphone, 2)
    desk.wait(0.5)
    desk.say(2, overflow=True)
    heard += islice(desk.microphone, 2)
    assert [frame.lost for frame in heard] == [None, None, None, Loss.BEHIND, None, Loss.OVERFLOW, None]
    assert [frame.behind_samples // 480 for frame in heard] == [2, 1, 0, 1, 0, 1, 0]


def test_an_overflow_in_which_no_time_was_lost_is_none() -> None:
    """PortAudio may flag the first block of a stream."""
    desk = Desk()
    desk.say(3, overflow=True)
    assert desk.hear(3) == [(0.0, 1), (0.03, 2), (0.06, 3)]
    assert desk.microphone.lost_why is None


def test_after_a_jump_inside_a_frame_its_beginning_is_not_lost() -> None:
    """At 44.1 kHz frames and blocks do not end together: what was begun is filled up with silence."""
    desk = Desk(Card([("USB desk", 44_100, 1, 0)], only=(44_100,)))
    desk.say(3)
    desk.wait(1.0)
    desk.say(3, overflow=True)
    starts = [start for start, _ in desk.hear(5)]
    assert starts[:3] == [0.0, 0.03, 0.06]
    assert starts[3] == pytest.approx(1.09, abs=0.001)
    assert starts[4] == pytest.approx(1.12, abs=0.001)


# --- the device goes away -----------------------------------------------------------------------------------------------


def test_while_the_device_is_away_time_goes_by_and_when_it_is_back_it_is_heard_in_its_place() -> None:
    desk = Desk()
    desk.say(2)
    assert desk.hear(2) == [(0.0, 1), (0.03, 2)]

    desk.card.plugged.clear()
    desk.stream.active = False
    desk.wait(0.5)
    assert desk.hear(1) == [(0.53, 0)]  # 0.06 s were heard, 0.5 s passed, and a frame takes 0.03 s
    assert desk.microphone.lost_why is Loss.AWAY
    desk.wait(10)
    assert desk.hear(1) == [(10.53, 0)]

    desk.card.plugged.append(("USB desk", 16_000, 1, 0))
    desk.wait(2)
    assert desk.hear(1) == [(12.53, 0)]  # in this tick the device was found again
    desk.wait(1)
    desk.say(2)
    assert desk.hear(2) == [(13.56, 3), (13.59, 4)]


def test_a_device_that_falls_silent_without_a_word_is_gone_after_three_seconds() -> None:
    desk = Desk()
    desk.say(1)
    desk.hear(1)
    desk.wait(2.9)
    assert desk.microphone.lost_why is None
    desk.wait(0.2)
    assert desk.hear(1) == [(3.1, 0)]
    assert desk.microphone.lost_why is Loss.AWAY
    assert len(desk.card.streams) == 2  # it was closed and opened anew
    desk.say(1)
    assert desk.hear(1) == [(3.13, 2)]


def test_sound_that_came_before_the_device_went_is_heard_first() -> None:
    desk = Desk()
    desk.say(2)
    desk.stream.active = False
    desk.wait(1)
    assert desk.hear(3) == [(0.0, 1), (0.03, 2), (1.03, 0)]


def test_a_microphone_chosen_by_name_is_waited_for_and_not_exchanged_for_another() -> None:
    desk = Desk(Card([("Built-in", 48_000, 2, 2), ("USB desk", 16_000, 1, 0)]), wanted=1)
    desk.stream.active = False
    del desk.card.plugged[1]
    desk.wait(5)
    assert desk.hear(1) == [(4.97, 0)]
    assert desk.microphone.lost_why is Loss.AWAY
    desk.card.plugged.insert(0, ("USB desk", 16_000, 1, 0))  # back, with another number
    desk.wait(5)
    desk.hear(1)
    assert (desk.stream.device, desk.stream.active) == (0, True)


def test_a_device_is_looked_for_once_a_second_and_not_at_every_tick() -> None:
    desk = Desk()
    desk.card.plugged.clear()
    desk.stream.active = False
    for _ in range(8):
        desk.wait(0.5)
        desk.hear(1)
    assert desk.card.refreshed == 4


def test_a_sound_system_that_hangs_does_not_stop_the_clock(monkeypatch: pytest.MonkeyPatch) -> None:
    desk, answered = Desk(), Event()
    monkeypatch.undo()
    monkeypatch.setattr(module, "TICK_S", 0.001)
    monkeypatch.setattr(desk.card, "_initialize", answered.wait)
    desk.stream.active = False
    desk.wait(2)
    assert desk.hear(1) == [(1.97, 0)]
    desk.wait(2)
    assert desk.hear(1) == [(3.97, 0)]
    answered.set()


def test_closing_while_the_device_is_away() -> None:
    desk = Desk()
    desk.card.plugged.clear()
    desk.stream.active = False
    desk.wait(1)
    desk.hear(1)
    assert desk.rest() == 0


# --- there is none ------------------------------------------------------------------------------------------------------


def test_no_microphone_at_all() -> None:
    with pytest.raises(DeviceError, match="There is no microphone on this machine. Plug one in"):
        Microphone(sound=Card([("Screen", 48_000, 0, 2)]))


def test_an_unknown_name_is_answered_with_the_names_there_are() -> None:
    with pytest.raises(DeviceError, match=r"'choir' names no microphone, .* 0 \(Built-in\), 1 \(USB desk\)"):
        Microphone("choir", sound=Card())


def test_to_load_the_modules_is_not_to_touch_a_sound_card() -> None:
    program = "import sys, assistant.devices.player, assistant.devices.microphone; sys.exit('sounddevice' in sys.modules)"
    subprocess.run([sys.executable, "-B", "-c", program], check=True)
