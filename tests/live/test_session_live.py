"""A minute of the demonstration, played into the room and heard by the microphone: the same turns as from the file.

What the tolerance allows for: ALSA, PulseAudio and PortAudio each hand sound on in blocks of their own, so that frames do not
begin at the same samples; the detector decides every 32 ms.
"""

import subprocess
from collections.abc import Iterable, Iterator
from itertools import takewhile
from pathlib import Path
from statistics import median

import numpy as np
import pytest
import soundfile
from numpy.typing import NDArray

from assistant.assembly import demo_folder, open_ears, open_plan, open_session, open_voices
from assistant.commands.sessions import DEMO_PLAN
from assistant.core.club.settings import Settings
from assistant.devices.files import read_samples
from assistant.devices.microphone import Microphone
from assistant.events import Event, Heard, Lost, StepDone
from assistant.listening.speech import frames_of
from assistant.run import Road
from assistant.samples import SAMPLE_RATE, Frame, to_samples, to_seconds
from tests.live.room import in_three_tries

pytestmark = [pytest.mark.alone, pytest.mark.usefixtures("room")]

SETTINGS = Settings(length_s=180, set_up_s=0, clear_away_s=0, notice_min=0)
FROM_S, UNTIL_S = 41.0, 106.0  # the first three steps
TAIL_S = 4.0  # PulseAudio begins late
START_TOLERANCE_S = 0.048  # one and a half of the detector's slots; measured here: 0 to 32 ms
FIRST_TOLERANCE_S = 0.2  # after silence the detector is less sure of a first syllable: where its slots begin moves it by 0.15 s


def quietly(what: str) -> None:
    """Nobody waits to be told."""


def travel(frames: Iterable[Frame]) -> list[Event]:
    session = open_session(open_plan(DEMO_PLAN), SETTINGS)
    ears = open_ears("moonshine", session, open_voices(demo_folder() / "voices", SETTINGS, quietly), quietly).ears
    return list(Road(ears, session).travel(frames))


def played_and_heard(excerpt: NDArray[np.int16], folder: Path) -> Iterator[Frame]:
    """What the microphone hears while another program plays the excerpt."""
    path = folder / "excerpt.wav"
    soundfile.write(path, excerpt, SAMPLE_RATE)
    end = len(excerpt) + to_samples(TAIL_S)
    with Microphone() as microphone, subprocess.Popen(["paplay", str(path)]) as player:
        yield from takewhile(lambda frame: frame.start_sample < end, microphone)
    assert player.returncode == 0


def units(events: list[Event]) -> list[Heard]:
    return [event for event in events if isinstance(event, Heard)]


@in_three_tries
def test_the_microphone_hears_what_the_file_holds(tmp_path: Path) -> None:
    excerpt = read_samples(demo_folder() / "session.flac")[to_samples(FROM_S) : to_samples(UNTIL_S)]
    from_file = travel(frames_of(excerpt))
    from_room = travel(played_and_heard(excerpt, tmp_path))
    file, room = units(from_file), units(from_room)
    assert not [event for event in from_room if isinstance(event, Lost)]
    assert [unit.seat for unit in room] == [unit.seat for unit in file]
    late = median(to_seconds(b.start_sample - a.start_sample) for a, b in zip(file, room, strict=True))
    shifts = [to_seconds(b.start_sample - a.start_sample) - late for a, b in zip(file, room, strict=True)]
    assert abs(shifts[0]) <= FIRST_TOLERANCE_S
    assert max(map(abs, shifts[1:])) <= START_TOLERANCE_S
    same_words = sum(a.text == b.text for a, b in zip(file, room, strict=True))
    assert same_words >= 0.8 * len(file)
    assert [e.step for e in from_room if isinstance(e, StepDone)] == [e.step for e in from_file if isinstance(e, StepDone)]
