"""The one module that writes what people said or did to disk, and only as far as consent reaches.

What lives here: the level of consent, and every way of writing. What must not: deciding that level, or a fold over events.
Everything else is handed no path at all.

Naming a file on the command line is consent to the timeline level for that file: seats as letters, times, counts, kinds of
attribute; no words and no names. Words and voices have to be asked for by name.
"""

import json
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import asdict
from enum import IntEnum
from pathlib import Path
from typing import IO, Any

import numpy as np
import soundfile
from numpy.typing import NDArray

from assistant.errors import KeepingError
from assistant.events import Corrected, Event, Heard
from assistant.samples import FRAME_SAMPLES, SAMPLE_RATE, Frame, to_seconds
from assistant.terms import Seat


class Consent(IntEnum):
    """How much may be kept; each level includes the ones before."""

    NOTHING = 0
    TIMELINE = 1
    WORDS = 2
    VOICES = 3

    @classmethod
    def from_text(cls, text: str) -> "Consent":
        """The level of this name, ``"timeline"``."""
        return cls[text.upper()]


LEVELS = tuple(level.name.lower() for level in Consent)


class Keeper:
    """Writes, as far as the consent reaches.

    Args:
        consent: what the guardians and the children agreed to, the lowest answer of all.
    """

    def __init__(self, consent: Consent) -> None:
        self.consent = consent

    @contextmanager
    def event_file(self, path: Path) -> Iterator["EventFile"]:
        """A file that takes every event as one line of JSON as it happens.

        Raises:
            KeepingError: consent does not reach to the timeline, or the file cannot be written.
        """
        self._needs(Consent.TIMELINE, path)
        with _opened(path, "w") as file:
            yield EventFile(file, self.consent)

    def rttm(self, path: Path, events: Iterable[Event]) -> None:
        """Who spoke when, as RTTM (NIST, Rich Transcription 2009 evaluation plan, appendix A): one line a stretch of speech.

        Raises:
            KeepingError: consent does not reach to the timeline, or the file cannot be written.
        """
        self._needs(Consent.TIMELINE, path)
        with _opened(path, "w") as file:
            file.writelines(rttm_lines(events, path.stem))

    def mix(self, path: Path, frames: Iterable[Frame], said: Sequence[tuple[int, NDArray[np.int16]]]) -> None:
        """A copy of the sound with the cues in it, as 16 bit WAV at 16 kHz.

        Raises:
            KeepingError: consent does not reach to voices, or the file cannot be written.
        """
        self._needs(Consent.VOICES, path)
        try:
            with soundfile.SoundFile(path, "w", SAMPLE_RATE, 1, "PCM_16", format="WAV") as file:
                for frame in frames:
                    file.write(_with_cues(frame, said))
        except (OSError, soundfile.LibsndfileError) as error:
            raise _cannot_write(path, error) from error

    def _needs(self, level: Consent, path: Path) -> None:
        if self.consent < level:
            raise KeepingError(f"{path} is not written: there is no consent to keep the {level.name.lower()}.")


class EventFile:
    """An open file of events. Made by :meth:`Keeper.event_file`."""

    def __init__(self, file: IO[str], consent: Consent) -> None:
        self._file = file
        self._consent = consent

    def write(self, event: Event) -> None:
        """Add one event, as far as consent reaches."""
        self._file.write(json.dumps(as_record(event, self._consent), ensure_ascii=False) + "\n")
        self._file.flush()


def as_record(event: Event, consent: Consent) -> dict[str, Any]:
    """An event as plain values. Below the level of words, words become a count and attributes their kinds."""
    record = {"event": type(event).__name__} | asdict(event)
    if consent < Consent.WORDS:
        _forget_words(record)
    return record


def _forget_words(record: dict[str, Any]) -> None:
    if "words" in record:
        record["words"] = len(record["words"])
    record.pop("text", None)  # a cue may say a name
    record.pop("what", None)  # and a tally may hold anything
    if request := record.get("request"):
        request["attributes"] = [kind for kind, _ in request["attributes"]]
        request["where"] = len(request["where"])


def rttm_lines(events: Iterable[Event], name: str) -> list[str]:
    """One RTTM line for each heard unit, the facilitator's corrections applied."""
    heard: dict[int, Heard] = {}
    seats: dict[int, Seat] = {}
    for event in events:
        if isinstance(event, Heard):
            heard[event.unit], seats[event.unit] = event, event.seat
        elif isinstance(event, Corrected):
            seats[event.unit] = event.seat
    return [_rttm_line(unit, seats[number], name) for number, unit in heard.items()]


def _rttm_line(unit: Heard, seat: Seat, name: str) -> str:
    start, length = to_seconds(unit.start_sample), to_seconds(unit.end_sample - unit.start_sample)
    speaker = "unsure" if seat is Seat.UNSURE else seat.value
    return f"SPEAKER {name.replace(' ', '_')} 1 {start:.5f} {length:.5f} <NA> <NA> {speaker} <NA> <NA>\n"


def _with_cues(frame: Frame, said: Sequence[tuple[int, NDArray[np.int16]]]) -> NDArray[np.int16]:
    mixed = np.frombuffer(frame.pcm, np.int16).astype(np.int32)
    for start, sound in said:
        offset = frame.start_sample - start
        if -FRAME_SAMPLES < offset < len(sound):
            piece = sound[max(0, offset) : offset + FRAME_SAMPLES]
            place = max(0, -offset)
            mixed[place : place + len(piece)] += piece
    return np.clip(mixed, -32768, 32767).astype(np.int16)


@contextmanager
def _opened(path: Path, mode: str) -> Iterator[IO[str]]:
    try:
        with path.open(mode, encoding="utf-8") as file:
            yield file
    except OSError as error:
        raise _cannot_write(path, error) from error


def _cannot_write(path: Path, error: Exception) -> KeepingError:
    return KeepingError(f"{path} cannot be written ({error}). Name a place where you may write.")
