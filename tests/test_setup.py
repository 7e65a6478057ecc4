"""The guided run, with a microphone that is a list of frames and a parent who is a list of answers."""

import io
from collections.abc import Iterable, Iterator, Mapping
from contextlib import AbstractContextManager, nullcontext
from types import MappingProxyType

import numpy as np
import pytest
from rich.console import Console

from assistant.commands.setup import Guide, Machine, bar, command_line
from assistant.core.club.settings import Settings
from assistant.devices.portaudio import Device
from assistant.devices.speakers import Sound
from assistant.engines import Finding
from assistant.enrolment import Listening
from assistant.errors import DeviceError
from assistant.listening.levels import Level
from assistant.samples import FRAME_BYTES, FRAME_SAMPLES, SAMPLE_RATE, Frame
from assistant.terms import Loss, Seat

DESK, HEAD = Device(3, "USB desk", 16_000, 1), Device(5, "Headset", 48_000, 2)
STILL, VOICE, NOTHING = 60, 3_000, 0
"""How loud a moment is: root mean square in steps of int16."""
SHELL = "tray-turns session little-boat --children 3 "


def frames(*loudness: int) -> Iterator[Frame]:
    """Sound as long as anybody wants it, in one microphone or in each."""
    random = np.random.default_rng(1)
    for start in range(0, 10_000 * FRAME_SAMPLES, FRAME_SAMPLES):
        heard = tuple(random.normal(0, loud, FRAME_SAMPLES).astype(np.int16).tobytes() for loud in loudness)
        yield Frame(start, heard[0], heard if len(heard) > 1 else ())


@pytest.fixture(autouse=True)
def _models(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("assistant.engines.check_models", lambda: [Finding("ears", True, "They open.")])


class Kitchen:
    """A machine on which each listening hears the next of these moments."""

    def __init__(self, *moments: int, missing: tuple[int | None, ...] = (), loudspeaker: str = "") -> None:
        self._moments = iter(moments)
        self._missing = missing
        self._loudspeaker = loudspeaker
        self.heard_from: list[int | None] = []
        self.played: list[int] = []

    def listen(self, microphone: int | None, picked: tuple[int, ...]) -> AbstractContextManager[Iterable[Frame]]:
        if microphone in self._missing:
            raise DeviceError("The microphone 'Headset' cannot be opened.")
        self.heard_from.append(microphone)
        return nullcontext(frames(*(next(self._moments) for _ in picked or (None,))))

    def play(self, sound: Sound) -> str:
        self.played.append(int(sound[0]))
        return self._loudspeaker

    def guided(self, *answers: str, channels: Mapping[Seat, int] = MappingProxyType({})) -> str:
        """What was shown to a parent who answers this, and is gone then."""
        told, said = io.StringIO(), iter(answers)

        def ask(question: str) -> str:
            told.write(question)
            answer = next(said, None)
            if answer is None:
                raise EOFError
            return answer

        machine = Machine((DESK, HEAD), self.listen, lambda volume: np.array([volume * 100], np.int16), self.play)
        self.code = Guide(Console(file=told, width=200), machine, Settings(), channels, ask).run("little-boat")
        return told.getvalue()


def test_a_parent_who_presses_enter_each_time_comes_to_the_line_that_begins_a_session() -> None:
    kitchen = Kitchen(VOICE, STILL, VOICE)
    told = kitchen.guided()
    assert told.strip().splitlines()[-1].strip() == SHELL + "--volume 0.8"
    assert "The room: -55 dB." in told and "The voice: -21 dB, 34 dB over the room" in told
    assert "The microphone is in a good place." in told
    assert (kitchen.heard_from, kitchen.played, kitchen.code) == ([None] * 3, [80], 0)


def test_the_microphone_that_was_chosen_is_in_the_line_by_its_name() -> None:
    kitchen = Kitchen(VOICE, STILL, VOICE)
    told = kitchen.guided("9", "5")
    assert "There is no microphone 9." in told
    assert (kitchen.heard_from, told.strip().splitlines()[-1].strip()) == ([5] * 3, SHELL + "--mic Headset --volume 0.8")


def test_a_microphone_that_hears_nothing_is_said_and_another_can_be_chosen() -> None:
    kitchen = Kitchen(NOTHING, VOICE, STILL, VOICE)
    told = kitchen.guided("", "n", "3")
    assert told.count("Nothing at all came from this microphone.") == 1
    assert kitchen.heard_from == [None, 3, 3, 3]


def test_a_microphone_that_cannot_be_opened_is_said_and_another_can_be_chosen() -> None:
    kitchen = Kitchen(VOICE, STILL, VOICE, missing=(5,))
    assert "'Headset' cannot be opened." in kitchen.guided("5", "3")
    assert kitchen.heard_from == [3] * 3


def test_a_microphone_that_goes_away_is_the_end(monkeypatch: pytest.MonkeyPatch) -> None:
    gone = [Frame(0, bytes(FRAME_BYTES)), Frame(3 * SAMPLE_RATE, bytes(FRAME_BYTES), lost=Loss.AWAY)]
    kitchen = Kitchen(VOICE, STILL)
    listen = kitchen.listen
    monkeypatch.setattr(kitchen, "listen", lambda *how: nullcontext(gone) if kitchen.heard_from else listen(*how))
    with pytest.raises(DeviceError, match="has stopped answering. Plug it in again"):
        kitchen.guided()


def test_without_anybody_to_choose_another_one_that_is_the_end() -> None:
    with pytest.raises(DeviceError, match="'Headset' cannot be opened."):
        Kitchen(missing=(5, None)).guided("5")


def test_a_loud_room_is_said_with_what_helps_and_can_be_measured_again() -> None:
    kitchen = Kitchen(VOICE, VOICE // 2, VOICE, STILL, VOICE)
    told = kitchen.guided("", "", "", "", "r")
    assert "6 dB over the room (15 or more is good)." in told and "Turn off what hums" in told
    assert told.index("Turn off what hums") < told.index("The microphone is in a good place.")


def test_with_a_microphone_each_they_are_tried_one_by_one_and_nobodys_voice_is_learnt() -> None:
    far, near = VOICE // 4, VOICE // 5 * 4
    kitchen = Kitchen(VOICE, far, far, STILL, STILL, STILL, VOICE, far, far, far, VOICE, near, far, far, VOICE)
    told = kitchen.guided(channels={Seat.A: 2, Seat.B: 1, Seat.C: 3})
    assert [line.split(" ")[6] for line in told.splitlines() if line.startswith("In the own")] == ["12", "2", "12"]
    assert told.count("Put the microphones nearer to the children") == 1
    assert "nobody's voice is learnt" in told
    assert told.strip().splitlines()[-1].strip() == SHELL + "--channels A=2,B=1,C=3 --volume 0.8"


def test_cues_are_made_quieter_and_louder_until_they_are_as_loud_as_a_calm_voice() -> None:
    kitchen = Kitchen(VOICE, STILL, VOICE)
    enter = [""] * 6
    told = kitchen.guided(*enter, "-", "-", "-", "+", "a")
    assert kitchen.played == [80, 56, 40, 28, 40, 40]
    assert told.strip().splitlines()[-1].strip() == SHELL + "--volume 0.4"
    assert "(H.870)" in told


def test_cues_get_no_louder_than_they_can() -> None:
    kitchen = Kitchen(VOICE, STILL, VOICE)
    assert "Turn up the computer's own volume." in kitchen.guided(*[""] * 6, "+", "+")
    assert kitchen.played == [80, 100, 100]


def test_a_loudspeaker_that_is_silent_leaves_the_cues_to_be_read() -> None:
    kitchen = Kitchen(VOICE, STILL, VOICE, loudspeaker="The loudspeaker 'Screen' cannot be used.")
    told = kitchen.guided()
    assert "Cues cannot be heard. The loudspeaker 'Screen'" in told
    assert told.strip().splitlines()[-1].strip() == SHELL + "--quiet"


def test_what_does_not_open_is_an_end_without_the_line(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("assistant.engines.check_models", lambda: [Finding("ears", False, "Fetch them.")])
    kitchen = Kitchen(VOICE, STILL, VOICE)
    told = kitchen.guided()
    assert "missing  ears: Fetch them." in told and "Not everything opens" in told
    assert SHELL not in told and kitchen.code == 2


def test_whoever_wants_to_tries_the_voices_with_the_same_microphone(monkeypatch: pytest.MonkeyPatch) -> None:
    asked: list[list[Frame]] = []

    def learn(voices: object, settings: Settings, listening: Listening, console: Console) -> None:
        with listening() as heard:
            asked.append([next(iter(heard))])

    monkeypatch.setattr("assistant.assembly.empty_voices", lambda: None)
    monkeypatch.setattr("assistant.enrolment.learn_voices", learn)
    kitchen = Kitchen(VOICE, STILL, VOICE, VOICE)
    kitchen.guided("5", "", "", "", "", "y")
    assert kitchen.heard_from == [5] * 4
    assert len(asked[0][0].pcm) == FRAME_BYTES


@pytest.mark.parametrize(
    ("rms_db", "clipped", "shown"),
    [
        (-120, False, "  " + "·" * 40 + " -120 dB"),
        (-30, False, "  " + "█" * 20 + "·" * 20 + "  -30 dB"),
        (-3, True, "  " + "█" * 38 + "·" * 2 + "   -3 dB  too loud"),
    ],
)
def test_a_bar(rms_db: float, clipped: bool, shown: str) -> None:
    assert bar(Level(rms_db, rms_db, rms_db, clipped)) == shown


def test_a_line_can_be_copied_whatever_the_microphone_is_called() -> None:
    assert command_line("my boat.toml", 2, "PCH: ALC (hw:0,0)", "", 0.4) in (
        "tray-turns session 'my boat.toml' --children 2 --mic 'PCH: ALC (hw:0,0)' --volume 0.4",
        'tray-turns session "my boat.toml" --children 2 --mic "PCH: ALC (hw:0,0)" --volume 0.4',
    )
