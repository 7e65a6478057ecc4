"""``setup``: one guided run before the first session, which a parent can follow.

What lives here: the questions, in their order, and what is printed. What must not: what a level means
(:mod:`assistant.listening.levels` says that), what makes a voice usable, or anything that is written to disk.
"""

from __future__ import annotations

import argparse
import os
import shlex
import subprocess
import time
from collections.abc import Callable, Iterable, Mapping
from contextlib import AbstractContextManager, nullcontext
from dataclasses import dataclass
from itertools import takewhile
from typing import TYPE_CHECKING, Any

from assistant.core.club.loudness import Loudness
from assistant.core.club.settings import Settings
from assistant.errors import DeviceError
from assistant.terms import Loss, Seat

if TYPE_CHECKING:
    from rich.console import Console

    from assistant.devices.portaudio import Device
    from assistant.devices.speakers import Sound
    from assistant.listening.levels import Level, Verdict
    from assistant.samples import Frame

    Tracks = list[list[Level]]

LOOK_S, QUIET_S, SPEAK_S = 6, 4, 8
VOLUMES = (0.1, 0.14, 0.2, 0.28, 0.4, 0.56, 0.8, 1.0)  # 3 dB apart, but for the last: a step that is clearly heard
FIRST_VOLUME = 0.8
APART_DB = 6  # a voice twice as far from the other microphones; from 3 dB on it is told whose it is
_BAR_DB, _BAR_WIDTH = 60, 40  # the bar begins this far under full scale
_PLAYING_S = 0.05


def add_parsers(commands: Any) -> None:
    """Add the command to the door's list."""
    parser = commands.add_parser("setup", help="microphone, room, models, voices and loudness, step by step")
    parser.description = (
        "A guided run before the first session: which microphone, whether it stands well, whether everything opens, how loud "
        "the cues should be. Nothing is kept. At the end stands the line that begins a session."
    )
    parser.add_argument("plan", nargs="?", default="little-boat", metavar="PLAN", help="what will be built (little-boat)")
    parser.add_argument("--children", type=int, default=3, metavar="N", help="two or three (3)")
    own = "a microphone each: try whether they are told apart"
    parser.add_argument("--channels", default="", metavar="A=1,B=2,..", help=own)
    parser.set_defaults(run=_run_setup)


def _run_setup(options: argparse.Namespace) -> int:
    from rich.console import Console

    from assistant.assembly import open_plan
    from assistant.listening.microphones import channels_from

    settings = Settings(children=options.children)
    settings.check(open_plan(options.plan))
    channels = channels_from(options.channels, settings.seats)
    return Guide(Console(highlight=False, markup=False, emoji=False), this_machine(), settings, channels).run(options.plan)


@dataclass(frozen=True, slots=True)
class Machine:
    """What the run needs of the machine. ``listen`` takes a microphone's number, and the channels that are a seat's own each.

    ``play`` says a cue to its end, and gives back why it could not be heard; it is None where there is no loudspeaker, and
    ``silent`` says why.
    """

    microphones: tuple[Device, ...]
    listen: Callable[[int | None, tuple[int, ...]], AbstractContextManager[Iterable[Frame]]]
    render: Callable[[float], Sound]
    play: Callable[[Sound], str] | None
    silent: str = ""


def this_machine() -> Machine:
    """The microphones and the loudspeaker that are plugged in.

    Raises:
        DeviceError: there is no microphone, or PortAudio is missing.
    """
    from assistant.assembly import LANGUAGE
    from assistant.core.club.script import read_script
    from assistant.devices.microphone import Microphone
    from assistant.devices.player import Player
    from assistant.devices.portaudio import Kind, choose, devices
    from assistant.devices.shelf import shared_text
    from assistant.devices.voice import CALM_WPM, Voice

    microphones = devices(Kind.MICROPHONE)
    if not microphones:
        choose(Kind.MICROPHONE, None)  # says what to do
    cue = read_script(shared_text(f"cues/{LANGUAGE}.toml"), shared_text(f"roles/{LANGUAGE}.toml")).swap_soon(2)

    def render(volume: float) -> Sound:
        return Voice(LANGUAGE, CALM_WPM, volume).render(cue)

    try:
        player = Player()
    except DeviceError as error:
        return Machine(microphones, Microphone, render, None, str(error))

    def play(sound: Sound) -> str:
        player.play(sound)
        while player.is_playing:
            time.sleep(_PLAYING_S)
        return player.trouble

    return Machine(microphones, Microphone, render, play)


class Guide:
    """The run. Whoever has no keyboard (the input is at its end) gets the usual choice each time.

    Args:
        console: where it is shown.
        machine: what it is about.
        settings: how many children there are.
        channels: whose own microphone each is, where everybody has one.
        ask: puts a question and gives back the answer.
    """

    def __init__(
        self,
        console: Console,
        machine: Machine,
        settings: Settings,
        channels: Mapping[Seat, int],
        ask: Callable[[str], str] = input,
    ) -> None:
        from assistant.enrolment import setup_words

        self._console = console
        self._machine = machine
        self._settings = settings
        self._channels = channels
        self._ask_person = ask
        self._nobody_there = False
        self._words = setup_words()

    def run(self, plan: str) -> int:
        """All steps, and the line that begins a session: 0, or 2 when something is missing."""
        self._say("Nothing of this is kept. Enter goes on; Ctrl and C ends it.")
        microphone = self._microphone()
        self._place(microphone)
        complete = self._models()
        self._voices(microphone)
        volume = self._volume()
        if not complete:
            self._say("\nNot everything opens: see above under 3. Run this again when that is mended.")
            return 2
        self._say("\nEverything is ready. This line begins a session:\n")
        channels = ",".join(f"{seat.value}={channel}" for seat, channel in self._channels.items())
        self._say(f"  {command_line(plan, self._settings.children, self._spelled(microphone), channels, volume)}")
        return 0

    # --- the steps --------------------------------------------------------------------------------------------------------

    def _microphone(self) -> int | None:
        """Its number; None for the system's own choice."""
        self._title("1. Which microphone?")
        for device in self._machine.microphones:
            self._say(f"  {device.number:>3}  {device.name}")
        while True:
            microphone = self._number("Its number (Enter: the one that the system has chosen): ")
            try:
                self._say(f"Speak for {LOOK_S} seconds, and watch the bar.")
                self._say_loudest(self._hear(microphone, LOOK_S))
            except DeviceError as error:
                if self._nobody_there:
                    raise
                self._say(str(error))
                continue
            if self._ask("Did it hear you? (Enter: yes; n: another microphone): ") != "n":
                return microphone

    def _say_loudest(self, tracks: Tracks) -> None:
        from assistant.listening.levels import SILENT_DB

        loudest_db = max(level.rms_db for levels in tracks for level in levels)
        self._say(f"The loudest was {loudest_db:.0f} dB." if loudest_db > SILENT_DB else self._words["problem"]["silent"])

    def _number(self, question: str) -> int | None:
        numbers = {str(device.number): device.number for device in self._machine.microphones}
        while (answer := self._ask(question)) and answer not in numbers:
            self._say(f"There is no microphone {answer}. Choose one of the numbers above.")
        return numbers.get(answer)

    def _place(self, microphone: int | None) -> None:
        """Measure the room and a voice in it, as often as somebody wants to try another place."""
        from assistant.listening.levels import noise_of, verdict

        self._title("2. Does it stand well?")
        again = "r"
        while again == "r":
            self._say("Put the microphone where it will be, and leave on what is on during the club.")
            self._ask(f"Then everybody is quiet for {QUIET_S} seconds. Enter begins: ")
            quiet = self._hear(microphone, QUIET_S)
            noise_db = max(map(noise_of, quiet))
            self._say(f"The room: {noise_db:.0f} dB. {self._words['room'][Loudness(noise_db, noise_db).room]}")
            for number, who in enumerate(self._channels or ["somebody"]):
                self._ask(f"Now {who} speaks for {SPEAK_S} seconds, from a child's chair, as at the table. Enter begins: ")
                spoken = self._hear(microphone, SPEAK_S)
                self._say_verdict(verdict(quiet[number], spoken[number]))
                self._say_apart(number, spoken)
            again = self._ask("Enter goes on; r measures again: ")

    def _say_verdict(self, found: Verdict) -> None:
        from assistant.listening.levels import CLEAR_DB

        over = f"{found.over_noise_db:.0f} dB over the room ({CLEAR_DB:.0f} or more is good)"
        self._say(f"The voice: {found.speech_db:.0f} dB, {over}.")
        self._say(self._words["problem"][found.problem.value] if found.problem else self._words["good"])

    def _say_apart(self, number: int, spoken: Tracks) -> None:
        """How much louder this voice is in its own microphone than in any other."""
        from assistant.listening.levels import speech_of

        own_db, *others_db = (speech_of(levels) for levels in (spoken[number], *spoken[:number], *spoken[number + 1 :]))
        if others_db:
            ahead_db = own_db - max(others_db)
            louder = f"{abs(ahead_db):.0f} dB {'louder' if ahead_db >= 0 else 'softer'} than in the next"
            self._say(f"In the own microphone it is {louder} ({APART_DB} or more louder is good).")
            if ahead_db < APART_DB:
                self._say("Put the microphones nearer to the children and further from one another. Is each at its seat?")

    def _models(self) -> bool:
        """Whether everything opens."""
        from assistant.commands.models import finding_line
        from assistant.engines import check_models

        self._title("3. Does everything open?")
        complete = True
        for finding in check_models():
            self._say(finding_line(finding))
            complete &= finding.works
        return complete

    def _voices(self, microphone: int | None) -> None:
        from assistant.assembly import empty_voices
        from assistant.enrolment import learn_voices

        self._title("4. Can the voices be told apart?")
        if self._channels:
            self._say("Everybody has a microphone, so nobody's voice is learnt.")
            return
        self._say("Each session begins with learning the voices. You can try that now, if those who will play are here.")
        if self._ask("y and Enter: try it; Enter: leave it out: ") == "y":
            learn_voices(empty_voices(), self._settings, lambda: self._machine.listen(microphone, ()), self._console)

    def _volume(self) -> float | None:
        """What to give to --volume; None where no cue can be heard."""
        self._title("5. How loud are the cues?")
        place = VOLUMES.index(FIRST_VOLUME)
        answer = "again"
        while answer:
            if trouble := self._play(VOLUMES[place]):
                self._say(f"Cues cannot be heard. {trouble}")
                return None
            answer = self._ask("As loud as a calm voice in this room? (Enter: yes; + louder; - quieter; a again): ")
            place = self._moved(place, answer)
        self._say(self._words["ask"]["volume"]["safe"])
        return VOLUMES[place]

    def _play(self, volume: float) -> str:
        if self._machine.play is None:
            return self._machine.silent
        return self._machine.play(self._machine.render(volume))

    def _moved(self, place: int, answer: str) -> int:
        if answer == "+" and place == len(VOLUMES) - 1:
            self._say("Louder than this the cues do not get. Turn up the computer's own volume.")
        return min(max(place + {"+": 1, "-": -1}.get(answer, 0), 0), len(VOLUMES) - 1)

    # --- hearing, asking, saying ------------------------------------------------------------------------------------------

    def _hear(self, microphone: int | None, seconds: int) -> Tracks:
        """The levels of the next seconds, shown while they come: of each microphone where everybody has one.

        Raises:
            DeviceError: the microphone cannot be opened, or went away.
        """
        from rich.live import Live

        from assistant.listening.levels import Meter
        from assistant.samples import to_samples

        picked = tuple(self._channels.values())
        meters = [Meter() for _ in picked or (None,)]
        levels = []
        shown = Live(console=self._console, transient=True) if self._console.is_terminal else nullcontext()
        with self._machine.listen(microphone, picked) as frames, shown as live:
            for frame in takewhile(lambda frame: frame.start_sample < to_samples(seconds), frames):
                if frame.lost is Loss.AWAY:
                    raise DeviceError("The microphone has stopped answering. Plug it in again, and begin again.")
                sounds = frame.channels or (frame.pcm,)
                levels.append([meter.hear(frame._replace(pcm=pcm)) for meter, pcm in zip(meters, sounds, strict=True)])
                if live:
                    live.update("\n".join(map(bar, levels[-1])))
        return [list(track) for track in zip(*levels, strict=True)]

    def _spelled(self, microphone: int | None) -> str:
        """What --mic is given: the name, because numbers change; the number where the name is not the only one like it."""
        names = {device.number: device.name for device in self._machine.microphones}
        if microphone is None:
            return ""
        alike = [name for name in names.values() if names[microphone].lower() in name.lower()]
        return names[microphone] if len(alike) == 1 else str(microphone)

    def _ask(self, question: str) -> str:
        try:
            return self._ask_person(question).strip().lower()
        except EOFError:
            self._nobody_there = True
            self._say("")
            return ""

    def _title(self, text: str) -> None:
        self._console.print(f"\n{text}", style="bold", markup=False)

    def _say(self, text: str) -> None:
        self._console.print(text, soft_wrap=True, markup=False)


def bar(level: Level) -> str:
    """A level as a bar, with what is wrong with it in words."""
    length = round(_BAR_WIDTH * min(max(1 + level.rms_db / _BAR_DB, 0), 1))
    return f"  {'█' * length}{'·' * (_BAR_WIDTH - length)} {level.rms_db:4.0f} dB{'  too loud' if level.clipped else ''}"


def command_line(plan: str, children: int, microphone: str, channels: str, volume: float | None) -> str:
    """The line that begins a session like this.

    Args:
        microphone: empty for the system's own choice.
        channels: empty where there is one microphone for all.
        volume: None where no cue can be heard.
    """
    words = ["tray-turns", "session", plan, "--children", str(children)]
    words += ["--mic", microphone] if microphone else []
    words += ["--channels", channels] if channels else []
    words += ["--quiet"] if volume is None else ["--volume", f"{volume:g}"]
    return subprocess.list2cmdline(words) if os.name == "nt" else shlex.join(words)
