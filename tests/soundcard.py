"""A sound card for tests: it stands in for the module ``sounddevice``, and the test plays the part of PortAudio."""

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any


class PortAudioError(Exception):
    """As sounddevice's."""


class CallbackStop(Exception):
    """As sounddevice's."""


@dataclass
class Flags:
    """What PortAudio says beside a block."""

    input_overflow: bool = False


@dataclass
class Stream:
    """A stream that a test drives by hand."""

    samplerate: int
    channels: int
    dtype: str
    device: int
    callback: Callable[..., None]
    blocksize: int = 0
    active: bool = False

    def start(self) -> None:
        self.active = True

    def close(self, ignore_errors: bool = True) -> None:
        self.active = False

    def say(self, pcm: bytes, overflow: bool = False) -> None:
        """A microphone's block of sound comes in."""
        assert self.active
        self.callback(pcm, len(pcm) // 2 // self.channels, None, Flags(overflow))

    def pull(self, frames: int) -> bytes:
        """A loudspeaker wants this many frames."""
        out = bytearray(b"\xff" * (frames * self.channels * 2))
        try:
            self.callback(memoryview(out), frames, None, Flags())
        except CallbackStop:
            self.active = False
        return bytes(out)


@dataclass
class Card:
    """What is plugged in: name, rate, inputs, outputs of each device; ``only`` are the rates that it can be opened with."""

    plugged: list[tuple[str, int, int, int]] = field(
        default_factory=lambda: [("Built-in", 48_000, 2, 2), ("USB desk", 44_100, 1, 0)]
    )
    only: tuple[int, ...] = (16_000, 44_100, 48_000)
    fewest_channels: int = 1
    streams: list[Stream] = field(default_factory=list)
    refreshed: int = 0

    PortAudioError = PortAudioError
    CallbackStop = CallbackStop

    def query_devices(self, wanted: str | int | None = None, kind: str | None = None) -> Any:
        there = [self._info(number) for number in range(len(self.plugged))]
        if kind is None:
            return there
        able = [info for info in there if info[f"max_{kind}_channels"]]
        if isinstance(wanted, int):
            able = [info for info in able if info["index"] == wanted]
        elif isinstance(wanted, str):
            able = [info for info in able if wanted.lower() in info["name"].lower()]
            if len(able) != 1:
                raise ValueError(f"{len(able)} devices")
        if not able:
            raise PortAudioError("Error querying device -1")
        return able[0]

    def _info(self, number: int) -> dict[str, Any]:
        name, rate, inputs, outputs = self.plugged[number]
        return {
            "index": number,
            "name": name,
            "default_samplerate": float(rate),
            "max_input_channels": inputs,
            "max_output_channels": outputs,
        }

    def check_input_settings(self, device: int, channels: int, dtype: str, *, samplerate: int) -> None:
        if samplerate not in self.only or channels < self.fewest_channels:
            raise PortAudioError("Invalid sample rate")

    check_output_settings = check_input_settings

    def _open(self, **how: Any) -> Stream:
        if how["device"] >= len(self.plugged):
            raise PortAudioError("Device unavailable")
        self.streams.append(Stream(**how))
        return self.streams[-1]

    RawInputStream = RawOutputStream = _open

    def _terminate(self) -> None:
        self.refreshed += 1

    def _initialize(self) -> None: ...


class Clock:
    """Seconds that pass when the test says so."""

    def __init__(self) -> None:
        self.time_s = 1000.0

    def __call__(self) -> float:
        return self.time_s
