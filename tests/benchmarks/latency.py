"""From the end of "done" to the start of the cue, at real pace: ``python -m tests.benchmarks.latency``. Takes five minutes.

Requests and "done"s of the demonstration, one after another, with a swap at every step. Measured on the wall clock of this
machine: the frame that holds the last sample of "done" is handed over at the moment it would have been heard, and the cue has
begun when the speaker is told to say it.
"""

import time
from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from assistant.assembly import demo_folder, open_ears, open_plan, open_session, open_voice, open_voices
from assistant.commands.sessions import DEMO_PLAN, DEMO_SETTINGS
from assistant.core.club.settings import SwapRule
from assistant.core.plans.plan import Plan
from assistant.devices.files import real_pace
from assistant.devices.speakers import TimedSpeaker
from assistant.events import CueStarted
from assistant.run import Road
from assistant.samples import Frame, to_seconds
from assistant.terms import Act, Cue
from tests.benchmarks.montage import Clip, clips, montage

ROUNDS = 24
ASK_GAP_S, DONE_GAP_S = 14.0, 1.0  # the cue and its roles fit into the first


class Stopwatch(TimedSpeaker):
    """Notes the moment at which each cue begins."""

    began: list[float]

    def say(self, text: str, sample: int) -> None:
        """Begin to say this at this sample."""
        self.began.append(time.monotonic())
        super().say(text, sample)


def main() -> None:
    """Print the delays."""
    settings = replace(DEMO_SETTINGS, length_s=3600, set_up_s=0, swap=SwapRule(every=1), notice_min=0)
    plan = _long(open_plan(DEMO_PLAN))
    everything = clips()
    asking = [clip for clip in everything if clip.act == Act.REQUEST and "blue" in clip.text]
    done = [clip for clip in everything if clip.act == Act.STEP_DONE]
    parts: list[tuple[float, Clip]] = []
    for turn in range(ROUNDS):
        parts += [(ASK_GAP_S, asking[turn % len(asking)]), (DONE_GAP_S, done[turn % len(done)])]
    truth, frames = montage(parts, 18.0 * ROUNDS)
    voices = open_voices(demo_folder() / "voices", settings, _quietly)
    speaker = Stopwatch(open_voice(140, 0.8, _quietly))
    speaker.began = []
    session = open_session(plan, settings)
    road = Road(open_ears("auto", session, voices, _quietly).ears, session, speaker)
    starts: list[float] = []
    events = list(road.travel(_noted(real_pace(frames), starts)))
    cues = [event for event in events if isinstance(event, CueStarted)]
    delays = [
        moment - starts[0] - to_seconds(said.end)
        for cue, moment in zip(cues, speaker.began, strict=True)
        if cue.cue is Cue.SWAP
        for said in [max((one for one in truth if one.end <= cue.sample), key=lambda one: one.end)]
    ]
    low, middle, high = np.percentile(delays, [5, 50, 95])
    print(f"{len(delays)} swaps of {ROUNDS}: from the end of 'done' to the start of the cue")
    print(f"{middle:.2f} s in the middle, {low:.2f} to {high:.2f} s from the 5th to the 95th percentile")


def _noted(frames: Iterator[Frame], starts: list[float]) -> Iterator[Frame]:
    """The frames, and the moment at which sample 0 was heard."""
    for frame in frames:
        if not starts:
            starts.append(time.monotonic() - to_seconds(frame.end_sample))
        yield frame


def _long(plan: Plan) -> Plan:
    """The plan over and over: more steps than there are rounds."""
    steps = [step for _ in range(ROUNDS) for step in plan.steps[:3]]
    return replace(plan, steps=tuple(replace(step, number=number) for number, step in enumerate(steps, start=1)))


def _quietly(what: str) -> None:
    """Nobody waits to be told what is being opened."""


if __name__ == "__main__":
    main()
