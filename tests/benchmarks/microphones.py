"""How well a microphone a seat tells who speaks: ``python -m tests.benchmarks.microphones FOLDER``.

FOLDER holds sessions as :mod:`tests.benchmarks.hearing` takes them. The stretches of each clean recording that nobody speaks
over are laid out anew, a quarter of them over the end of the one before. Each seat's microphone hears its own voice at full
level, and the others weaker and up to 3 ms later, over noise. Prints a row for each session and each weakening.
"""

import argparse
import sys
from collections.abc import Iterator, Sequence
from itertools import cycle
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from assistant.devices.files import read_samples
from assistant.events import Heard
from assistant.listening.listener import Listener
from assistant.listening.microphones import Microphones
from assistant.listening.speech import Detector, Silero
from assistant.samples import FRAME_SAMPLES, Frame, to_samples
from assistant.terms import Seat
from tests.benchmarks.hearing import COLLARS_S, NoWords, Recording, der, errors, recordings
from tests.benchmarks.scoring import Stretch, boundary_errors_s, pairs, who

WEAKENED_DB = (12, 9, 6, 4)  # 6 dB: the other microphone is twice as far from the mouth
GAPS_S = (-0.4, 0.1, 0.3, 0.8)
"""From the end of one stretch to the start of the next, in turn; under 0 they overlap."""
LATER_S = 0.003  # sound goes a metre
NOISE = 30  # root mean square of int16: 61 dB under full scale


def lay_out(recording: Recording, weakened_db: float) -> tuple[list[Stretch], NDArray[np.int16]]:
    """Who speaks when, and what the microphones hear: int16 [n, seats]."""
    samples = read_samples(recording.path)
    seats = list(recording.voices)
    alone = [one for one in recording.stretches if sum(map(bool, map(one.shared, recording.stretches))) == 1]
    truth: list[Stretch] = []
    voices = np.zeros((len(samples) + to_samples(60), len(seats)))
    end = to_samples(1)
    for one, gap_s in zip(alone, cycle(GAPS_S), strict=False):
        same = bool(truth) and truth[-1].seat is one.seat
        start = end + to_samples(0.5 if same else gap_s)
        end = max(end, start + one.length)
        truth.append(Stretch(start, start + one.length, one.seat))
        voices[start : start + one.length, seats.index(one.seat)] += samples[one.start : one.end]
    return truth, _heard(voices[: end + to_samples(1)], weakened_db)


def _heard(voices: NDArray[np.float64], weakened_db: float) -> NDArray[np.int16]:
    random = np.random.default_rng(1)
    heard = random.normal(0, NOISE, voices.shape)
    for mouth in range(voices.shape[1]):
        for ear in range(voices.shape[1]):
            late = 0 if ear == mouth else to_samples(LATER_S) * (1 + (ear + mouth) % 3) // 3
            heard[:, ear] += np.roll(voices[:, mouth], late) * (1 if ear == mouth else 10 ** (-weakened_db / 20))
    return heard.clip(-32768, 32767).astype(np.int16)


def frames(microphones: NDArray[np.int16]) -> Iterator[Frame]:
    """The frames of a recording with a microphone a seat, its end left off where it does not fill a frame."""
    mix = microphones.mean(axis=1).astype(np.int16)
    for start in range(0, len(mix) - FRAME_SAMPLES + 1, FRAME_SAMPLES):
        stretch = slice(start, start + FRAME_SAMPLES)
        yield Frame(start, mix[stretch].tobytes(), tuple(channel.tobytes() for channel in microphones[stretch].T))


def row(recording: Recording, weakened_db: float) -> tuple[str, ...]:
    """The figures of one layout, in the order of ``HEADINGS``."""
    truth, microphones = lay_out(recording, weakened_db)
    listener = Listener(Detector(Silero()), Microphones(tuple(map(Seat, recording.voices))), NoWords())
    events = [event for frame in frames(microphones) for event in listener.hear(frame)] + listener.finish()
    heard = [Stretch(unit.start_sample, unit.end_sample, unit.seat) for unit in events if isinstance(unit, Heard)]
    told = who(truth, heard)
    starts, ends = boundary_errors_s(pairs(truth, heard))
    return (
        recording.name,
        f"{weakened_db:.0f} dB",
        f"{told.share_right:.1%} of {told.answered}",
        f"{told.share_unsure:.1%}",
        " / ".join(f"{der(truth, heard, len(microphones), collar_s):.1%}" for collar_s in COLLARS_S),
        str(errors(starts + ends, 2 * len(truth))),
    )


HEADINGS = (
    "Session",
    "Others weaker by",
    "Who right, answered units over 1 s",
    "`?`",
    "DER, collar 0 / 0.25",
    "Boundaries (ms)",
)


def main(argv: Sequence[str] | None = None) -> None:
    """Prints the table."""
    options = argparse.ArgumentParser(description="How well a microphone a seat tells who speaks.")
    options.add_argument("folder", type=Path, help="a session, or a folder of sessions")
    sys.stdout.write("| " + " | ".join(HEADINGS) + " |\n|" + "---|" * len(HEADINGS) + "\n")
    for recording in recordings(options.parse_args(argv).folder):
        if recording.path.stem == "clean":
            for weakened_db in WEAKENED_DB:
                sys.stdout.write("| " + " | ".join(row(recording, weakened_db)) + " |\n")
                sys.stdout.flush()


if __name__ == "__main__":
    main()
