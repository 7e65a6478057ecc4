"""The voice of the cues: words to sound, in memory.

What lives here: pyttsx3 with its espeak driver, and the espeak-ng that ``espeakng-loader`` carries. What must not: a sound card
(``player`` has it) or a file.

Four things that are not in pyttsx3's manual, found by trying (pyttsx3 2.99, espeak-ng 1.52):

- espeak-ng works through a queue in a thread of its own: ``runAndWait`` comes back before the sound is there, and begins by
  cancelling what is still in the queue, be it a change of pace or the text before. So ``Synchronize`` follows each step.
- An unknown voice is no exception but an ``error`` notice, and the voice before it goes on speaking.
- espeak-ng's voice flutters a little, and the flutter runs on from text to text: the same text rendered again differs by a few
  samples. So each text is rendered once in each voice, and kept: a recording that is replayed meets the same cues.
- In English a lone "A" is read as an article, so that seat A would be called "uh"; a hyphen after it makes it the letter.
"""

import atexit
import ctypes
import io
import os
import re
import wave
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from functools import cache
from typing import Any

import numpy as np
import soxr
from numpy.typing import NDArray

from assistant.devices.framing import to_int16
from assistant.errors import DeviceError
from assistant.samples import SAMPLE_RATE, to_samples

CALM_WPM = 140  # espeak's own default is 175; people read aloud to children at about this pace (common practice, no source)
SLOWEST_WPM, FASTEST_WPM = 80, 250  # espeak-ng cannot go under 80
SPEECH_RMS = 10 ** (-20 / 20)  # -20 dBFS at full volume: as loud as most recorded speech (common practice, no source),
PEAK = 10 ** (-1 / 20)  # and never over -1 dBFS, so that no loudspeaker distorts
SILENT = 0.003  # -50 dBFS; espeak-ng ends each text with 0.4 s below it
TAIL_SAMPLES = to_samples(0.05)
_LONE_A = re.compile(r"\bA\b")

_thread = ThreadPoolExecutor(max_workers=1, thread_name_prefix="voice")
"""espeak-ng is one to a process, and pyttsx3 wants one thread: everything that touches them runs here."""


class Voice:
    """Says a text, the same each time.

    Args:
        language: a language tag as espeak-ng knows it, ``"en"``, ``"en-us"``, ``"ko"``.
        rate_wpm: pace in words a minute.
        volume: 0 is silent, 1 is ``SPEECH_RMS``.
        name: a voice of espeak-ng instead of the language's own, ``"en+f3"``.

    Raises:
        DeviceError: there is no espeak-ng, or it has no such voice.
        ValueError: pace or volume is out of range.
    """

    def __init__(self, language: str = "en", rate_wpm: int = CALM_WPM, volume: float = 1.0, name: str | None = None) -> None:
        if not (SLOWEST_WPM <= rate_wpm <= FASTEST_WPM and 0 <= volume <= 1):
            raise ValueError(f"{rate_wpm} words a minute at volume {volume}")
        self.name = name or language.lower()
        self.rate_wpm = rate_wpm
        self.volume = volume
        self.render("Ready.")  # so that a voice that is missing is known at the start, not at the first swap

    def render(self, text: str) -> NDArray[np.int16]:
        """The text as int16 mono at 16 kHz, read-only. From any thread; blocks for about 20 ms the first time.

        Raises:
            DeviceError: the voice is gone.
        """
        return _rendered(text, self.name, self.rate_wpm, self.volume)


@cache
def _rendered(text: str, name: str, rate_wpm: int, volume: float) -> NDArray[np.int16]:
    sound = _thread.submit(_spoken, _letters(text, name), name, rate_wpm).result()
    sound = _trimmed(sound)
    if sound.any():
        sound *= volume * min(SPEECH_RMS / np.sqrt(np.mean(sound**2)), PEAK / np.abs(sound).max())
    samples = to_int16(sound)
    samples.flags.writeable = False
    return samples


def _letters(text: str, voice: str) -> str:
    return _LONE_A.sub("A-", text) if voice.startswith("en") else text


def _trimmed(sound: NDArray[np.float32]) -> NDArray[np.float32]:
    loud = np.flatnonzero(np.abs(sound) > SILENT)
    return sound[: loud[-1] + TAIL_SAMPLES] if loud.size else sound[:0]


def _spoken(text: str, voice: str, rate_wpm: int) -> NDArray[np.float32]:
    """What espeak-ng makes of a text: float32 at 16 kHz. In the voice's thread only."""
    if not text.strip():
        return np.zeros(0, np.float32)
    engine, synchronize, problems = _engine()
    problems.clear()
    engine.setProperty("voice", voice)
    engine.setProperty("rate", rate_wpm)
    synchronize()
    memory = io.BytesIO()
    engine.save_to_file(text, memory)  # the driver hands this to wave.open, which takes a path or a file object
    engine.runAndWait()
    synchronize()
    if problems:
        raise DeviceError(f"There is no voice {voice!r}. Choose a language that espeak-ng speaks, such as en, en-us or ko.")
    if not memory.getvalue():
        raise DeviceError("The voice fell silent. Start again; if it stays so, reinstall the package pyttsx3.")
    memory.seek(0)
    with wave.open(memory) as said:
        pcm = np.frombuffer(said.readframes(said.getnframes()), np.int16)
        sound: NDArray[np.float32] = soxr.resample(pcm.astype(np.float32) / 32_768, said.getframerate(), SAMPLE_RATE)
    return sound


@cache
def _engine() -> tuple[Any, Any, list[Exception]]:
    """pyttsx3's engine, the call that waits for espeak-ng, and the list that collects what goes wrong."""
    try:
        with _espeak_from_package():
            import pyttsx3
            from pyttsx3.drivers import _espeak, espeak

            engine = pyttsx3.init("espeak")
    except (ImportError, OSError, RuntimeError) as error:
        raise DeviceError(
            "The voice cannot be loaded. Install the package espeakng-loader, or espeak-ng from your system's packages."
        ) from error
    espeak.print = lambda *_: None  # the driver prints a line for each text: hide print from that one module alone
    problems: list[Exception] = []
    engine.connect("error", lambda name, exception: problems.append(exception))
    atexit.register(_engine.cache_clear)  # it wants its modules when it goes, and later they are taken apart
    return engine, _espeak.Synchronize, problems


@contextmanager
def _espeak_from_package() -> Iterator[None]:
    """While this lasts, whoever loads an espeak library by any name gets the one that ``espeakng-loader`` carries.

    pyttsx3 tries a fixed list of system paths, other ones on each platform, and cannot be told another.
    """
    try:
        import espeakng_loader

        library = ctypes.CDLL(espeakng_loader.get_library_path())
        os.environ["ESPEAK_DATA_PATH"] = espeakng_loader.get_data_path()
    except (ImportError, OSError, RuntimeError):
        yield  # not carried for this platform: a system's own espeak-ng may do
        return
    load = ctypes.cdll.LoadLibrary
    ctypes.cdll.LoadLibrary = lambda name: library if "espeak" in name.lower() else load(name)  # type: ignore[method-assign]
    try:
        yield
    finally:
        ctypes.cdll.LoadLibrary = load  # type: ignore[method-assign]
