"""``demo``, ``session`` and ``analyse``: how they are spelled, and what each puts on the table.

What lives here: options, and which pieces they open. What must not: a rule or a measure. What a command needs is imported when
it runs, so that ``--help`` answers at once and a missing library only stops who needs it.
"""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING, Any

from assistant.commands.spelling import add_lengths, settings_of
from assistant.commands.starting import (
    Before,
    asked,
    channels_of,
    console_of,
    hear,
    refuse_in_vain,
    tell_door,
    wishes_of,
)
from assistant.core.club.consent import LEVELS
from assistant.core.club.settings import Settings, SwapRule
from assistant.errors import DeviceError, SettingsError

if TYPE_CHECKING:
    from rich.console import Console

    from assistant.devices.speakers import Playing


RECOGNISERS = ("auto", "vosk", "moonshine")
DEMO_PLAN = "little-boat"
AFTER_DEMO = "Next: tray-turns setup tries your own room, and tray-turns session --pages begins a club of your own."
DEMO_SETTINGS = Settings(children=3, swap=SwapRule(every=3), length_s=360, set_up_s=30, clear_away_s=50)


def add_parsers(commands: Any) -> None:
    """Add the three commands to the door's list."""
    _demo(commands.add_parser("demo", help="a whole session from our own recording, in about a minute"))
    _session(commands.add_parser("session", help="a session now, with the microphone"))
    _analyse(commands.add_parser("analyse", help="a recording that the family already has"))


# --- how they are spelled -------------------------------------------------------------------------------------------------


def _demo(parser: argparse.ArgumentParser) -> None:
    parser.description = "A whole session from our own recording: three synthetic children and an adult build a little boat."
    parser.add_argument("--realtime", action="store_true", help="at real pace, and aloud where there is a loudspeaker")
    parser.add_argument("--mix", type=Path, metavar="FILE.wav", help="write a copy of the recording with the spoken cues in it")
    _add_pages(parser)
    _add_recogniser(parser)
    _add_voice(parser)
    _add_output(parser)
    parser.set_defaults(run=_run_demo, younger=False, rule=[])


def _session(parser: argparse.ArgumentParser) -> None:
    parser.description = "A session now. Voices are learnt at the start and forgotten at the end. Press h for the keys."
    one_of = "a plan of ours (little-boat) or the path of your own .toml file; without it --pages lets you choose everything"
    parser.add_argument("plan", metavar="PLAN", nargs="?", help=one_of)
    own = "a folder with plans of your own for that page to offer, beside those in this folder; may be given again"
    parser.add_argument("--plans", type=Path, action="append", default=[], metavar="FOLDER", help=own)
    _add_children(parser)
    add_lengths(parser)
    parser.add_argument("--names", default="", metavar="A=..,B=..", help="for the cues; in memory, and in your shell's history")
    parser.add_argument("--mic", metavar="NAME", help="the microphone, by name or number (the system's)")
    _add_channels(parser)
    parser.add_argument("--from", dest="recording", type=Path, metavar="AUDIO", help="hear a recording, not the microphone")
    parser.add_argument("--realtime", action="store_true", help="with --from: at real pace")
    parser.add_argument("--quiet", action="store_true", help="show the cues, but do not say them")
    parser.add_argument("--no-voices", action="store_true", help="do not tell voices apart; mark who speaks by key")
    parser.add_argument("--younger", action="store_true", help="fewer and shorter rules on the room page")
    parser.add_argument("--rule", action="append", default=[], metavar="TEXT", help="a rule of your own; may be given again")
    _add_pages(parser)
    _add_recogniser(parser)
    _add_voice(parser)
    _add_output(parser)
    parser.set_defaults(run=_run_session)


def _analyse(parser: argparse.ArgumentParser) -> None:
    parser.description = "Listen to a recording that the family already has, and say what was in it."
    parser.add_argument("audio", type=Path, metavar="AUDIO", help="a WAV, FLAC or Ogg file of any length")
    parser.add_argument("--plan", required=True, metavar="P", help="what was built: a plan of ours, or your own .toml file")
    _add_children(parser)
    _add_channels(parser)
    _add_recogniser(parser)
    _add_output(parser)
    parser.set_defaults(run=_run_analyse)


def _add_children(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--children", type=int, default=3, metavar="N", help="two or three (3)")
    parser.add_argument("--swap", default="3", metavar="RULE", help="roles swap every 3 steps, 10min, or component (3)")
    parser.add_argument("--voices", type=Path, metavar="DIR", help="a file a seat: A.flac, B.flac, ...; F.flac is the adult")


def _add_channels(parser: argparse.ArgumentParser) -> None:
    own = "a microphone each: which channel is whose, F for the adult's; no voices are needed"
    parser.add_argument("--channels", default="", metavar="A=1,B=2,..", help=own)


def _add_pages(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--pages", action="store_true", help="the room, helper and engineer pages, in this laptop's browser")
    parser.add_argument("--share", action="store_true", help="the helper and engineer pages on the home network too")


def _add_recogniser(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--recogniser", choices=RECOGNISERS, default="auto", help="what turns speech into words (auto)")


def _add_voice(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--rate", type=int, default=140, metavar="WPM", help="words a minute of the cues (140)")
    parser.add_argument("--volume", type=float, default=0.8, metavar="0..1", help="how loud the cues are (0.8)")


def _add_output(parser: argparse.ArgumentParser) -> None:
    group = parser.add_argument_group("what is shown and kept")
    group.add_argument("--json", action="store_true", help="the numbers as JSON on standard output, the rest on standard error")
    group.add_argument("--no-words", action="store_true", help="do not show what was said")
    group.add_argument("--rttm", type=_rttm_path, metavar="F", help="write who spoke when, as RTTM, in a new file")
    group.add_argument("--events", type=Path, metavar="F.jsonl", help="write every event; no words, no names; a new file")
    group.add_argument("--keep", choices=LEVELS, default="nothing", help="keep it here, if everybody agrees (nothing)")
    days = "with --keep: after so many days it deletes itself (180)"
    group.add_argument("--keep-days", type=int, metavar="DAYS", help=days)
    group.add_argument("--keep-words", action="store_true", help="with --events: the words too; everybody has agreed to it")


def _rttm_path(text: str) -> Path:
    """A file for RTTM, which repeats its name in each line."""
    if not text.isprintable():
        raise argparse.ArgumentTypeError("its name must be plain text, as each line of RTTM repeats it")
    return Path(text)


# --- what they open -------------------------------------------------------------------------------------------------------


def _run_demo(options: argparse.Namespace) -> int:
    from assistant.assembly import demo_folder, open_ears, open_plan, open_session, open_texts, open_voice, open_voices
    from assistant.club import Club, opening
    from assistant.commands.pages import pages_of
    from assistant.devices.files import open_recording, read_samples, real_pace
    from assistant.devices.speakers import TimedSpeaker
    from assistant.outputs.keeping import Consent, Keeper
    from assistant.run import Road

    refuse_in_vain(options)
    console = console_of(options)
    path = demo_folder() / "session.flac"
    recording = open_recording(path)
    with opening(console) as progress:
        session = open_session(open_plan(DEMO_PLAN), DEMO_SETTINGS)
        voices = open_voices(demo_folder() / "voices", DEMO_SETTINGS, progress)
        opened = open_ears(options.recogniser, session, voices, progress)
        render = open_voice(options.rate, options.volume, progress)
    console.print(f"{session.plan.title}, our own recording of synthetic voices. Words by {opened.recogniser}.", soft_wrap=True)
    room, cues = _loudspeakers(console) if options.realtime else (None, None)
    speaker = TimedSpeaker(render, aloud=cues)
    if room:
        room.play(read_samples(path))
    frames = real_pace(recording) if options.realtime else recording
    road, length = Road(opened.ears, session, speaker), recording.length_samples
    shown = pages_of(options, session, "our own recording", opened.recogniser, console)
    with shown as pages, asked(options, DEMO_SETTINGS, console, synthetic=True) as agreed:
        club = Club(road, wishes_of(options, agreed), console, open_texts(), length=length, keeping=agreed.keeping, pages=pages)
        events = club.follow(frames)
    tell_door(events)
    if options.mix:
        # The only voices in it are synthetic: nobody has to be asked.
        Keeper(Consent.VOICES).mix(options.mix, recording, speaker.said)
        console.print(f"The recording with its cues is in {options.mix}.")
    console.print(f"\n{AFTER_DEMO}", soft_wrap=True)
    return 0


def _run_analyse(options: argparse.Namespace) -> int:
    from assistant.assembly import open_ears, open_plan, open_session, open_texts, open_voices
    from assistant.club import Club, opening
    from assistant.devices.files import open_recording
    from assistant.listening.microphones import Microphones
    from assistant.run import Road
    from assistant.samples import to_seconds

    refuse_in_vain(options)
    console = console_of(options)
    channels = channels_of(options, options.children)
    recording = open_recording(options.audio, tuple(channels.values()))
    settings = Settings(
        children=options.children,
        swap=SwapRule.from_text(options.swap),
        length_s=to_seconds(recording.length_samples) + 1,  # the sound ends before the clock does
        set_up_s=0,
        clear_away_s=0,
        notice_min=0,
    )
    session = open_session(open_plan(options.plan), settings)
    with opening(console) as progress:
        voices = open_voices(options.voices, settings, progress) if options.voices else None
        whose = Microphones(tuple(channels)) if channels else voices
        opened = open_ears(options.recogniser, session, whose, progress)
    console.print(f"{options.audio.name}, {session.plan.title}. Words by {opened.recogniser}.", soft_wrap=True)
    if not (voices or channels):
        console.print("Without --voices nobody can be told apart: every turn is '?'. Name a folder with one recording a seat.")
    with asked(options, settings, console) as agreed:
        road, length = Road(opened.ears, session), recording.length_samples
        club = Club(road, wishes_of(options, agreed), console, open_texts(), length=length, keeping=agreed.keeping)
        events = club.follow(recording)
    tell_door(events)
    return 0


def _run_session(options: argparse.Namespace) -> int:
    from assistant.assembly import empty_voices, open_ears, open_plan, open_session, open_voice, open_voices
    from assistant.club import opening
    from assistant.devices.speakers import no_sound
    from assistant.listening.microphones import Microphones

    if options.realtime and not options.recording:
        raise SettingsError("--realtime does nothing without --from AUDIO: a microphone is never faster. Leave it out.")
    refuse_in_vain(options)
    if options.plan and options.plans:
        raise SettingsError("--plans is for the set-up page, which opens when no plan is named. Leave out one of the two.")
    if options.plan is None:
        from assistant.commands.set_up_page import set_up_and_begin

        return set_up_and_begin(options)
    console = console_of(options)
    settings = settings_of(options)
    session = open_session(open_plan(options.plan), settings)
    channels = channels_of(options, settings.children)
    learning = not (options.voices or options.no_voices or options.recording or channels)
    with opening(console) as progress:
        render = no_sound if options.quiet else open_voice(options.rate, options.volume, progress)
        voices = open_voices(options.voices, settings, progress) if options.voices else empty_voices() if learning else None
        whose = Microphones(tuple(channels)) if channels else voices
        opened = open_ears(options.recogniser, session, whose, progress)
    return hear(options, opened, session, render, console, Before(to_learn=voices if learning else None))


def _loudspeakers(console: Console) -> tuple[Playing | None, Playing | None]:
    """One for the recording and one for the cues; or a sentence that there is none: a demonstration goes on without."""
    from assistant.devices.player import Player

    try:
        return Player(), Player()
    except DeviceError as error:
        console.print(f"You will see the cues and not hear them. {error}")
        return None, None
