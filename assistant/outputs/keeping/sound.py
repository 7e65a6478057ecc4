"""Sound on its way into the store: frames gathered into short pieces of FLAC, and back into samples.

What lives here: the pieces. What must not: a path, or consent. Everything happens in memory.
"""

from dataclasses import dataclass
from io import BytesIO

import numpy as np
import soundfile
from numpy.typing import NDArray

from assistant.errors import KeepingError
from assistant.samples import FRAME_SAMPLES, SAMPLE_RATE, Frame

PIECE_FRAMES = SAMPLE_RATE // FRAME_SAMPLES  # 33, just under a second: the most that a kill can lose


@dataclass(frozen=True, slots=True)
class Piece:
    """At most a second of sound without a hole, as a FLAC stream of its own: int16 mono at 16 kHz."""

    start_sample: int
    end_sample: int
    flac: bytes


class Gathering:
    """Frames that wait until they are a piece."""

    def __init__(self) -> None:
        self._frames: list[Frame] = []

    def take(self, frame: Frame) -> Piece | None:
        """Add a frame; a piece where it fills one, or where it begins behind a hole."""
        if self._frames and frame.start_sample != self._frames[-1].end_sample:
            piece = self.rest()
            self._frames.append(frame)
            return piece
        self._frames.append(frame)
        return self.rest() if len(self._frames) >= PIECE_FRAMES else None

    def rest(self) -> Piece | None:
        """What waits, as a piece; afterwards nothing does."""
        frames, self._frames = self._frames, []
        return _piece(frames) if frames else None


def _piece(frames: list[Frame]) -> Piece:
    whole, sound = BytesIO(), np.frombuffer(b"".join(frame.pcm for frame in frames), np.int16)
    soundfile.write(whole, sound, SAMPLE_RATE, "PCM_16", format="FLAC")
    return Piece(frames[0].start_sample, frames[-1].end_sample, whole.getvalue())


def samples_of(piece: Piece) -> NDArray[np.int16]:
    """The sound of a piece.

    Raises:
        KeepingError: it holds no sound, or not as much as it should.
    """
    length = max(0, min(piece.end_sample - piece.start_sample, PIECE_FRAMES * FRAME_SAMPLES))  # its head may promise hours
    try:
        with soundfile.SoundFile(BytesIO(piece.flac)) as stream:
            sound = stream.read(length, dtype="int16")
    except soundfile.LibsndfileError as error:
        raise KeepingError(f"The sound kept from sample {piece.start_sample} on is damaged ({error}).") from error
    if sound.shape != (piece.end_sample - piece.start_sample,):
        raise KeepingError(f"The sound kept from sample {piece.start_sample} on is not whole.")
    return np.asarray(sound)
