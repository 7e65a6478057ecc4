"""The way to the sound card: PortAudio, through sounddevice.

What lives here: loading it only when a device is wanted, naming devices, and turning its errors into sentences. What must not:
sound.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from enum import StrEnum
from threading import RLock
from typing import Any, Protocol
from weakref import WeakSet

from assistant.errors import DeviceError
from assistant.samples import SAMPLE_RATE


class Kind(StrEnum):
    """What a device does, as sounddevice calls it."""

    MICROPHONE = "input"
    LOUDSPEAKER = "output"

    @property
    def word(self) -> str:
        """As a person would say it."""
        return self.name.lower()


@dataclass(frozen=True, slots=True)
class Device:
    """A microphone or loudspeaker, and how it can be opened: ``rate`` in Hz is 16 kHz wherever the device allows it."""

    number: int
    name: str
    rate: int
    channels: int


class Stoppable(Protocol):
    """Something that holds a stream and can let go of it."""

    def stop(self) -> None:
        """Close the stream."""
        ...


streams: WeakSet[Stoppable] = WeakSet()
"""Whoever holds a stream of its own; a refresh asks each to let go, because it leaves no stream alive."""


_lock = RLock()
"""PortAudio is used from one thread at a time."""
PATIENCE_S = 1.0  # for another thread to be done with it; longer, and the sound system hangs


def refresh(sound: Any) -> None:
    """Look again at what is plugged in: PortAudio does so only when it begins."""
    with in_words(sound, "The sound system cannot be asked"):
        for holder in streams:
            holder.stop()
        sound._terminate()  # the only way that sounddevice has
        sound._initialize()


def load() -> Any:
    """sounddevice, loaded now.

    Raises:
        DeviceError: PortAudio is not on this machine.
    """
    try:
        import sounddevice
    except (ImportError, OSError) as error:
        raise DeviceError(
            "No sound device can be used, because the library PortAudio is missing. On Debian or Ubuntu: "
            "sudo apt install libportaudio2. Recordings can be heard without it."
        ) from error
    return sounddevice


@contextmanager
def in_words(sound: Any, failing: str) -> Iterator[None]:
    """Use PortAudio, alone, and turn what it says into a DeviceError that begins with what is failing."""
    if not _lock.acquire(timeout=PATIENCE_S):
        raise DeviceError(f"{failing}: the sound system does not answer. Start the computer's sound again.")
    try:
        yield
    except (sound.PortAudioError, ValueError) as error:
        reason = str(error).splitlines()[0]
        raise DeviceError(f"{failing} ({reason}). Is it plugged in, and does no other program hold it?") from error
    finally:
        _lock.release()


def devices(kind: Kind, sound: Any = None) -> tuple[Device, ...]:
    """Every device of this kind, with the number and the name that it can be chosen by."""
    sound = sound or load()
    return tuple(_device(found, kind) for found in sound.query_devices() if found[f"max_{kind}_channels"])


def choose(kind: Kind, wanted: str | int | None, sound: Any = None, channels: int = 1) -> Device:
    """The device with this number, or whose name holds these words; the system's own choice for None.

    Args:
        channels: how many it must have at least.

    Raises:
        DeviceError: there is none, or several (it lists what there is), or it cannot be opened like that.
    """
    sound = sound or load()
    if isinstance(wanted, str) and wanted.strip().isdigit():
        wanted = int(wanted)
    with in_words(sound, f"The {kind.word} cannot be used"):
        try:
            found = sound.query_devices(wanted, kind.value)
        except (sound.PortAudioError, ValueError) as error:
            raise DeviceError(_no_such(kind, wanted, devices(kind, sound))) from error
        return _playable(_device(found, kind), kind, sound, channels)


def _device(found: dict[str, Any], kind: Kind) -> Device:
    return Device(found["index"], found["name"], round(found["default_samplerate"]), found[f"max_{kind}_channels"])


def _playable(device: Device, kind: Kind, sound: Any, fewest: int) -> Device:
    """How this device can be opened: best at our own rate and with no more channels than are needed."""
    if device.channels < fewest:
        has = f"The {kind.word} {device.name!r} has {device.channels} channel{'s' * (device.channels != 1)}"
        raise DeviceError(f"{has}, and {fewest} are needed. Choose another with --mic, or change --channels.")
    check = sound.check_input_settings if kind is Kind.MICROPHONE else sound.check_output_settings
    for rate in (SAMPLE_RATE, device.rate):
        for channels in range(fewest, min(device.channels, max(fewest, 2)) + 1):
            try:
                check(device.number, channels, "int16", samplerate=rate)
            except sound.PortAudioError:
                continue
            return Device(device.number, device.name, rate, channels)
    rates = f"neither at {SAMPLE_RATE} Hz nor at its own {device.rate} Hz"
    raise DeviceError(
        f"The {kind.word} {device.name!r} cannot be opened, {rates}. Is it plugged in, and does no other program hold it?"
    )


def _no_such(kind: Kind, wanted: str | int | None, there: tuple[Device, ...]) -> str:
    if not there:
        return f"There is no {kind.word} on this machine. Plug one in and start again."
    names = ", ".join(f"{device.number} ({device.name})" for device in there)
    if wanted is None:
        return f"The system has chosen no {kind.word}. Choose by number: {names}."
    return f"{wanted!r} names no {kind.word}, or more than one. Choose by number: {names}."
