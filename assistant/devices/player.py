"""The loudspeaker: plays a cue, and knows when it is over.

What lives here: one sound at a time on one device. What must not: what is said, or when.
"""

import time
from collections.abc import Callable
from threading import Lock
from typing import Any

import numpy as np
import soxr
from numpy.typing import NDArray

from assistant.devices.portaudio import Kind, choose, in_words, load, streams
from assistant.errors import DeviceError
from assistant.samples import SAMPLE_RATE, to_seconds

GRACE_S = 5.0  # not finished this long after the sound should be over: the device has gone. PulseAudio was seen 2 s late


class Player:
    """A loudspeaker.

    Args:
        wanted: its number, or words from its name; the system's own choice for None.
        sound: sounddevice, or what stands in for it.
        now: seconds on any clock that does not jump.

    Raises:
        DeviceError: there is no such loudspeaker, or PortAudio is missing.
    """

    def __init__(
        self, wanted: str | int | None = None, *, sound: Any = None, now: Callable[[], float] = time.monotonic
    ) -> None:
        self._sound = sound or load()
        self._device = choose(Kind.LOUDSPEAKER, wanted, self._sound)
        self._now = now
        self._lock = Lock()
        self._stream: Any = None
        self._over_at_s = 0.0
        self.trouble = ""
        """Why the last sound could not be played, as a sentence; empty where it could."""
        streams.add(self)

    def play(self, sound: NDArray[np.int16]) -> None:
        """Begin to play int16 mono at 16 kHz, and return at once. What was still playing stops.

        A loudspeaker that has gone ends no session: then nothing is playing, and ``trouble`` says why.
        """
        self.stop()
        self.trouble = ""
        try:
            if len(sound):
                self._begin(sound)
        except DeviceError as error:
            self.trouble = str(error)

    def _begin(self, sound: NDArray[np.int16]) -> None:
        feeding = _Feeding(self._fitted(sound), self._sound)
        with self._lock, in_words(self._sound, f"The loudspeaker {self._device.name!r} cannot be used"):
            stream = self._sound.RawOutputStream(
                samplerate=self._device.rate,
                channels=self._device.channels,
                dtype="int16",
                device=self._device.number,
                callback=feeding.callback,
            )
            self._over_at_s = self._now() + to_seconds(len(sound)) + GRACE_S
            stream.start()
            self._stream = stream

    @property
    def is_playing(self) -> bool:
        """Whether the last sound is still to be heard. False too where the device went away under it."""
        with self._lock:
            return self._stream is not None and bool(self._stream.active) and self._now() < self._over_at_s

    def stop(self) -> None:
        """Fall silent, and give the device back."""
        with self._lock:
            if self._stream is not None:
                self._stream.close(ignore_errors=True)
                self._stream = None

    def _fitted(self, sound: NDArray[np.int16]) -> bytes:
        """The sound at the device's rate, the same on each of its channels."""
        if self._device.rate != SAMPLE_RATE:
            sound = soxr.resample(sound, SAMPLE_RATE, self._device.rate)
        return np.repeat(sound, self._device.channels).tobytes()


class _Feeding:
    """Hands one sound to the device's callback, piece by piece."""

    def __init__(self, pcm: bytes, sound: Any) -> None:
        self._pcm = pcm
        self._at = 0
        self._sound = sound

    def callback(self, out: Any, frames: int, time: Any, status: Any) -> None:
        """Copies and returns. After the last piece the stream plays to its end, then is no longer active."""
        piece = self._pcm[self._at : self._at + len(out)]
        out[: len(piece)] = piece
        out[len(piece) :] = bytes(len(out) - len(piece))
        self._at += len(out)
        if self._at >= len(self._pcm):
            raise self._sound.CallbackStop
