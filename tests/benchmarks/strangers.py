"""How often a stranger is taken for somebody: ``python -m tests.benchmarks.strangers FOLDER [--least 0 0.6 ...]``.

FOLDER holds sessions as :mod:`tests.benchmarks.hearing` takes them. Each recording is heard with everybody enrolled; with each
seat left out in turn, who then is a stranger; and with the seats of each other session enrolled in place of its own, so that
all are strangers. Where a session has both, this is done with enrolments *alike*, heard as the recording was, and *unlike*: dry
ones for a room, a room's for a dry recording, as if all voices had changed since. ``--least`` names the floors to try
(``likeness.LEAST_LIKENESS``; 0 is none). Takes five minutes for two sessions of four minutes in three conditions.

Counted are heard units, each for the seat of the true stretch that it shares most with.
"""

import argparse
import sys
from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from functools import cache
from itertools import chain, product
from pathlib import Path
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from assistant.devices.files import read_samples
from assistant.events import Heard
from assistant.listening.handover import OverlapNetwork
from assistant.listening.likeness import LEAST_LIKENESS, SHORTEST_SAMPLES, SURE_SAMPLES, Vector
from assistant.listening.listener import Listener
from assistant.listening.speech import Detector, Silero, frames_of
from assistant.listening.voices import VoiceNetwork, Voices
from assistant.terms import Seat
from tests.benchmarks.hearing import NoWords, Recording, recordings
from tests.benchmarks.scoring import Stretch

Samples = NDArray[np.int16]
Enrolments = Mapping[Seat, Path]

ENROLLED, LEFT_OUT, ANOTHER = "enrolled", "left out", "another family's"
LENGTHS = {"over 1 s": (SURE_SAMPLES, None), "0.4 to 1 s": (SHORTEST_SAMPLES, SURE_SAMPLES)}
FIRST = 5
HEADINGS = (
    "Recording",
    "Enrolments",
    "Floor",
    "Units",
    "Left out, lettered",
    f"Of each one's first {FIRST}",
    "Another family's",
    "Enrolled right / ? / wrong",
)


class Unit(NamedTuple):
    """A heard unit, and whether who spoke it is known."""

    speaker: str
    true: Seat
    heard: Stretch
    before: int = 0  # units of the one who was left out

    @property
    def verdict(self) -> str:
        """There is no right letter for a stranger."""
        if self.heard.seat is Seat.UNSURE:
            return "?"
        return "right" if self.speaker == ENROLLED and self.heard.seat is self.true else "wrong"


class Networks:
    """Both networks, asked the same many times; vectors and overlaps are kept."""

    def __init__(self) -> None:
        self._voice, self._overlap = VoiceNetwork(), OverlapNetwork()
        self._vectors: dict[bytes, Vector] = {}
        self._overlaps: dict[tuple[bytes, int], tuple[int, int] | None] = {}

    def voice(self, samples: Samples) -> Vector:
        """As ``VoiceNetwork``."""
        if (key := samples.tobytes()) not in self._vectors:
            self._vectors[key] = self._voice(samples)
        return self._vectors[key]

    def overlap(self, samples: Samples, change_sample: int) -> tuple[int, int] | None:
        """As ``OverlapNetwork``."""
        if (key := (samples.tobytes(), change_sample)) not in self._overlaps:
            self._overlaps[key] = self._overlap(samples, change_sample)
        return self._overlaps[key]


class Bench:
    """Hears each recording once, and asks whose each stretch is, with these seats enrolled and with those."""

    def __init__(self, every: Sequence[Recording]) -> None:
        self._every = every
        self._networks = Networks()
        self._stretches = cache(stretches)

    def units(self, recording: Recording, enrolments: Callable[[Recording], Enrolments], least: float) -> Iterator[Unit]:
        """The units of this recording, in every way it is heard."""
        own = enrolments(recording)
        if not own:
            return
        yield from self._heard(ENROLLED, recording, own, least)
        for stranger in own:
            known = {seat: path for seat, path in own.items() if seat is not stranger}
            said = (unit for unit in self._heard(LEFT_OUT, recording, known, least) if unit.true is stranger)
            yield from (unit._replace(before=before) for before, unit in enumerate(said))
        for other in self._every:
            if other.path.name == recording.path.name and other is not recording and (strange := enrolments(other)):
                yield from self._heard(ANOTHER, recording, strange, least)

    def _heard(self, speaker: str, recording: Recording, known: Enrolments, least: float) -> Iterator[Unit]:
        voices = Voices(self._networks.voice, Detector(Silero()), self._networks.overlap, least)
        for seat, path in known.items():
            voices.enrol(seat, read_samples(path))
        for start, samples in self._stretches(recording.path):
            for part in voices.parts(samples):
                unit = Stretch(start + part.start_sample, start + part.end_sample, part.answer.seat)
                true = max(recording.stretches, key=unit.shared)
                if unit.shared(true):
                    yield Unit(speaker, true.seat, unit)


def stretches(path: Path) -> list[tuple[int, Samples]]:
    """Where the ears hear speech in a recording, and what they hear there."""
    samples = read_samples(path)
    listener = Listener(Detector(Silero()), None, NoWords())
    events = [event for frame in frames_of(samples) for event in listener.hear(frame)] + listener.finish()
    spans = [(event.start_sample, event.end_sample) for event in events if isinstance(event, Heard)]
    return [(start, samples[start:end]) for start, end in spans]


def alike(recording: Recording) -> Enrolments:
    """Enrolments that were heard as the recording was."""
    return recording.voices


def unlike(recording: Recording) -> Enrolments:
    """The room's for a dry recording, dry ones for a room's; none where there are not both."""
    others = {seat: path.with_stem(_other(path.stem)) for seat, path in recording.voices.items()}
    return others if all(path.is_file() for path in others.values()) else {}


def _other(stem: str) -> str:
    return stem.removesuffix("_room") if stem.endswith("_room") else f"{stem}_room"


def rows(name: str, enrolled: str, least: float, units: Sequence[Unit]) -> Iterator[tuple[str, ...]]:
    """A row for each length, in the order of ``HEADINGS``."""
    for length, (over, most) in LENGTHS.items():
        chosen = [unit for unit in units if unit.heard.length > over and (most is None or unit.heard.length <= most)]
        left_out = [unit for unit in chosen if unit.speaker == LEFT_OUT]
        first = [unit for unit in left_out if unit.before < FIRST]
        others = [unit for unit in chosen if unit.speaker == ANOTHER]
        known = Counter(unit.verdict for unit in chosen if unit.speaker == ENROLLED)
        share = f" ({known['?'] / known.total():.1%})" if known else ""
        strangers = map(_lettered, (left_out, first, others))
        yield name, enrolled, f"{least:g}", length, *strangers, f"{known['right']} / {known['?']}{share} / {known['wrong']}"


def _lettered(units: Sequence[Unit]) -> str:
    letters = sum(unit.verdict == "wrong" for unit in units)
    return f"{letters} of {len(units)} ({letters / len(units):.0%})" if units else "-"


def table(every: Sequence[Recording], floors: Sequence[float]) -> Iterator[tuple[str, ...]]:
    """Every row, a session's total after its recordings."""
    bench = Bench(every)
    for home in dict.fromkeys(recording.path.parent for recording in every):
        session = [recording for recording in every if recording.path.parent == home]
        for enrolments, least in product((alike, unlike), floors):
            units = {recording.name: list(bench.units(recording, enrolments, least)) for recording in session}
            if len(session) > 1:
                units[f"{home.name}, all"] = list(chain.from_iterable(units.values()))
            for name, some in units.items():
                if some:
                    yield from rows(name, enrolments.__name__, least, some)


def main(argv: Sequence[str] | None = None) -> None:
    """Prints the table."""
    options = argparse.ArgumentParser(description="How often a stranger is taken for somebody.")
    options.add_argument("folder", type=Path, help="a session, or a folder of sessions")
    options.add_argument("--least", type=float, nargs="+", default=(0.0, LEAST_LIKENESS), help="the floors to try")
    chosen = options.parse_args(argv)
    for cells in chain((HEADINGS, len(HEADINGS) * ("---",)), table(list(recordings(chosen.folder)), chosen.least)):
        sys.stdout.write("| " + " | ".join(cells) + " |\n")
        sys.stdout.flush()


if __name__ == "__main__":
    main()
