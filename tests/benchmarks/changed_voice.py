"""What becomes of a child whose voice has changed: ``python -m tests.benchmarks.changed_voice FOLDER``.

FOLDER holds sessions as :mod:`tests.benchmarks.hearing` takes them. Of each seat, stretches of it alone are played faster and
so higher, as laughing and shouting raise a voice. One is heard first, played a good tenth to a third faster; where it is like
nobody's it is remembered as a stranger's. Then up to twelve others of the seat follow, as they were said and a little faster.
Counted are those that get their letter, ``?`` or another letter: after nothing, after the loud one, and after that was put
right.
"""

import argparse
import sys
from collections import Counter
from collections.abc import Iterator, Sequence
from itertools import product
from pathlib import Path

import numpy as np
import soxr

from assistant.devices.files import read_samples
from assistant.listening.likeness import SURE_SAMPLES
from assistant.listening.speech import Detector, Silero
from assistant.listening.voices import Voices
from assistant.terms import Seat
from tests.benchmarks.hearing import Recording, recordings
from tests.benchmarks.scoring import Stretch
from tests.benchmarks.strangers import Networks, Samples, stretches

LOUD, LATER = (1.12, 1.2, 1.3), (1.0, 1.06)  # times as fast
MOST = 12
BEFORE = ("nothing", "a loud one", "a loud one, put right")


def faster(samples: Samples, times: float) -> Samples:
    """The same words in a higher voice."""
    changed = soxr.resample(samples.astype(np.float32), times, 1)
    return np.asarray(np.clip(np.round(changed), -32768, 32767), dtype=np.int16)


def alone(recording: Recording) -> dict[Seat, list[Samples]]:
    """What each seat said alone, for so long that it is over a second even when it is played faster."""
    said: dict[Seat, list[Samples]] = {seat: [] for seat in recording.voices}
    for start, samples in stretches(recording.path):
        heard = Stretch(start, start + len(samples), Seat.UNSURE)
        shared = {one.seat for one in recording.stretches if heard.shared(one)}
        if len(shared) == 1 and len(samples) > SURE_SAMPLES * max(LOUD):
            said[shared.pop()].append(samples)
    return said


def verdicts(recording: Recording, networks: Networks) -> Iterator[tuple[str, float, str]]:
    """Before it, how fast it was, and what it got: of each stretch."""
    for (seat, said), loud, before, later in product(alone(recording).items(), LOUD, BEFORE, LATER):
        voices = Voices(networks.voice, Detector(Silero()), networks.overlap)
        for one, path in recording.voices.items():
            voices.enrol(one, read_samples(path))
        first, *others = said
        parts = voices.parts(faster(first, loud)) if before != BEFORE[0] else []
        for part in parts if before == BEFORE[2] else []:
            voices.put_right(part, seat)
        for part in (part for samples in others[:MOST] for part in voices.parts(faster(samples, later))):
            got = part.answer.seat
            yield before, later, "letter" if got is seat else "?" if got is Seat.UNSURE else "other"


def main(argv: Sequence[str] | None = None) -> None:
    """Prints the counts."""
    options = argparse.ArgumentParser(description="What becomes of a child whose voice has changed.")
    options.add_argument("folder", type=Path, help="a session, or a folder of sessions")
    networks, counts = Networks(), Counter[tuple[str, float, str]]()
    for recording in recordings(options.parse_args(argv).folder):
        counts.update(verdicts(recording, networks))
    for before, later in product(BEFORE, LATER):
        got = {verdict: counts[before, later, verdict] for verdict in ("letter", "?", "other")}
        sys.stdout.write(f"after {before}, {later:g} times as fast: {got} of {sum(got.values())}\n")


if __name__ == "__main__":
    main()
