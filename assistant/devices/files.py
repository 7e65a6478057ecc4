"""A recording as a source of frames, the same that a microphone gives.

What lives here: reading WAV, FLAC and Ogg piece by piece, saying what is wrong with a file, and playing at real pace. What
must not: writing, or holding a whole session in memory.
"""

import os
import re
import time
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import soundfile
from numpy.typing import NDArray

from assistant.devices.framing import Framer
from assistant.errors import SourceError
from assistant.samples import SAMPLE_RATE, Frame, clock_face, to_seconds

BLOCK_SAMPLES = 8_192  # at the file's own rate: 0.2 to 1 s
SILENT_RMS = 10 ** (-70 / 20)  # -70 dBFS, ten steps of int16: less than any microphone's own noise; from experience, no source
LOWEST_RATE = 8_000  # Hz: telephone speech (ITU-T G.711)
UNKNOWN_LENGTH = 2**63 - 1  # SF_COUNT_MAX: what libsndfile gives where a header does not tell

# libsndfile opens a file that breaks off without an error, and says so in its log only.
_SHORT_WAV = re.compile(r"^data : (\d+) \(should be \d+\)", re.MULTILINE)
_STREAMED_WAV = 0x7FFF_0000  # a length from here on (or 0) is a recorder's "I do not know yet", not a promise
_BROKEN_OGG = re.compile(
    r"^Ogg ?: .*(end-of-stream|Junk after the last page|Corrupted bitstream|reports a hole)", re.MULTILINE | re.IGNORECASE
)

_EMPTY = "{path} holds no sound: it is empty. Choose another recording."


@dataclass(frozen=True, slots=True)
class Recording:
    """A sound file that can be used; to iterate is to read it from the start, frame by frame.

    ``length_samples`` is at 16 kHz; ``picked`` are the channels that are a seat's own microphone each. Iterating raises
    SourceError where the file turns out to be damaged, after every frame before that place.
    """

    path: Path
    length_samples: int
    picked: tuple[int, ...] = ()
    channels: int = 1

    def __iter__(self) -> Iterator[Frame]:
        with _opened(self.path) as sound:
            framer = Framer(sound.samplerate, picked=self.picked)
            for block in _blocks(sound, self.path):
                yield from framer.push(block)
            yield from framer.finish()


def open_recording(path: Path, picked: tuple[int, ...] = ()) -> Recording:
    """The recording at ``path``, any rate and any number of channels.

    Args:
        picked: the channels that are a seat's own microphone each, counted from 1; without any, all are mixed.

    Raises:
        SourceError: there is no such file, or it is not sound, empty, broken off or silent, or has not all these channels.
    """
    with _opened(path) as sound:
        _refuse_broken(sound, path)
        if max(picked, default=0) > sound.channels:
            there = "channel 1 alone" if sound.channels == 1 else f"channels 1 to {sound.channels}"
            raise SourceError(f"{path} has {there}, and no channel {max(picked)}. Change --channels.")
        # The search ends at the first sound, so only a silent file is read whole.
        if all(block.std(axis=0).max() < SILENT_RMS for block in _blocks(sound, path)):
            raise SourceError(f"{path} is silent from start to end. Was the right microphone chosen, and was it on?")
        return Recording(path, _at_16_khz(sound.frames, sound.samplerate), picked, sound.channels)


def read_samples(path: Path) -> NDArray[np.int16]:
    """A short recording whole, as int16 at 16 kHz: a sample of somebody's voice.

    Raises:
        SourceError: as ``open_recording``.
    """
    recording = open_recording(path)
    pcm = b"".join(frame.pcm for frame in recording)
    return np.frombuffer(pcm, np.int16)[: recording.length_samples]


def real_pace(
    frames: Iterable[Frame], *, sleep: Callable[[float], None] = time.sleep, now: Callable[[], float] = time.monotonic
) -> Iterator[Frame]:
    """The same frames, none before its last sample would have been heard; late ones catch up, as from a microphone."""
    began: float | None = None
    for frame in frames:
        if began is None:
            began = now() - to_seconds(frame.start_sample)
        ahead_s = began + to_seconds(frame.end_sample) - now()
        if ahead_s > 0:
            sleep(ahead_s)
        yield frame


def _opened(path: Path) -> Any:
    if not path.exists():
        raise SourceError(f"There is no file {path}. Check its name and folder.")
    if path.is_dir():
        raise SourceError(f"{path} is a folder. Name one recording in it.")
    if not path.stat().st_size:
        raise SourceError(_EMPTY.format(path=path))
    try:
        return soundfile.SoundFile(os.fsencode(path) if os.name == "posix" else path)  # a name there need not be UTF-8
    except (soundfile.LibsndfileError, OSError) as error:
        raise SourceError(f"{path} cannot be read as sound. Use a WAV, FLAC or Ogg file.") from error


def _blocks(sound: Any, path: Path) -> Iterator[NDArray[np.float32]]:
    """The sound in float32 blocks of shape (samples, channels)."""
    read = 0
    try:
        while len(block := sound.read(BLOCK_SAMPLES, dtype="float32", always_2d=True)):
            read += len(block)
            yield np.nan_to_num(block, posinf=1, neginf=-1)  # a float file can hold what is no number
    except soundfile.LibsndfileError as error:
        raise _damaged(path, _at_16_khz(read, sound.samplerate)) from error
    if read < sound.frames or _BROKEN_OGG.search(sound.extra_info):
        raise _damaged(path, _at_16_khz(read, sound.samplerate))


def _refuse_broken(sound: Any, path: Path) -> None:
    """What opening alone shows to be wrong."""
    short = _SHORT_WAV.search(sound.extra_info)
    if (short and 0 < int(short[1]) < _STREAMED_WAV) or _BROKEN_OGG.search(sound.extra_info):
        raise _damaged(path, _at_16_khz(sound.frames, sound.samplerate))
    if sound.samplerate < LOWEST_RATE:
        has = f"{path} has {sound.samplerate} samples a second, too few for speech"
        raise SourceError(f"{has}. Record with {LOWEST_RATE} or more.")
    if not sound.frames:
        raise SourceError(_EMPTY.format(path=path))
    if sound.frames == UNKNOWN_LENGTH:  # and soundfile loses the last block of such a file
        raise SourceError(f"{path} does not say how long it is: a program streamed it. Save it again as WAV or FLAC.")


def _at_16_khz(frames: int, rate: int) -> int:
    return round(frames * SAMPLE_RATE / rate)


def _damaged(path: Path, at_sample: int) -> SourceError:
    place = clock_face(at_sample)
    return SourceError(f"{path} breaks off or is damaged at {place}. Copy it again, or cut it there and use the good part.")
