"""A loudspeaker plays one cue at a time and knows when it is over, whatever the device does."""

import sys
from pathlib import Path

import numpy as np
import pytest

from assistant.devices.player import Player
from assistant.devices.portaudio import Kind, devices
from assistant.errors import DeviceError
from tests.soundcard import Card, Clock

CUE = np.arange(1, 1001, dtype=np.int16)  # 1/16 s


def test_a_cue_is_played_whole_and_then_over() -> None:
    card = Card()
    player = Player(sound=card)
    assert not player.is_playing
    player.play(CUE)
    [stream] = card.streams
    heard = stream.pull(600)
    assert player.is_playing
    heard += stream.pull(600)
    assert not player.is_playing
    assert np.frombuffer(heard, np.int16).tolist() == [*CUE.tolist(), *[0] * 200]


def test_a_second_cue_ends_the_first() -> None:
    card = Card()
    player = Player(sound=card)
    player.play(CUE)
    player.play(CUE)
    assert [stream.active for stream in card.streams] == [False, True]
    player.stop()
    assert not player.is_playing


def test_nothing_to_play_opens_nothing() -> None:
    card = Card()
    player = Player(sound=card)
    player.play(CUE[:0])
    assert (card.streams, player.is_playing) == ([], False)


def test_a_device_that_wants_its_own_rate_and_two_channels_gets_them() -> None:
    card = Card(only=(48_000,), fewest_channels=2)
    Player(sound=card).play(np.full(1_000, 5_000, np.int16))
    [stream] = card.streams
    assert (stream.samplerate, stream.channels) == (48_000, 2)
    left, right = np.frombuffer(stream.pull(3_000), np.int16).reshape(-1, 2).T
    assert (left == right).all()
    assert np.abs(left[300:-300] - 5_000).max() < 10


def test_a_device_that_dies_under_a_cue_ends_it() -> None:
    card = Card()
    player = Player(sound=card)
    player.play(CUE)
    card.streams[0].active = False
    assert not player.is_playing


def test_a_device_that_never_finishes_does_not_keep_the_ears_shut_for_ever() -> None:
    card, clock = Card(), Clock()
    player = Player(sound=card, now=clock)
    player.play(CUE)
    clock.time_s += 1
    assert player.is_playing
    clock.time_s += 5
    assert not player.is_playing


def test_a_device_that_has_gone_before_the_cue_ends_no_session() -> None:
    card = Card()
    player = Player(sound=card)
    card.plugged.clear()
    player.play(CUE)
    assert not player.is_playing
    assert player.trouble == (
        "The loudspeaker 'Built-in' cannot be used (Device unavailable). Is it plugged in, and does no other program hold it?"
    )
    card.plugged.append(("Built-in", 48_000, 0, 2))
    player.play(CUE)
    assert (player.is_playing, player.trouble) == (True, "")


@pytest.mark.parametrize(
    ("wanted", "number"), [(None, 0), ("usb", 1), ("USB desk", 1), (1, 1), ("1", 1), ("built", 0)], ids=repr
)
def test_a_device_is_chosen_by_number_or_words_of_its_name(wanted: str | int | None, number: int) -> None:
    card = Card([("Built-in", 48_000, 2, 2), ("USB desk", 44_100, 1, 2)])
    Player(wanted, sound=card).play(CUE)
    assert card.streams[0].device == number


@pytest.mark.parametrize("wanted", ["USB", "i", 7, "7"])
def test_a_device_that_is_not_the_one_is_answered_with_what_there_is(wanted: str | int) -> None:
    card = Card([("Built-in", 48_000, 2, 2), ("Screen (digital)", 48_000, 0, 8), ("USB desk", 44_100, 1, 0)])
    with pytest.raises(
        DeviceError,
        match=r"names no loudspeaker, or more than one. Choose by number: 0 \(Built-in\), 1 \(Screen \(digital\)\)\.",
    ):
        Player(wanted, sound=card)


def test_no_loudspeaker_at_all() -> None:
    with pytest.raises(DeviceError, match="There is no loudspeaker on this machine"):
        Player(sound=Card([("USB desk", 44_100, 1, 0)]))


def test_a_device_that_no_way_of_opening_suits() -> None:
    with pytest.raises(DeviceError, match="'Built-in' cannot be opened"):
        Player(sound=Card(only=()))


def test_devices_are_listed_by_what_they_can_do() -> None:
    assert [device.name for device in devices(Kind.MICROPHONE, Card())] == ["Built-in", "USB desk"]
    assert [device.name for device in devices(Kind.LOUDSPEAKER, Card())] == ["Built-in"]


def test_without_portaudio_one_sentence_names_the_package(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "sounddevice.py").write_text("raise OSError('PortAudio library not found')")  # as the real one does
    monkeypatch.syspath_prepend(tmp_path)
    monkeypatch.delitem(sys.modules, "sounddevice", raising=False)
    with pytest.raises(DeviceError, match="sudo apt install libportaudio2"):
        Player()
