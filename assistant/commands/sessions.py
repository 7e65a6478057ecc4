"""``demo``, ``session`` and ``analyse``: how they are spelled, and what each puts on the table.

What lives here: options, and which pieces they open. What must not: a rule or a measure. What a command needs is imported when
it runs, so that ``--help`` answers at once and a missing library only stops who needs it.
"""

from __future__ import annotations

import argparse
from collections.abc import Iterator, Sequence
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from datetime import date, timedelta
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

from assistant.commands.numbers import MINUTES
from assistant.core.club.settings import LONGEST_MIN, Settings, SwapRule
from assistant.errors import DeviceError, SettingsError
from assistant.events import Event, Marked, SessionClosed
from assistant.terms import CHILDREN, Closing, Mark, Seat

if TYPE_CHECKING:
    from rich.console import Console

    from assistant.assembly import Opened
    from assistant.club import Wishes
    from assistant.commands.pages import Welcome
    from assistant.core.club.consent import Consent, Ledger
    from assistant.core.club.session import Session
    from assistant.devices.speakers import Playing, Render
    from assistant.listening.voices import Voices
    from assistant.outputs.keeping.store import Keeping


KEEPABLE = ("nothing", "timeline", "words", "voices")
USUAL_DAYS, LONGEST_DAYS = 180, 3660
RECOGNISERS = ("auto", "vosk", "moonshine")
DEMO_PLAN = "little-boat"
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
    _add_children(parser)
    parser.add_argument("--length", type=float, default=45, metavar="MIN", help="minutes in all; nothing extends it (45)")
    parser.add_argument("--set-up", type=MINUTES, default=5, metavar="MIN", help="minutes of it for setting up (5)")
    parser.add_argument("--clear-away", type=MINUTES, default=5, metavar="MIN", help="minutes of it for clearing away (5)")
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
    group.add_argument("--keep", choices=KEEPABLE, default="nothing", help="keep it here, if everybody agrees (nothing)")
    days = "with --keep: after so many days it deletes itself (180)"
    group.add_argument("--keep-days", type=int, metavar="DAYS", help=days)
    group.add_argument("--keep-words", action="store_true", help="with --events: the words too; everybody has agreed to it")


def _rttm_path(text: str) -> Path:
    """A file for RTTM, which repeats its name in each line."""
    if not text.isprintable():
        raise argparse.ArgumentTypeError("its name must be plain text, as each line of RTTM repeats it")
    return Path(text)


def _settings(options: argparse.Namespace) -> Settings:
    if not 0 < options.length <= LONGEST_MIN:
        raise SettingsError(f"--length {options.length:g} is no session. Choose up to {LONGEST_MIN} minutes, usually 30 to 60.")
    return Settings(
        children=options.children,
        swap=SwapRule.from_text(options.swap),
        length_s=options.length * 60,
        set_up_s=options.set_up * 60,
        clear_away_s=options.clear_away * 60,
        names=names_from(options.names),
    )


def names_from(text: str) -> dict[Seat, str]:
    """The names in ``"A=Ada,B=Bo"``, by seat.

    Raises:
        SettingsError: it is not written like that.
    """
    names: dict[Seat, str] = {}
    for pair in filter(None, (part.strip() for part in text.split(","))):
        letter, _, name = pair.partition("=")
        if letter.strip().upper() not in CHILDREN or not name.strip():
            raise SettingsError(f"--names {pair!r} cannot be read. Write a seat and a name, A=Ada,B=Bo.")
        seat, name = Seat(letter.strip().upper()), name.strip()
        if seat in names:
            raise SettingsError(f"--names names seat {seat} twice. Each child has one name.")
        if name.casefold() in map(str.casefold, names.values()):
            raise SettingsError(f"--names gives two children the name {name!r}. Add a letter to one of them.")
        names[seat] = name
    return names


def channels_of(options: argparse.Namespace, children: int) -> dict[Seat, int]:
    """Which channel is whose microphone; nobody's without ``--channels``."""
    from assistant.listening.microphones import channels_from

    channels = channels_from(options.channels, CHILDREN[:children])
    if channels and options.voices:
        raise SettingsError("--channels and --voices are two ways to tell who speaks. Choose one of them.")
    return channels


def _refuse_in_vain(options: argparse.Namespace) -> None:
    """Say it before anything begins: an option would do nothing, or a file could not be written at the end."""
    from assistant.outputs.places import must_be_writable

    if options.keep_words and not options.events:
        raise SettingsError("--keep-words does nothing without --events F.jsonl. Name that file, or leave it out.")
    if options.keep_days is not None and options.keep == KEEPABLE[0]:
        raise SettingsError("--keep-days does nothing without --keep. Say what to keep, or leave it out.")
    must_be_writable(*filter(None, (options.events, options.rttm, getattr(options, "mix", None))))


def _console(options: argparse.Namespace) -> Console:
    """Where lines go: with JSON, standard output belongs to the numbers alone. Titles and names are no markup."""
    from rich.console import Console

    return Console(stderr=options.json, highlight=False, markup=False, emoji=False)


def _wishes(options: argparse.Namespace, agreed: Agreed) -> Wishes:
    from assistant.club import Wishes

    wishes = Wishes(
        as_json=options.json,
        show_words=not options.no_words,
        rttm=options.rttm,
        events=options.events,
        keep_words=options.keep_words,
    )
    return wishes if agreed.level is None else wishes.within(agreed.level)


# --- what they open -------------------------------------------------------------------------------------------------------


def _run_demo(options: argparse.Namespace) -> int:
    from assistant.assembly import demo_folder, open_ears, open_plan, open_session, open_texts, open_voice, open_voices
    from assistant.club import Club, opening
    from assistant.commands.pages import pages_of
    from assistant.devices.files import open_recording, read_samples, real_pace
    from assistant.devices.speakers import TimedSpeaker
    from assistant.outputs.keeping import Consent, Keeper
    from assistant.run import Road

    _refuse_in_vain(options)
    console = _console(options)
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
    with shown as pages, _asked(options, DEMO_SETTINGS, console, synthetic=True) as agreed:
        club = Club(road, _wishes(options, agreed), console, open_texts(), length=length, keeping=agreed.keeping, pages=pages)
        events = club.follow(frames)
    _tell_door(events)
    if options.mix:
        # The only voices in it are synthetic: nobody has to be asked.
        Keeper(Consent.VOICES).mix(options.mix, recording, speaker.said)
        console.print(f"The recording with its cues is in {options.mix}.")
    return 0


def _run_analyse(options: argparse.Namespace) -> int:
    from assistant.assembly import open_ears, open_plan, open_session, open_texts, open_voices
    from assistant.club import Club, opening
    from assistant.devices.files import open_recording
    from assistant.listening.microphones import Microphones
    from assistant.run import Road
    from assistant.samples import to_seconds

    _refuse_in_vain(options)
    console = _console(options)
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
    with _asked(options, settings, console) as agreed:
        road, length = Road(opened.ears, session), recording.length_samples
        club = Club(road, _wishes(options, agreed), console, open_texts(), length=length, keeping=agreed.keeping)
        events = club.follow(recording)
    _tell_door(events)
    return 0


def _tell_door(events: Sequence[Event]) -> None:
    """After the summary of a session that Ctrl+C broke off, let the door say so too.

    Raises:
        KeyboardInterrupt: it was broken off, not stopped with the key for it.
    """
    stopped = any(isinstance(event, SessionClosed) and event.why is Closing.STOPPED for event in events)
    if stopped and not any(isinstance(event, Marked) and event.mark is Mark.STOP for event in events):
        raise KeyboardInterrupt


@dataclass(frozen=True, slots=True)
class Before:
    """What happened before a session starts.

    Attributes:
        to_learn: voices that are still to be learnt in the terminal.
        ledger: what everybody answered on the set-up page; None where they are asked in the terminal.
        welcome: the server whose set-up page leads on to this session.
    """

    to_learn: Voices | None = None
    ledger: Ledger | None = None
    welcome: Welcome | None = None


def _run_session(options: argparse.Namespace) -> int:
    from assistant.assembly import empty_voices, open_ears, open_plan, open_session, open_voice, open_voices
    from assistant.club import opening
    from assistant.devices.speakers import no_sound
    from assistant.listening.microphones import Microphones

    if options.realtime and not options.recording:
        raise SettingsError("--realtime does nothing without --from AUDIO: a microphone is never faster. Leave it out.")
    _refuse_in_vain(options)
    if options.plan is None:
        from assistant.commands.set_up_page import set_up_and_begin

        return set_up_and_begin(options)
    console = _console(options)
    settings = _settings(options)
    session = open_session(open_plan(options.plan), settings)
    channels = channels_of(options, settings.children)
    learning = not (options.voices or options.no_voices or options.recording or channels)
    with opening(console) as progress:
        render = no_sound if options.quiet else open_voice(options.rate, options.volume, progress)
        voices = open_voices(options.voices, settings, progress) if options.voices else empty_voices() if learning else None
        whose = Microphones(tuple(channels)) if channels else voices
        opened = open_ears(options.recogniser, session, whose, progress)
    return hear(options, opened, session, render, console, Before(to_learn=voices if learning else None))


def hear(
    options: argparse.Namespace, opened: Opened, session: Session, render: Render, console: Console, before: Before
) -> int:
    """The session itself, from a recording or in the room."""
    length_min = session.settings.length_s / 60
    lasting = "1 minute" if length_min == 1 else f"{length_min:g} minutes"
    console.print(f"{session.plan.title}, {lasting}. Words by {opened.recogniser}.", soft_wrap=True)
    hearing = _hear_recording if options.recording else _hear_room
    hearing(options, opened, session, render, console, before)
    return 0


def _hear_recording(
    options: argparse.Namespace, opened: Opened, session: Session, render: Render, console: Console, before: Before
) -> None:
    from assistant.assembly import open_texts
    from assistant.club import Club
    from assistant.commands.pages import pages_of
    from assistant.devices.files import open_recording, real_pace
    from assistant.devices.speakers import TimedSpeaker
    from assistant.run import Road

    recording = open_recording(options.recording, tuple(channels_of(options, session.settings.children).values()))
    frames = real_pace(recording) if options.realtime else recording
    road, length = Road(opened.ears, session, TimedSpeaker(render)), recording.length_samples
    shown = pages_of(options, session, options.recording.name, opened.recogniser, console, before.welcome)
    with _asked(options, session.settings, console, before.ledger) as agreed, shown as pages:
        wishes, keeping = _wishes(options, agreed), agreed.keeping
        club = Club(road, wishes, console, open_texts(), length=length, keeping=keeping, pages=pages)
        events = club.follow(frames)
    _tell_door(events)


def _hear_room(
    options: argparse.Namespace, opened: Opened, session: Session, render: Render, console: Console, before: Before
) -> None:
    from assistant.assembly import open_texts
    from assistant.club import Club
    from assistant.commands.pages import pages_of
    from assistant.devices.microphone import Microphone
    from assistant.devices.player import Player
    from assistant.devices.speakers import RoomSpeaker, TimedSpeaker
    from assistant.enrolment import learn_voices
    from assistant.run import Road

    picked = tuple(channels_of(options, session.settings.children).values())
    Microphone(options.mic, picked).close()  # tried before anybody is asked to get ready
    player = None if options.quiet else Player()
    speaker = RoomSpeaker(render, player) if player else TimedSpeaker(render)
    with _asked(options, session.settings, console, before.ledger) as agreed:
        if before.to_learn:
            learn_voices(before.to_learn, session.settings, lambda: Microphone(options.mic), console)
        shown = pages_of(options, session, "the microphone", opened.recogniser, console, before.welcome)
        with shown as pages, Microphone(options.mic, picked) as microphone:
            road, trouble = Road(opened.ears, session, speaker), lambda: player.trouble if player else ""
            wishes, keeping = _wishes(options, agreed), agreed.keeping
            club = Club(road, wishes, console, open_texts(), keeping=keeping, trouble=trouble, pages=pages)
            events = club.follow(microphone)
    _tell_door(events)


def keep_until(options: argparse.Namespace) -> str:
    """The day on which what is kept would delete itself.

    Raises:
        SettingsError: that is no number of days.
    """
    days = USUAL_DAYS if options.keep_days is None else options.keep_days
    if not 0 < days <= LONGEST_DAYS:
        raise SettingsError(f"--keep-days {days} is no time to keep anything. Choose 1 to {LONGEST_DAYS}.")
    return (date.today() + timedelta(days=days)).isoformat()


@dataclass(frozen=True, slots=True)
class Agreed:
    """What came of asking everybody.

    Attributes:
        level: the lowest of all answers; None where nobody was asked, and then naming a file is consent.
        keeping: what takes the events into the store, where everybody agreed to that.
    """

    level: Consent | None = None
    keeping: Keeping | None = None


@contextmanager
def _asked(
    options: argparse.Namespace, settings: Settings, console: Console, ledger: Ledger | None = None, synthetic: bool = False
) -> Iterator[Agreed]:
    """Ask everybody, where something is to be kept in the store, and open it where everybody agrees.

    Args:
        ledger: what everybody has answered already; without one they are asked now.
    """
    if options.keep == "nothing":
        yield Agreed(ledger.level if ledger and ledger.receipts else None)
        return
    from assistant import consenting
    from assistant.assembly import our_texts
    from assistant.commands import data
    from assistant.core.club.consent import Consent
    from assistant.devices.shelf import shared_text

    with ExitStack() as stack:
        store = data.opened_before_asking(Consent.from_text(options.keep), stack)
        if ledger is None:
            terms = consenting.Terms(Consent.from_text(options.keep), data.today(), keep_until(options))
            seats, texts = (*settings.seats, Seat.FACILITATOR), shared_text("consent/en.toml")
            ask = consenting.synthetic if synthetic else partial(consenting.ask_everybody, console=console)
            ledger = ask(seats, terms, texts)
        _tell_named_files(options, ledger.level, console)
        if not ledger.level:
            yield Agreed(ledger.level)
            return
        store = store or data.opened_to_keep(stack)
        yield Agreed(ledger.level, store.keep(ledger, data.today(), our_texts()))


def _tell_named_files(options: argparse.Namespace, level: Consent, console: Console) -> None:
    """Say it where the answers reach less far than the options did."""
    from assistant.core.club.consent import Consent

    for path in filter(None, (options.events, options.rttm)):
        if level < Consent.TIMELINE:
            console.print(f"{path} is not written, for the same reason.", soft_wrap=True)
    if options.keep_words and level is Consent.TIMELINE:
        console.print(f"{options.events} gets no words, because not everybody agreed to keep them.", soft_wrap=True)


def _loudspeakers(console: Console) -> tuple[Playing | None, Playing | None]:
    """One for the recording and one for the cues; or a sentence that there is none: a demonstration goes on without."""
    from assistant.devices.player import Player

    try:
        return Player(), Player()
    except DeviceError as error:
        console.print(f"You will see the cues and not hear them. {error}")
        return None, None
