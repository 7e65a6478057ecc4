"""A real sound system: what the loudspeaker plays, the microphone hears, and a device that goes away comes back.

The sound goes through PortAudio, ALSA's plug-in for PulseAudio, the server's null sink and its monitor, and the same way back.
"""

import subprocess
import time
from collections.abc import Callable, Iterable, Iterator
from pathlib import Path

import numpy as np
import pytest
import soundfile

from assistant.devices.microphone import Microphone
from assistant.devices.player import Player
from assistant.devices.portaudio import Kind, devices
from assistant.devices.voice import Voice
from assistant.events import Trouble
from assistant.listening.faults import Watcher
from assistant.listening.microphones import Microphones
from assistant.samples import Frame
from assistant.terms import Fault, Loss, Seat
from tests.live.room import FOUR, Room, in_three_tries, position

pytestmark = [pytest.mark.alone, pytest.mark.usefixtures("room")]


def hear(frames: Iterator[Frame], until: Callable[[], bool], at_most_s: float = 20) -> list[Frame]:
    """The frames that come until something is so."""
    heard: list[Frame] = []
    end_s = time.monotonic() + at_most_s
    while not until():
        assert time.monotonic() < end_s, "it did not happen"
        heard.append(next(frames))
    return heard


def watched(frames: Iterable[Frame], told: list[Trouble]) -> Iterator[Frame]:
    """The same frames, and what is told of the device meanwhile."""
    watcher = Watcher()
    for frame in frames:
        told += watcher.hear(frame)
        yield frame


def sound(frames: list[Frame]) -> np.typing.NDArray[np.int16]:
    return np.frombuffer(b"".join(frame.pcm for frame in frames), np.int16)


def jumps(frames: list[Frame]) -> list[tuple[int, int]]:
    return [(a.end_sample, b.start_sample) for a, b in zip(frames, frames[1:], strict=False) if a.end_sample != b.start_sample]


def test_the_room_has_a_microphone_and_a_loudspeaker() -> None:
    assert "default" in {device.name for device in devices(Kind.MICROPHONE)}
    assert "default" in {device.name for device in devices(Kind.LOUDSPEAKER)}


@in_three_tries
def test_what_the_loudspeaker_plays_the_microphone_hears() -> None:
    said = Voice().render("Two more steps, then we swap.")
    with Microphone() as microphone:
        frames = iter(microphone)
        before = [next(frames) for _ in range(20)]
        player = Player()
        player.play(said)
        assert player.is_playing
        heard = [*before, *hear(frames, lambda: not player.is_playing), *(next(frames) for _ in range(20))]
    assert jumps(heard) == []
    at, alike = position(sound(heard), said)
    assert alike > 0.99
    assert 20 * 480 <= at < 20 * 480 + 16_000  # it began when it was played: half a second late was seen at most
    assert (player.trouble, microphone.lost_why, microphone.dropped_s) == ("", None, 0)


@in_three_tries
def test_a_cue_is_over_when_it_has_been_heard() -> None:
    said = Voice().render("One minute left.")
    with Microphone() as microphone:
        frames = iter(microphone)
        next(frames)
        player = Player()
        player.play(said)
        heard = hear(frames, lambda: not player.is_playing)
        over = len(heard) * 480
        heard += [next(frames) for _ in range(20)]
    at, alike = position(sound(heard), said)
    assert alike > 0.99
    assert abs(over - (at + len(said))) < 0.5 * 16_000  # what the sound system keeps in its buffers


@in_three_tries
def test_a_sound_system_that_ends_and_begins_again_is_a_jump_and_then_heard(room: Room) -> None:
    said = Voice().render("We swap now.")
    told: list[Trouble] = []
    with Microphone() as microphone:
        frames = watched(microphone, told)
        [next(frames) for _ in range(20)]
        room.close()
        gone_s = time.monotonic()
        away = hear(frames, lambda: bool(told))
        away += [next(frames) for _ in range(8)]  # the clock goes on: four a second
        room.open()
        away += hear(frames, lambda: told[-1].over)
        back_s = time.monotonic()
        player = Player()
        player.play(said)
        heard = hear(frames, lambda: not player.is_playing) + [next(frames) for _ in range(20)]
    assert microphone.lost_why is Loss.AWAY
    assert [(one.fault, one.over) for one in told] == [(Fault.AWAY, False), (Fault.AWAY, True)]
    passed_s = (away[-1].end_sample - away[0].start_sample) / 16_000
    assert passed_s == pytest.approx(back_s - gone_s, abs=0.5)
    starts = [frame.start_sample for frame in away + heard]
    assert starts == sorted(set(starts))
    assert position(sound(heard), said)[1] > 0.99


@in_three_tries
def test_a_machine_without_the_packages_fails_with_a_sentence(tmp_path: Path) -> None:
    with pytest.raises(AssertionError, match="sudo apt install pulseaudio libasound2-plugins libportaudio2"):
        Room(tmp_path, system=tmp_path)


@in_three_tries
def test_a_sound_card_with_a_microphone_each_keeps_them_apart(room: Room, tmp_path: Path) -> None:
    """Four channels, of which three are used, in another order; each child speaks a second, and reaches the others too."""
    said = Voice().render("One more step, then we swap.")[:16_000]
    own = np.vstack([said[:, np.newaxis] * np.where(np.arange(4) == speaker, 1, 0.25) for speaker in (3, 0, 1)])
    soundfile.write(tmp_path / "four.wav", own.astype(np.int16), 16_000)
    with room.sound_card(FOUR) as card, Microphone(picked=(1, 2, 4)) as microphone:
        frames = iter(microphone)
        next(frames)
        player = subprocess.Popen(["paplay", f"--device={card}", f"--channel-map={FOUR}", str(tmp_path / "four.wav")])
        heard = hear(frames, lambda: player.poll() is not None) + [next(frames) for _ in range(20)]
    each = [np.frombuffer(b"".join(frame.channels[place] for frame in heard), np.int16) for place in range(3)]
    at, _ = position(sound(heard), own[:, [0, 1, 3]].mean(axis=1).astype(np.int16))
    seats = (Seat.A, Seat.B, Seat.C)
    parts = Microphones(seats).parts(sound(heard)[at : at + 48_000], np.stack(each, axis=1)[at : at + 48_000])
    assert list(dict.fromkeys(part.answer.seat for part in parts)) == [Seat.C, Seat.A, Seat.B]
