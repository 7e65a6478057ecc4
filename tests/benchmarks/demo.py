"""What the tool makes of the demonstration's sound: ``python -m tests.benchmarks.demo``, or ``make figures``.

The truth was written down while the sound was put together (``demo_audio/README.md``); nothing here was chosen on it but the
wording of its script.
"""

import json
import sys
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from statistics import median
from typing import Any

from assistant.assembly import demo_folder, open_ears, open_plan, open_session, open_voice, open_voices
from assistant.commands.sessions import DEMO_PLAN, DEMO_SETTINGS
from assistant.core.club.session import Session
from assistant.core.measures.summary import Summary, summarise
from assistant.core.words.meaning import understand
from assistant.devices.files import Recording, open_recording
from assistant.devices.speakers import TimedSpeaker
from assistant.events import CueStarted, Event, Heard, StepDone, StepUndone
from assistant.run import Road
from assistant.samples import Frame
from assistant.terms import Act, Cue, Role, Seat
from tests.benchmarks.scoring import (
    Harmonic,
    Stretch,
    Who,
    boundary_errors_s,
    median_size,
    overlap_of_counts,
    pairs,
    who,
)


@dataclass(frozen=True, slots=True)
class Figures:
    """What was measured on the demonstration."""

    cues: tuple[tuple[Cue, int], ...]
    true_cues: tuple[tuple[Cue, int], ...]
    over_speech: int
    who: Who
    start_errors_s: tuple[float, ...]
    end_errors_s: tuple[float, ...]
    words: Harmonic
    summary: Summary

    @property
    def boundary_error_s(self) -> float:
        """Median size of the error of all starts and ends."""
        return median_size(self.start_errors_s + self.end_errors_s)


def true_story() -> dict[str, Any]:
    """The truth, as it was written down."""
    story: dict[str, Any] = json.loads((demo_folder() / "truth.json").read_text(encoding="utf-8"))
    return story


def travel(recogniser: str = "auto", *, pace: Callable[[Recording], Iterable[Frame]] = iter) -> tuple[Session, list[Event]]:
    """The demonstration's events, as ``tray-turns demo`` has them."""
    session = open_session(open_plan(DEMO_PLAN), DEMO_SETTINGS)
    voices = open_voices(demo_folder() / "voices", DEMO_SETTINGS, _quietly)
    ears = open_ears(recogniser, session, voices, _quietly).ears
    speaker = TimedSpeaker(open_voice(140, 0.8, _quietly))
    return session, list(Road(ears, session, speaker).travel(pace(open_recording(demo_folder() / "session.flac"))))


def measure(session: Session, events: list[Event]) -> Figures:
    """The figures of these events."""
    story = true_story()
    truth = [_stretch(segment) for segment in story["segments"]]
    units = [event for event in events if isinstance(event, Heard)]
    heard = [Stretch(unit.start_sample, unit.end_sample, unit.seat) for unit in units]
    starts, ends = boundary_errors_s(pairs(truth, heard))
    return Figures(
        cues=tuple(_cues(events)),
        true_cues=tuple((Cue(cue["cue"]), cue["after_step"]) for cue in story["cues"]),
        over_speech=sum(event.over_speech for event in events if isinstance(event, CueStarted)),
        who=who(truth, heard),
        start_errors_s=tuple(starts),
        end_errors_s=tuple(ends),
        words=sum(_words(session, story, units), Harmonic(0, 0, 0)),
        summary=summarise(events),
    )


def _cues(events: list[Event]) -> Iterator[tuple[Cue, int]]:
    """Every cue, and how many steps were done when it was said."""
    done = 0
    for event in events:
        match event:
            case StepDone():
                done += 1
            case StepUndone():
                done -= 1
            case CueStarted():
                yield event.cue, done


def _words(session: Session, story: dict[str, Any], units: list[Heard]) -> Iterator[Harmonic]:
    """For every true request, the attribute words that were said about the piece and those that were understood."""
    for segment in story["segments"]:
        if segment["act"] != Act.REQUEST:
            continue
        true = _stretch(segment)
        words = [word.text for unit in units for word in unit.words if true.start <= _middle(word) < true.end]
        meaning = understand(
            words,
            role=Role(segment["role"]),
            is_facilitator=False,
            may_ask=True,
            request_is_open=segment["mends"],
            lexicon=session.lexicon,
        )
        yield overlap_of_counts(map(tuple, segment["attributes"]), meaning.attributes)


def _middle(word: Any) -> int:
    return int(word.start_sample + word.end_sample) // 2


def _stretch(segment: dict[str, Any]) -> Stretch:
    return Stretch(segment["start"], segment["end"], Seat(segment["seat"]))


def _quietly(what: str) -> None:
    """Nobody waits to be told what is being opened."""


def table(figures: Figures) -> str:
    """The figures as a Markdown table."""
    told, words = figures.who, figures.words
    starts, ends = (median(errors) * 1000 for errors in (figures.start_errors_s, figures.end_errors_s))
    rows = [
        ("cues at the right step", f"{sum(map(figures.true_cues.__contains__, figures.cues))} of {len(figures.true_cues)}"),
        ("cues said over speech", f"{figures.over_speech}"),
        ("who spoke, units over 1 s", f"{told.right} of {told.answered} answered right ({told.share_right:.1%})"),
        ("answered with `?`", f"{told.units - told.answered} of {told.units}"),
        ("boundaries, median error", f"{figures.boundary_error_s * 1000:.0f} ms"),
        ("bias of starts / ends", f"{starts:+.0f} / {ends:+.0f} ms"),
        ("attribute words of requests", f"F1 {words.f1:.2f} ({words.said} said, {words.heard} heard, {words.both} right)"),
    ]
    return "\n".join(["| What | Measured |", "|---|---|", *(f"| {what} | {value} |" for what, value in rows)])


if __name__ == "__main__":
    sys.stdout.write(table(measure(*travel(*sys.argv[1:]))) + "\n")
