"""Fakes that stand for ears, a voice and a room: a list of utterances is a microphone, a list of texts is a loudspeaker."""

from collections.abc import Iterable, Iterator

import numpy as np
from numpy.typing import NDArray

from assistant.core.club.script import read_script
from assistant.core.club.session import Session
from assistant.core.club.settings import Settings
from assistant.core.plans.plan import read_plan
from assistant.core.words.lexicon import read_lexicon
from assistant.devices.shelf import plan_text, shared_text
from assistant.events import Event, Heard, Marked, SpeechStarted, SpeechStopped, Word
from assistant.samples import FRAME_BYTES, FRAME_SAMPLES, Frame, to_samples
from assistant.terms import Mark, Seat

SHORT = Settings(children=3, length_s=120, set_up_s=10, clear_away_s=20, notice_min=1)
"""Two minutes: set-up to 0:10, one minute left at 1:00, clear-away from 1:40."""


def a_session(plan: str = "little-boat", settings: Settings = SHORT) -> Session:
    """A session with the real wording and the real lexicon."""
    read = read_plan(*plan_text(plan))
    settings.check(read)
    script = read_script(shared_text("cues/en.toml"), shared_text("roles/en.toml"))
    return Session(read, settings, script, read_lexicon(shared_text("lexicon/en.toml"), "en.toml").with_plan(read))


def towards(seat: float) -> NDArray[np.float32]:
    """A voice between A (0) and B (1)."""
    return np.array([np.cos(seat * np.pi / 2), np.sin(seat * np.pi / 2)], dtype=np.float32)


def said(unit: int, seat: Seat, text: str, at_s: float, long_s: float = 1.0) -> Heard:
    """An utterance that begins at ``at_s``; its words are spread over it, and it is known 0.3 s after its end."""
    words = text.split()
    each = long_s / max(1, len(words))
    spread = tuple(
        Word(word, to_samples(at_s + place * each), to_samples(at_s + (place + 1) * each)) for place, word in enumerate(words)
    )
    return Heard(to_samples(at_s + long_s + 0.3), unit, to_samples(at_s), to_samples(at_s + long_s), seat, 0.3, spread)


def conversation(*lines: tuple[float, str]) -> list[Heard]:
    """``(12.0, "A: the long blue one")`` and so on, as utterances of one second."""
    parts = [(at_s, *line.partition(": ")) for at_s, line in lines]
    return [said(unit, Seat(seat), text, at_s) for unit, (at_s, seat, _, text) in enumerate(parts, start=1)]


def silence(seconds: float) -> Iterator[Frame]:
    """Frames in which nothing is to be heard."""
    for start in range(0, to_samples(seconds), FRAME_SAMPLES):
        yield Frame(start, bytes(FRAME_BYTES))


class ScriptedEars:
    """Ears that hear what is written down, unless they are shut."""

    def __init__(self, utterances: Iterable[Heard]) -> None:
        due: list[Event] = []
        for heard in utterances:
            due += [
                SpeechStarted(heard.start_sample, heard.start_sample),
                SpeechStopped(heard.end_sample, heard.end_sample),
                heard,
            ]
        self._due = sorted(due, key=lambda event: event.sample)
        self.shut: list[int] = []
        self.put_right_so_far: list[tuple[int, Seat]] = []

    def hear(self, frame: Frame, muted: bool = False) -> list[Event]:
        now = [event for event in self._due if event.sample <= frame.end_sample]
        del self._due[: len(now)]
        if muted:
            self.shut.append(frame.start_sample)
        return [] if muted else now

    def put_right(self, unit: int, seat: Seat) -> None:
        self.put_right_so_far.append((unit, seat))

    def finish(self) -> list[Event]:
        return []


class ListSpeaker:
    """A voice that needs two seconds for every text and writes it down."""

    def __init__(self) -> None:
        self.said: list[str] = []
        self._end = 0

    def say(self, text: str, sample: int) -> None:
        self.said.append(text)
        self._end = sample + to_samples(2)

    def is_over(self, sample: int) -> bool:
        return sample >= self._end


def marked(at_s: float, mark: Mark, seat: Seat | None = None, unit: int | None = None, what: str = "") -> Marked:
    """A key at a moment."""
    return Marked(to_samples(at_s), mark, seat, unit, what)
