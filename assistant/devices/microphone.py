"""A microphone as a source of frames, the same that a recording gives.

What lives here: the device, its queue, and what happens when it drops sound or goes away. What must not: listening.

    PortAudio's thread        the reader's thread
    callback ── copies ──► bounded queue ──► frames, each with its place in time
"""

import time
from collections.abc import Callable, Iterator
from concurrent.futures import Future
from functools import partial
from queue import Empty, Full, Queue
from threading import Thread
from types import TracebackType
from typing import Any, NamedTuple, TypeVar

import numpy as np

from assistant.devices.framing import FULL_SCALE, Framer
from assistant.devices.portaudio import Device, Kind, choose, in_words, load, refresh
from assistant.errors import DeviceError
from assistant.samples import FRAME_BYTES, FRAME_MS, FRAME_SAMPLES, SAMPLE_RATE, Frame, to_samples
from assistant.terms import Loss

QUEUE_BLOCKS = 1_000  # 30 s of sound, 1 to 3 MB; when it is full the newest is dropped, so that the oldest speech is kept
TICK_S = 0.25  # so often a frame of silence comes while the device is away, so that the session's clock goes on
STALL_S = 3.0  # no sound for this long, and the device is taken for gone; PulseAudio was seen to begin after 2 s
RETRY_S = 1.0
SPEED_S = 60.0  # so long the speed is measured each time: PulseAudio begins with up to 2 s at once

Found = TypeVar("Found")


class _Block(NamedTuple):
    """What one callback brought. ``first`` counts the device's own samples since the stream began, dropped ones too."""

    first: int
    pcm: bytes
    overflow: bool
    came_s: float


class _Stream:
    """One opened stream. Its callback runs in PortAudio's thread: it copies, counts and returns."""

    def __init__(self, sound: Any, device: Device, now: Callable[[], float]) -> None:
        self.blocks: Queue[_Block] = Queue(QUEUE_BLOCKS)
        self.dropped = 0
        self._heard = 0
        self._now = now
        self._came_s = now()
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
        self._open = True

    def _callback(self, data: Any, frames: int, at: Any, status: Any) -> None:
        self._came_s = self._now()
        try:
            self.blocks.put_nowait(_Block(self._heard, bytes(data), bool(status.input_overflow), self._came_s))
        except Full:
            self.dropped += frames
        self._heard += frames

    @property
    def is_gone(self) -> bool:
        """Whether no more sound will come from it."""
        return not self._open or not self._stream.active or self._now() > self._came_s + STALL_S

    def close(self) -> None:
        """Give the device back; nothing happens the second time."""
        if self._open:
            self._open = False
            self._stream.close(ignore_errors=True)


class _Speed:
    """How fast sound comes against the clock, measured once a minute: 1 for as fast as it should."""

    def __init__(self) -> None:
        self.ratio = 1.0
        self._since: tuple[float, float] | None = None

    def begin(self) -> None:
        """What comes next cannot be compared with what came before."""
        self._since = None

    def hear(self, heard_s: float, came_s: float) -> None:
        """So much has been heard in all, and this is when the last of it came."""
        if self._since is None:
            self._since = heard_s, came_s
        elif (passed_s := came_s - self._since[1]) >= SPEED_S:
            self.ratio = (heard_s - self._since[0]) / passed_s
            self._since = heard_s, came_s


class Microphone:
    """An open microphone; to iterate is to hear it, until it is closed.

    Frames follow one another as in a recording. Where sound was lost, ``start_sample`` jumps by as much, and ``lost`` says why.
    While the device is away a frame of silence comes four times a second, each after a jump, and once a second the device is
    looked for; so whoever iterates waits three seconds at most.

    Args:
        wanted: its number, or words from its name; the system's own choice for None.
        picked: the channels that are a seat's own microphone each, counted from 1; without any, all are mixed.
        sound: sounddevice, or what stands in for it.
        now: seconds on any clock that does not jump.

    Raises:
        DeviceError: there is no such microphone, it cannot be opened, or PortAudio is missing.
    """

    def __init__(
        self,
        wanted: str | int | None = None,
        picked: tuple[int, ...] = (),
        *,
        sound: Any = None,
        now: Callable[[], float] = time.monotonic,
    ) -> None:
        self._sound = sound or load()
        self._now = now
        self._picked = picked
        self.device = self._choose(wanted)
        self._wanted = None if wanted is None else self.device.name  # a number may mean another device after a refresh
        self.lost_why: Loss | None = None
        """Why sound was last lost; None while none was."""
        self._dropped_before_s = 0.0
        self._closed = False
        self._away = False
        self._search: Future[tuple[Device, _Stream]] | None = None
        self._tried_s = now()
        self._stream = _Stream(self._sound, self.device, now)
        self._speed = _Speed()
        self._framer = self._framer_from(0)
        self._base = 0  # where the stream's own sample 0 lies on the time line
        self._next_first = 0
        self._end_sample, self._end_s = 0, self._tried_s  # the last sound that was heard: where it ended, and when it came

    def __enter__(self) -> "Microphone":
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None) -> None:
        self.close()

    def __iter__(self) -> Iterator[Frame]:
        end_sample = 0
        for frame in self._frames():
            lost = self.lost_why if frame.start_sample > end_sample else None
            end_sample = frame.end_sample
            yield frame._replace(lost=lost, behind_samples=to_samples(self.backlog_s), speed=self._speed.ratio)

    def _frames(self) -> Iterator[Frame]:
        while not self._closed:
            try:
                block = self._stream.blocks.get(timeout=TICK_S)
            except Empty:
                yield from self._wait()
            else:
                yield from self._take(block)
        yield from self._framer.finish()

    def _choose(self, wanted: str | int | None) -> Device:
        return choose(Kind.MICROPHONE, wanted, self._sound, max(self._picked, default=1))

    def _framer_from(self, start_sample: int) -> Framer:
        return Framer(self.device.rate, start_sample, self._picked)

    @property
    def dropped_s(self) -> float:
        """Seconds of sound that found no room in the queue, because the reader was too slow."""
        return self._dropped_before_s + self._stream.dropped / self.device.rate

    @property
    def backlog_s(self) -> float:
        """Seconds of sound that wait in the queue."""
        return self._stream.blocks.qsize() * FRAME_MS / 1000

    def close(self) -> None:
        """Give the device back. Whoever iterates comes to an end."""
        self._closed = True
        self._stream.close()

    # --- sound comes ---

    def _take(self, block: _Block) -> Iterator[Frame]:
        sound = np.frombuffer(block.pcm, np.int16).reshape(-1, self.device.channels)
        length = self._scaled(len(sound))
        self._place(block, length)
        start = self._base + self._scaled(block.first)
        if start != self._end_sample:
            yield from self._framer.finish()
            self._framer = self._framer_from(max(start, self._framer.end_sample))
        self._next_first = block.first + len(sound)
        self._speed.hear(self._next_first / self.device.rate, block.came_s)
        self._end_sample, self._end_s = self._base + self._scaled(self._next_first), block.came_s
        yield from self._framer.push(sound.astype(np.float32) / np.float32(FULL_SCALE))

    def _place(self, block: _Block, length: int) -> None:
        """Find out whether sound is missing before this block, and why. What the queue dropped, ``first`` tells."""
        if block.first != self._next_first:
            self.lost_why = Loss.BEHIND
        if block.overflow or self._away:  # how much is missing, only the clock can tell
            start = max(self._sample_at(block.came_s) - length, self._end_sample)
            if start > self._end_sample:
                self._base = start - self._scaled(block.first)
                self._speed.begin()
                self.lost_why = Loss.AWAY if self._away else Loss.OVERFLOW
        self._away = False

    def _scaled(self, device_samples: int) -> int:
        return round(device_samples * SAMPLE_RATE / self.device.rate)

    def _sample_at(self, now_s: float) -> int:
        """The sample that this moment would be, counted on from the last sound."""
        return self._end_sample + to_samples(now_s - self._end_s)

    # --- no sound comes ---

    def _wait(self) -> Iterator[Frame]:
        """Nothing came for a tick. Where the device is away, let time go by and look for it."""
        if not self._away and self._stream.is_gone:
            self._away, self.lost_why = True, Loss.AWAY
            yield from self._framer.finish()
        if self._away:
            self._look()
            yield from self._silence()

    def _silence(self) -> Iterator[Frame]:
        start = self._sample_at(self._now()) - FRAME_SAMPLES
        if start >= self._framer.end_sample:
            self._framer = self._framer_from(start + FRAME_SAMPLES)
            yield Frame(start, bytes(FRAME_BYTES), (bytes(FRAME_BYTES),) * len(self._picked))

    def _look(self) -> None:
        """Look for the device, in the background: a sound system that hangs would hang the session with it."""
        if self._search is None and self._stream.is_gone and self._now() >= self._tried_s + RETRY_S:
            self._tried_s = self._now()
            self._search = _in_background(partial(self._opened_again, self._stream))
        if self._search is not None and self._search.done():
            if not self._search.exception():
                self._go_on(*self._search.result())
            self._search = None

    def _opened_again(self, old: _Stream) -> tuple[Device, _Stream]:
        old.close()
        refresh(self._sound)
        device = self._choose(self._wanted)
        stream = _Stream(self._sound, device, self._now)
        if self._closed:  # nobody wants it any more
            stream.close()
        return device, stream

    def _go_on(self, device: Device, stream: _Stream) -> None:
        """The device is back. Its time goes on where the clock says when its first sound comes."""
        self._dropped_before_s = self.dropped_s
        self.device, self._stream, self._speed = device, stream, _Speed()
        self._base, self._next_first = self._end_sample, 0


def _in_background(work: Callable[[], Found]) -> "Future[Found]":
    """Do this in a thread that no one has to wait for, not even at the end of the program."""
    future: Future[Found] = Future()

    def run() -> None:
        try:
            future.set_result(work())
        except DeviceError as error:
            future.set_exception(error)

    Thread(target=run, name="microphone search", daemon=True).start()
    return future
