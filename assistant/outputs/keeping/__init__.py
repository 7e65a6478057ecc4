"""The one place that writes what people said or did to disk, and only as far as consent reaches.

What lives here: every way of writing: files that the family names (this module), and the store (:mod:`store`), which takes the
sound in pieces (:mod:`sound`). What must not: deciding the level of consent (:mod:`assistant.core.club.consent`), or a fold
over events. Everything else is handed no path at all.

Naming a file on the command line is consent to the timeline level for that file: seats as letters, times, counts, kinds of
attribute; no words and no names. Words and voices have to be asked for by name. No file that is there already is replaced
(:mod:`assistant.outputs.places`).
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence, Set
from contextlib import contextmanager, suppress
from io import RawIOBase
from pathlib import Path
from typing import IO

import numpy as np
import soundfile
from numpy.typing import NDArray

from assistant.core.club.consent import Consent
from assistant.errors import KeepingError
from assistant.events import Event
from assistant.outputs.exports.records import json_line
from assistant.outputs.exports.rttm import rttm_lines
from assistant.outputs.keeping.sound import Piece, samples_of
from assistant.outputs.places import cannot_write, must_be_new, must_be_no_file, must_be_writable
from assistant.samples import FRAME_SAMPLES, SAMPLE_RATE, Frame

__all__ = ["Consent", "EventFile", "Keeper"]


class Keeper:
    """Writes, as far as the consent reaches.

    Args:
        consent: what the guardians and the children agreed to, the lowest answer of all.
        ours: free text that is our own and may stay at the timeline level: titles of our plans.
    """

    def __init__(self, consent: Consent, ours: Set[str] = frozenset()) -> None:
        self.consent = consent
        self.ours = ours

    @contextmanager
    def event_file(self, path: Path) -> Iterator["EventFile"]:
        """A file that takes every event as one line of JSON as it happens.

        Raises:
            KeepingError: consent does not reach to the timeline, or the file cannot be written.
        """
        self._needs(Consent.TIMELINE, path)
        must_be_new(path)
        try:
            file = path.open("wb", buffering=0)
        except OSError as error:
            raise cannot_write(path, error) from error
        with file:
            yield EventFile(path, file, self)

    def withdraw(self) -> None:
        """Somebody no longer agrees: nothing is written from here on, and an open file of events is emptied."""
        self.consent = Consent.NOTHING

    def folder(self, path: Path, files: Mapping[str, str], level: Consent) -> None:
        """A folder of texts that hold no more than this level.

        Raises:
            KeepingError: consent does not reach to the level, or the folder cannot be written.
        """
        self._needs(level, path)
        must_be_no_file(path)
        must_be_new(*(path / name for name in files))
        try:
            path.mkdir(parents=True, exist_ok=True)
        except OSError as error:
            raise cannot_write(path, error) from error
        for name, text in files.items():
            self.text(path / name, text, level)

    def rttm(self, path: Path, events: Iterable[Event]) -> None:
        """Who spoke when, as RTTM (NIST, Rich Transcription 2009 evaluation plan, appendix A): one line a stretch of speech.

        Raises:
            KeepingError: consent does not reach to the timeline, or the file cannot be written.
        """
        self._needs(Consent.TIMELINE, path)
        with _opened(path) as file:
            file.writelines(rttm_lines(events, path.stem))

    def text(self, path: Path, text: str, level: Consent) -> None:
        """A text that holds no more than this level: an export, a review.

        Raises:
            KeepingError: consent does not reach to the level, or the file cannot be written.
        """
        self.document(path, text.encode(), level)

    def document(self, path: Path, document: bytes, level: Consent) -> None:
        """A finished file that holds no more than this level: a review on paper.

        Raises:
            KeepingError: consent does not reach to the level, or the file cannot be written.
        """
        self._needs(max(level, Consent.TIMELINE), path)
        must_be_writable(path)
        try:
            path.write_bytes(document)
        except OSError as error:
            raise cannot_write(path, error) from error

    def voices(self, path: Path, pieces: Iterable[Piece]) -> None:
        """The sound that was kept, as one FLAC file; silence where the ears were shut or sound was lost.

        Raises:
            KeepingError: consent does not reach to voices, a piece is damaged, or the file cannot be written.
        """
        self._needs(Consent.VOICES, path)
        must_be_new(path)
        at = 0
        try:
            with soundfile.SoundFile(path, "w", SAMPLE_RATE, 1, "PCM_16", format="FLAC") as file:
                for piece in pieces:
                    file.write(np.zeros(piece.start_sample - at, np.int16))
                    file.write(samples_of(piece))
                    at = piece.end_sample
        except (OSError, soundfile.LibsndfileError) as error:
            raise cannot_write(path, error) from error

    def mix(self, path: Path, frames: Iterable[Frame], said: Sequence[tuple[int, NDArray[np.int16]]]) -> None:
        """A copy of the sound with the cues in it, as 16 bit WAV at 16 kHz.

        Raises:
            KeepingError: consent does not reach to voices, or the file cannot be written.
        """
        self._needs(Consent.VOICES, path)
        must_be_new(path)
        try:
            with soundfile.SoundFile(path, "w", SAMPLE_RATE, 1, "PCM_16", format="WAV") as file:
                for frame in frames:
                    file.write(_with_cues(frame, said))
        except (OSError, soundfile.LibsndfileError) as error:
            raise cannot_write(path, error) from error

    def _needs(self, level: Consent, path: Path) -> None:
        if self.consent < level:
            raise KeepingError(f"{path} is not written: there is no consent to keep the {level.name.lower()}.")


class EventFile:
    """An open file of events. Made by :meth:`Keeper.event_file`.

    A club does not stop because a disk is full: what cannot be written is said in ``trouble``, and no more is written then.
    """

    def __init__(self, path: Path, file: RawIOBase, keeper: Keeper) -> None:
        self._path = path
        self._file = file
        self._keeper = keeper
        self._whole_bytes = 0
        self.trouble: KeepingError | None = None

    def write(self, event: Event) -> None:
        """Add one event, as far as consent reaches; where it no longer does, leave the file empty."""
        try:
            if self._keeper.consent < Consent.TIMELINE:
                self._file.truncate(0)
            elif not self.trouble:
                self._add(json_line(event, self._keeper.consent, self._keeper.ours).encode())
        except OSError as error:
            self.trouble = cannot_write(self._path, error)
            with suppress(OSError):  # a pipe has no lines to take back
                self._file.truncate(self._whole_bytes)

    def _add(self, line: bytes) -> None:
        """The whole line: a disk that is almost full takes only a part of it at a time."""
        left = line
        while left:
            left = left[self._file.write(left) or 0 :]
        self._whole_bytes += len(line)


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
def _opened(path: Path) -> Iterator[IO[str]]:
    must_be_new(path)
    try:
        with path.open("w", encoding="utf-8", newline="") as file:
            yield file
    except OSError as error:
        raise cannot_write(path, error) from error
