"""How a session starts and is followed: what every way to start one shares, from the terminal and from the set-up page.

What lives here: asking everybody where something is to be kept, and the road in a room or from a recording. What must not: how
options are spelled, a rule or a measure.
"""

from __future__ import annotations

import argparse
from collections.abc import Iterator, Sequence
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING

from assistant.commands import kept_sessions
from assistant.core.club.consent import LEVELS
from assistant.core.club.settings import Settings
from assistant.core.wording import Amount
from assistant.errors import SettingsError
from assistant.events import Event, Marked, SessionClosed
from assistant.terms import CHILDREN, Closing, Mark, Seat

if TYPE_CHECKING:
    from rich.console import Console

    from assistant.assembly import Opened
    from assistant.club import Wishes
    from assistant.commands.pages import Welcome
    from assistant.core.club.consent import Consent, Ledger
    from assistant.core.club.session import Session
    from assistant.devices.speakers import Render
    from assistant.listening.voices import Voices
    from assistant.outputs.keeping.store import Keeping, Store


def channels_of(options: argparse.Namespace, children: int) -> dict[Seat, int]:
    """Which channel is whose microphone; nobody's without ``--channels``."""
    from assistant.listening.microphones import channels_from

    channels = channels_from(options.channels, CHILDREN[:children])
    if channels and options.voices:
        raise SettingsError("--channels and --voices are two ways to tell who speaks. Choose one of them.")
    return channels


def refuse_in_vain(options: argparse.Namespace) -> None:
    """Say it before anything begins: an option would do nothing, or a file could not be written at the end."""
    from assistant.outputs.places import must_be_writable

    if options.keep_words and not options.events:
        raise SettingsError("--keep-words does nothing without --events F.jsonl. Name that file, or leave it out.")
    on_the_page = getattr(options, "plan", True) is None  # there it is chosen whether anything is kept
    if options.keep_days is not None and options.keep == LEVELS[0] and not on_the_page:
        raise SettingsError("--keep-days does nothing without --keep. Say what to keep, or leave it out.")
    must_be_writable(*filter(None, (options.events, options.rttm, getattr(options, "mix", None))))


def console_of(options: argparse.Namespace) -> Console:
    """Where lines go: with JSON, standard output belongs to the numbers alone. Titles and names are no markup."""
    from rich.console import Console

    return Console(stderr=options.json, highlight=False, markup=False, emoji=False)


@dataclass(frozen=True, slots=True)
class Before:
    """What happened before a session starts.

    Attributes:
        to_learn: voices that are still to be learnt in the terminal.
        ledger: what everybody answered on the set-up page; None where they are asked in the terminal.
        store: where everybody agreed to something there; it was opened on Begin, with its passphrase if it is locked.
        welcome: the server whose set-up page leads on to this session.
    """

    to_learn: Voices | None = None
    ledger: Ledger | None = None
    store: Store | None = None
    welcome: Welcome | None = None


def hear(
    options: argparse.Namespace, opened: Opened, session: Session, render: Render, console: Console, before: Before
) -> int:
    """The session itself, from a recording or in the room."""
    length = Amount(session.settings.length_s / 60)
    console.print(f"{session.plan.title}, {length} {length:minute|minutes}. Words by {opened.recogniser}.", soft_wrap=True)
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
    with asked(options, session.settings, console, before) as agreed, shown as pages:
        wishes, keeping = wishes_of(options, agreed), agreed.keeping
        club = Club(road, wishes, console, open_texts(), length=length, keeping=keeping, pages=pages)
        events = club.follow(frames)
    tell_door(events)


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
    with asked(options, session.settings, console, before) as agreed:
        if before.to_learn:
            learn_voices(before.to_learn, session.settings, lambda: Microphone(options.mic), console)
        shown = pages_of(options, session, "the microphone", opened.recogniser, console, before.welcome)
        with shown as pages, Microphone(options.mic, picked) as microphone:
            road, trouble = Road(opened.ears, session, speaker), lambda: player.trouble if player else ""
            wishes, keeping = wishes_of(options, agreed), agreed.keeping
            club = Club(road, wishes, console, open_texts(), keeping=keeping, trouble=trouble, pages=pages)
            events = club.follow(microphone)
    tell_door(events)


def tell_door(events: Sequence[Event]) -> None:
    """After the summary of a session that Ctrl+C broke off, let the door say so too.

    Raises:
        KeyboardInterrupt: it was broken off, not stopped with the key for it.
    """
    stopped = any(isinstance(event, SessionClosed) and event.why is Closing.STOPPED for event in events)
    if stopped and not any(isinstance(event, Marked) and event.mark is Mark.STOP for event in events):
        raise KeyboardInterrupt


def wishes_of(options: argparse.Namespace, agreed: Agreed) -> Wishes:
    from assistant.club import Wishes

    wishes = Wishes(
        as_json=options.json,
        show_words=not options.no_words,
        rttm=options.rttm,
        events=options.events,
        keep_words=options.keep_words,
    )
    return wishes if agreed.level is None else wishes.within(agreed.level)


def keep_until(options: argparse.Namespace) -> str:
    """The day on which what is kept would delete itself.

    Raises:
        SettingsError: that is no number of days.
    """
    return kept_sessions.until_when(kept_sessions.USUAL_DAYS if options.keep_days is None else options.keep_days)


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
def asked(
    options: argparse.Namespace, settings: Settings, console: Console, before: Before = Before(), synthetic: bool = False
) -> Iterator[Agreed]:
    """Ask everybody, if they were not asked before, where something is to be kept, and open the store where all agree."""
    ledger, store = before.ledger, before.store
    if options.keep == LEVELS[0]:
        yield Agreed(ledger.level if ledger and ledger.receipts else None)
        return
    from assistant import consenting
    from assistant.assembly import our_texts
    from assistant.core.club.consent import Consent
    from assistant.devices.shelf import shared_text

    with ExitStack() as stack:
        if ledger is None:
            store = kept_sessions.opened_before_asking(Consent.from_text(options.keep), stack)
            terms = consenting.Terms(Consent.from_text(options.keep), kept_sessions.today(), keep_until(options))
            seats, texts = (*settings.seats, Seat.FACILITATOR), shared_text("consent/en.toml")
            ask = consenting.synthetic if synthetic else partial(consenting.ask_everybody, console=console)
            ledger = ask(seats, terms, texts)
        _tell_named_files(options, ledger.level, console)
        if not ledger.level:
            yield Agreed(ledger.level)
            return
        store = store or kept_sessions.opened_to_keep(stack)
        keeping = store.keep(ledger, kept_sessions.today(), our_texts())
        yield Agreed(ledger.level, keeping)
        if keeping.ledger.level and not keeping.trouble:  # nobody took it back
            read = f"Read about it: tray-turns review {keeping.number} --to review.html."
            delete = f"Throw it away: tray-turns data delete {keeping.number}."
            console.print(f"\nKept as session {keeping.number}. {read} {delete}", soft_wrap=True)


def _tell_named_files(options: argparse.Namespace, level: Consent, console: Console) -> None:
    """Say it where the answers reach less far than the options did."""
    from assistant.core.club.consent import Consent

    for path in filter(None, (options.events, options.rttm)):
        if level < Consent.TIMELINE:
            console.print(f"{path} is not written, for the same reason.", soft_wrap=True)
    if options.keep_words and level is Consent.TIMELINE:
        console.print(f"{options.events} gets no words, because not everybody agreed to keep them.", soft_wrap=True)
