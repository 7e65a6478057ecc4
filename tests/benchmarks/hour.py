"""A long session: is memory flat, and does time drift? ``python -m tests.benchmarks.hour [minutes]``, 60 by default.

The demonstration's utterances in a new order with new gaps. Memory is what the process has resident (Linux), every five
minutes of the session; drift is how far heard boundaries lie from the truth early and late. Takes about a tenth of real time.
"""

import random
import sys
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from statistics import median

from assistant.assembly import demo_folder, open_ears, open_plan, open_session, open_voice, open_voices
from assistant.commands.sessions import DEMO_PLAN, DEMO_SETTINGS
from assistant.devices.speakers import TimedSpeaker
from assistant.events import Event, Heard
from assistant.run import Road
from assistant.samples import Frame, to_samples
from tests.benchmarks.montage import clips, montage
from tests.benchmarks.scoring import Stretch, boundary_errors_s, pairs

EVERY_S = 300
PAGE_MIB = 4096 / 2**20


def main(minutes: float = 60) -> None:
    """Print memory and drift."""
    chance = random.Random(4)
    everything = clips()
    parts = [(chance.uniform(0.3, 4.0), chance.choice(everything)) for _ in range(int(minutes * 60))]
    truth, frames = montage(parts, minutes * 60)
    settings = replace(DEMO_SETTINGS, length_s=minutes * 60)
    voices = open_voices(demo_folder() / "voices", settings, _quietly)
    session = open_session(open_plan(DEMO_PLAN), settings)
    ears = open_ears("auto", session, voices, _quietly).ears
    road = Road(ears, session, TimedSpeaker(open_voice(140, 0.8, _quietly)))
    print(f"{minutes:g} minutes, {len(truth)} utterances\n\n| Minute | Memory, MiB |\n|---|---|")
    events = list(road.travel(_weighed(frames)))
    _drift(truth, events)
    print(f"\n{len(events)} events")


def _weighed(frames: Iterator[Frame]) -> Iterator[Frame]:
    for frame in frames:
        if frame.start_sample % to_samples(EVERY_S) < 480:
            print(f"| {frame.start_sample // to_samples(60)} | {_resident_mib():.0f} |", flush=True)
        yield frame


def _resident_mib() -> float:
    return int(Path("/proc/self/statm").read_text().split()[1]) * PAGE_MIB


def _drift(truth: list[Stretch], events: list[Event]) -> None:
    heard = [Stretch(one.start_sample, one.end_sample, one.seat) for one in events if isinstance(one, Heard)]
    matched = pairs(truth, heard)
    tenth = max(1, len(matched) // 10)
    print("\n| Part | Starts, median | Ends, median |\n|---|---|---|")
    for part, some in (("first tenth", matched[:tenth]), ("last tenth", matched[-tenth:])):
        starts, ends = boundary_errors_s(some)
        print(f"| {part} | {median(starts) * 1000:+.0f} ms | {median(ends) * 1000:+.0f} ms |")


def _quietly(what: str) -> None:
    """Nobody waits to be told what is being opened."""


if __name__ == "__main__":
    main(*map(float, sys.argv[1:]))
