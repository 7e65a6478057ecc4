"""``session --pages`` without a plan: everything is chosen on the set-up page, and the session follows.

What lives here: which pieces the set-up page is given, and how what was chosen there becomes what options would have said. What
must not: what may follow what, or how the session itself is put together.
"""

from __future__ import annotations

import argparse
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, replace
from pathlib import Path
from time import sleep

from assistant.assembly import (
    LANGUAGE,
    drawn_for_all,
    ears_of,
    empty_voices,
    open_session,
    open_voice,
    open_words,
    voice_files,
)
from assistant.club import opening
from assistant.commands import kept_sessions, reading
from assistant.commands.choosing import Choice, Model, to_choose_from
from assistant.commands.pages import Welcome
from assistant.commands.safe import Safe
from assistant.commands.starting import Before, console_of, hear, keep_until
from assistant.core.club.asking import read_questions
from assistant.core.club.consent import Consent
from assistant.core.club.setting_up import Offer, SettingUp, SetUpOrder, TellApart, Wanted, own_rules
from assistant.core.club.settings import SwapRule, names_from
from assistant.devices import browser
from assistant.devices.files import open_recording, real_pace
from assistant.devices.microphone import Microphone
from assistant.devices.player import Player
from assistant.devices.portaudio import Kind, devices
from assistant.devices.shelf import shared_text
from assistant.devices.speakers import no_sound
from assistant.enrolment import SECONDS, setup_words
from assistant.errors import SettingsError, VoicesError
from assistant.listening.listener import Whose
from assistant.listening.microphones import Microphones, channels_from
from assistant.listening.voices import Voices
from assistant.pages.board import Notices
from assistant.pages.server import Server
from assistant.pages.setup_page import SetUpBoard, set_up_site
from assistant.pages.setup_telling import Card, SetUpPage, SetUpTeller, SetUpTexts
from assistant.pages.site import Site
from assistant.samples import Frame
from assistant.setting_up import SetUp, Sound
from assistant.terms import Seat

TRIED = "We swap now."


def set_up_and_begin(options: argparse.Namespace) -> int:
    """Serve the set-up page until Begin is pressed, then the session at the same address.

    Raises:
        SettingsError: there is neither a plan nor a page to choose one on.
        KeyboardInterrupt: it was given up in the terminal.
    """
    if not (options.pages or options.share):
        raise SettingsError("Which model? Name a plan (tray-turns plan list), or add --pages and choose in the browser.")
    with ExitStack() as stack:
        return _set_up_and_begin(options, Safe(stack))


def _set_up_and_begin(options: argparse.Namespace, safe: Safe) -> int:
    console = console_of(options)
    with opening(console) as progress:
        voices = empty_voices()
        progress("the models")
        choice = to_choose_from(options.plans)
        state = begin_with(options, offer_of(options, choice, safe.is_locked), safe.takes_variable())
        board: SetUpBoard = Notices(state)
        server = Server(site_of(board, choice.models))
        words = open_words(options.recogniser, progress)
    with server:
        address = server.address(SetUpPage.SET_UP)
        console.print(f"Set up the session here: {address} (Ctrl+C gives up)", soft_wrap=True)
        browser.show(address)
        chosen = SetUp(state, board, _sound(options), voices, _saying(options), _trying_out(options, safe), safe).follow()
        session = open_session(chosen.offer.plans[chosen.wanted.plan], chosen.wanted.settings)
        options = as_options(options, chosen.wanted)
        opened = ears_of(words, session, _whose(chosen.wanted, voices))
        render = no_sound if options.quiet else open_voice(options.rate, options.volume, lambda what: None)
        welcome = Welcome(server, lambda path: board.post(replace(chosen, leads_to=path)))
        before = Before(ledger=chosen.asking.ledger if chosen.asking else None, store=safe.store, welcome=welcome)
        return hear(options, opened, session, render, console, before)


def as_options(options: argparse.Namespace, wanted: Wanted) -> argparse.Namespace:
    """What was chosen on the page, as the options that would have said the same; settings travel on their own."""
    chosen = {
        "mic": wanted.microphone or None,
        "channels": wanted.channels if wanted.tell_apart is TellApart.MICROPHONES else "",
        "voices": None,
        "volume": wanted.volume,
        "keep": wanted.keep.name.lower(),
        "younger": wanted.younger,
        "rule": list(wanted.own_rules),
    }
    return argparse.Namespace(**vars(options) | chosen)


def _whose(wanted: Wanted, voices: Voices) -> Whose | None:
    """What tells the seats apart."""
    if wanted.tell_apart is TellApart.KEYS:
        return None
    channels = channels_from(wanted.channels, wanted.seats) if wanted.tell_apart is TellApart.MICROPHONES else {}
    return Microphones(tuple(channels)) if channels else voices


def begin_with(options: argparse.Namespace, offer: Offer, has_passphrase: bool = False) -> SettingUp:
    """The set-up as it opens; what stands in the options is chosen already, and a passphrase may be known."""
    wanted = Wanted(
        children=options.children,
        names=names_from(options.names),
        swap=SwapRule.from_text(options.swap),
        length_min=round(options.length),
        set_up_min=round(options.set_up),
        clear_away_min=round(options.clear_away),
        volume=options.volume,
        keep=Consent.from_text(options.keep),
        microphone=options.mic or "",
        tell_apart=TellApart.MICROPHONES if options.channels else offer.tell_apart[0],
        channels=options.channels,
        younger=options.younger,
        own_rules=own_rules("\n".join(options.rule)),
    )
    return SettingUp(offer, wanted, has_passphrase=has_passphrase)


def offer_of(options: argparse.Namespace, choice: Choice, is_locked: bool = False) -> Offer:
    """What there is to choose from on this machine.

    Args:
        is_locked: nothing can be kept without the passphrase of the store.

    Raises:
        DeviceError: there is neither a sound system nor a recording.
    """
    can_learn = not options.recording or bool(options.voices)
    mono = options.recording and not options.channels and open_recording(options.recording).channels == 1
    by_microphone = () if mono else (TellApart.MICROPHONES,)
    by_voice = () if options.no_voices or not can_learn else (TellApart.VOICES,)
    return Offer(
        plans={name: model.plan for name, model in choice.models.items()},
        broken=choice.broken,
        tell_apart=(*by_voice, *by_microphone, TellApart.KEYS),
        microphones=_microphones(options),
        day=kept_sessions.today(),
        until=keep_until(options),
        wording=read_questions(shared_text(f"consent/{LANGUAGE}.toml")).version,
        can_say=not (options.quiet or options.recording),
        is_locked=is_locked,
        in_terminal=options.share,
    )


def _microphones(options: argparse.Namespace) -> tuple[tuple[str, str], ...]:
    """What a microphone can be chosen by, and its name; an empty name is the system's own choice."""
    if options.recording:
        return (("", options.recording.name),)
    named = ((options.mic, options.mic),) if options.mic else ()
    return (("", ""), *named, *((str(device.number), device.name) for device in devices(Kind.MICROPHONE)))


def site_of(board: SetUpBoard, models: Mapping[str, Model]) -> Site[SetUpPage, SettingUp, SetUpOrder]:
    """The set-up page as it is served, with these models to choose from."""
    sheets = reading.texts()
    texts = SetUpTexts(
        setup_words(),
        (sheets.rules, sheets.younger),
        sheets.words["choking"],
        reading.grades()["grade"],
        read_questions(shared_text(f"consent/{LANGUAGE}.toml")),
        SECONDS,
    )
    cards = {name: _card(name, model, texts.words["ask"]["plan"]["own"]) for name, model in models.items()}
    pictures = {cards[name].picture: model.picture for name, model in models.items()}
    return set_up_site(board, SetUpTeller(texts, cards), pictures, drawn_for_all())


def _card(name: str, model: Model, own: str) -> Card:
    """``own``: what says where a family's own plan lies."""
    lies = own.format(file=model.file) if model.file else ""
    return Card(model.grade, f"model/{name}.{model.ending}", tuple(filter(None, (lies, model.lacks))))


# --- what is heard --------------------------------------------------------------------------------------------------------


class InTheRoom:
    """The microphone that was chosen, whoever speaks."""

    @contextmanager
    def open(self, wanted: Wanted, seat: Seat | None) -> Iterator[Iterable[Frame]]:
        """Its frames."""
        with Microphone(wanted.microphone or None) as microphone:
            yield microphone


@dataclass(frozen=True, slots=True)
class Recorded:
    """A recording that stands for the room, and one a seat for who is asked to speak."""

    recording: Path
    voices: Path | None
    realtime: bool

    @contextmanager
    def open(self, wanted: Wanted, seat: Seat | None) -> Iterator[Iterable[Frame]]:
        """Their frames; the room's at real pace, so that there is something to see."""
        if seat is None:
            yield real_pace(open_recording(self.recording))
            return
        files = dict(voice_files(self.voices, wanted.settings)) if self.voices else {}
        if seat not in files:
            raise VoicesError(f"There is no recording of seat {seat.value}. Press Not now.")
        frames = open_recording(files[seat])
        yield real_pace(frames) if self.realtime else frames


def _sound(options: argparse.Namespace) -> Sound:
    return Recorded(options.recording, options.voices, options.realtime) if options.recording else InTheRoom()


def _trying_out(options: argparse.Namespace, safe: Safe) -> Callable[[SettingUp], None]:
    """Opens once what the session will open, so that what is missing is said on the page and not after it has gone."""

    def try_out(state: SettingUp) -> None:
        chosen = as_options(options, state.wanted)
        picked = tuple(channels_from(chosen.channels, state.wanted.seats).values())
        if options.recording:
            open_recording(options.recording, picked)
        else:
            Microphone(chosen.mic, picked).close()
        if not (options.recording or options.quiet):
            Player()
        safe.open(state)  # the last: once it is open, the session begins

    return try_out


def _saying(options: argparse.Namespace) -> Callable[[float], None]:
    """Says a cue in the room, as loud as it would be."""

    def say(volume: float) -> None:
        player = Player()
        player.play(open_voice(options.rate, volume, lambda what: None)(TRIED))
        while player.is_playing:
            sleep(0.05)

    return say
