"""A microphone as a source of frames, the same that a recording gives.

What lives here: the device, its queue, and what happens when it drops sound or goes away. What must not: listening.

    PortAudio's thread        the reader's thread
    callback ── copies ──► bounded queue ──► frames, each with its place in time
"""

import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from queue import Empty, Full, Queue
from types import TracebackType
from typing import Any, NamedTuple

import numpy as np

from assistant.devices.framing import FULL_SCALE, Framer
from assistant.devices.portaudio import Device, Kind, choose, in_words, load, refresh
from assistant.errors import DeviceError
from assistant.samples import FRAME_BYTES, FRAME_MS, FRAME_SAMPLES, SAMPLE_RATE, Frame, to_samples

QUEUE_BLOCKS = 1_000  # 30 s of sound, 1 to 3 MB; when it is full the newest is dropped, so that the oldest speech is kept
TICK_S = 0.25  # so often a frame of silence comes while the device is away, so that the session's clock goes on
STALL_S = 3.0  # no sound for this long, and the device is taken for gone; PulseAudio was seen to begin after 2 s
RETRY_S = 1.0

_GONE = "The microphone {name!r} has stopped answering. Is it still plugged in? It is used again as soon as it is back."


class _Block(NamedTuple):
    """What one callback brought. ``index`` counts the device's own samples since the stream began, dropped ones too."""

    index: int
    pcm: bytes
    overflow: bool
    came_s: float


class _Stream:
    """One opened stream. Its callback runs in PortAudio's thread: it copies, counts and returns."""

    def __init__(self, sound: Any, device: Device, now: Callable[[], float]) -> None:
        self.blocks: Queue[_Block] = Queue(QUEUE_BLOCKS)
        self.dropped = 0
        self.came_s = now()
        self._index = 0
        self._now = now
        with in_words(sound, f"The microphone {device.name!r} cannot be opened"):
            self._stream = sound.RawInputStream(
                samplerate=device.rate,
                blocksize=device.rate * FRAME_MS // 1000,
                channels=device.channels,
                dtype="int16",
                device=device.number,
                callback=self._callback,
            )
            self._stream.start()

    def _callback(self, data: Any, frames: int, at: Any, status: Any) -> None:
        self.came_s = self._now()
        try:
            self.blocks.put_nowait(_Block(self._index, bytes(data), bool(status.input_overflow), self.came_s))
        except Full:
            self.dropped += frames
        self._index += frames

    @property
    def is_gone(self) -> bool:
        return not self._stream.active or self._now() > self.came_s + STALL_S

    def close(self) -> None:
        self._stream.close(ignore_errors=True)


@dataclass(slots=True)
class _Line:
    """Where we are in time: the last sound that was heard ended at ``sample`` and came at ``came_s``."""

    sample: int
    came_s: float

    def at(self, now_s: float) -> int:
        """The sample that this moment would be."""
        return self.sample + to_samples(now_s - self.came_s)


class Microphone:
    """An open microphone; to iterate is to hear it, until it is closed.

    Frames follow one another as in a recording. Where sound was lost, ``start_sample`` jumps by what was lost. While the device
    is away a frame of silence comes four times a second, each after a jump, and the device is looked for once a second; neither
    waits for ever.

    Args:
        wanted: its number, or words from its name; the system's own choice for None.
        sound: sounddevice, or what stands in for it.
        now: seconds on any clock that does not jump.

    Raises:
        DeviceError: there is no such microphone, it cannot be opened, or PortAudio is missing.
    """

    def __init__(
        self, wanted: str | int | None = None, *, sound: Any = None, now: Callable[[], float] = time.monotonic
    ) -> None:
        self._sound = sound or load()
        self._now = now
        self.device = choose(Kind.MICROPHONE, wanted, self._sound)
        self._wanted = None if wanted is None else self.device.name  # numbers change when something is plugged in or out
        self.trouble = ""
        """What is wrong with the microphone now, as a sentence; empty while it is heard."""
        self.lost_why = ""
        """Why sound was last lost, in words; empty while none was."""
        self.overflows = 0
        """How often the sound card itself could not wait."""
        self._dropped_before = 0
        self._closed = False
        self._open(at_sample=0)

    def _open(self, at_sample: int) -> None:
        self._stream = _Stream(self._sound, self.device, self._now)
        self._tried_s = self._now()
        self._framer = Framer(self.device.rate, at_sample)
        self._next_index = 0
        self._base = at_sample
        self._line = _Line(at_sample, self._tried_s)

    def __iter__(self) -> Iterator[Frame]:
        while not self._closed:
            try:
                block = self._stream.blocks.get(timeout=TICK_S)
            except Empty:
                yield from self._wait()
            else:
                yield from self._take(block)
        yield from self._framer.finish()

    @property
    def dropped_s(self) -> float:
        """Seconds of sound that found no room in the queue, because the reader was too slow."""
        return self._dropped_before + self._stream.dropped / self.device.rate

    @property
    def backlog_s(self) -> float:
        """Seconds of sound that wait in the queue."""
        return self._stream.blocks.qsize() * FRAME_MS / 1000

    def close(self) -> None:
        """Give the device back. Who iterates comes to an end."""
        self._closed = True
        self._stream.close()
