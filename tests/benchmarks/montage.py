"""New sessions made of the demonstration's utterances: the same voices, other gaps, any length, exact truth."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from assistant.assembly import demo_folder
from assistant.devices.files import read_samples
from assistant.samples import FRAME_SAMPLES, Frame, to_samples
from assistant.terms import Seat
from tests.benchmarks.demo import true_story
from tests.benchmarks.scoring import Stretch

EDGE = to_samples(0.05)  # kept on either side of an utterance, so that nothing of it is cut
HUSH_DBFS = -72.0  # of the noise between them


@dataclass(frozen=True, slots=True)
class Clip:
    """One utterance of the demonstration: its sound (int16 [n]), who speaks, what is said and what it does."""

    sound: NDArray[np.int16]
    seat: Seat
    text: str
    act: str
    role: str | None


def clips() -> list[Clip]:
    """Every utterance of the demonstration that nobody else talks into."""
    story, sound = true_story(), read_samples(demo_folder() / "session.flac")
    segments = story["segments"]
    return [
        Clip(sound[one["start"] - EDGE : one["end"] + EDGE], Seat(one["seat"]), one["text"], one["act"], one["role"])
        for one in segments
        if not any(
            other is not one and other["start"] < one["end"] + EDGE and one["start"] - EDGE < other["end"] for other in segments
        )
    ]


def montage(parts: Sequence[tuple[float, Clip]], length_s: float, seed: int = 0) -> tuple[list[Stretch], Iterator[Frame]]:
    """Clips one after another, each so many seconds after the end of the one before; the truth, and the frames.

    Args:
        parts: the silence before each clip in seconds, and the clip. What does not fit into the length is left out.
        length_s: of the whole.
        seed: of the noise between the clips.
    """
    truth: list[Stretch] = []
    placed: list[tuple[int, Clip]] = []
    at = 0
    for gap_s, clip in parts:
        at += to_samples(gap_s)
        end = at + len(clip.sound) - 2 * EDGE
        if end + EDGE > to_samples(length_s):
            break
        truth.append(Stretch(at, end, clip.seat))
        placed.append((at - EDGE, clip))
        at = end
    return truth, _frames(placed, to_samples(length_s), np.random.default_rng(seed))


def _frames(placed: list[tuple[int, Clip]], length: int, chance: np.random.Generator) -> Iterator[Frame]:
    """Frame by frame, so that an hour needs no more memory than a minute."""
    hush = 32767 * 10 ** (HUSH_DBFS / 20)
    waiting = list(placed)
    for start in range(0, length, FRAME_SAMPLES):
        frame = chance.normal(0, hush, FRAME_SAMPLES)
        for at, clip in waiting:
            if at >= start + FRAME_SAMPLES:
                break
            piece = clip.sound[max(0, start - at) : start + FRAME_SAMPLES - at]
            place = max(0, at - start)
            frame[place : place + len(piece)] += piece
        while waiting and waiting[0][0] + len(waiting[0][1].sound) <= start + FRAME_SAMPLES:
            waiting.pop(0)
        yield Frame(start, np.clip(np.rint(frame), -32768, 32767).astype(np.int16).tobytes())
