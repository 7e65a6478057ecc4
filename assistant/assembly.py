"""Putting the pieces on the table: from what a person chose to a road that can be travelled.

What lives here: opening models, voices, plans and loudspeakers in the right order, each named on the way. What must not: a
rule of the club, or how a command is spelled.
"""

import tomllib
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from assistant.club import Texts
from assistant.core.club.script import read_script
from assistant.core.club.session import Session
from assistant.core.club.settings import Settings
from assistant.core.measures.definitions import read_measures
from assistant.core.measures.hints import read_hints
from assistant.core.plans.plan import Plan, read_plan
from assistant.core.words.lexicon import Lexicon, read_lexicon
from assistant.devices.files import read_samples
from assistant.devices.shelf import folder, plan_names, plan_text, shared_text
from assistant.devices.speakers import Render
from assistant.devices.voice import FASTEST_WPM, SLOWEST_WPM, Voice
from assistant.engines import open_recogniser, with_second_look
from assistant.errors import SettingsError, VoicesError
from assistant.listening.handover import OverlapNetwork
from assistant.listening.listener import Listener, Whose
from assistant.listening.recognise import Recogniser
from assistant.listening.speech import Detector, Silero
from assistant.listening.voices import VoiceNetwork, Voices
from assistant.terms import CHILDREN, Seat

if TYPE_CHECKING:
    from assistant.outputs.pictures.drawing import Drawing
    from assistant.pages.app import Drawn, Keys, Pages
    from assistant.pages.board import Board
    from assistant.pages.telling import PageTexts

LANGUAGE = "en"
VOICE_ENDINGS = (".flac", ".wav", ".ogg")

Progress = Callable[[str], None]
"""Told what is being opened, in words."""


def open_plan(name: str) -> Plan:
    """A plan by the name of one of ours, or by the path of the family's own file."""
    return read_plan(*plan_text(name))


def open_session(plan: Plan, settings: Settings) -> Session:
    """A session of this plan, not yet opened.

    Raises:
        SettingsError: the settings do not go together, or not with the plan.
    """
    settings.check(plan)
    script = read_script(shared_text(f"cues/{LANGUAGE}.toml"), shared_text(f"roles/{LANGUAGE}.toml"))
    return Session(plan, settings, script, open_lexicon(plan))


def open_lexicon(plan: Plan) -> Lexicon:
    """The words of the language, and those of this plan."""
    return read_lexicon(shared_text(f"lexicon/{LANGUAGE}.toml"), f"shared/lexicon/{LANGUAGE}.toml").with_plan(plan)


def our_plan(title: str, steps: int) -> Plan | None:
    """The plan of ours that has this title and so many steps; None where it is a family's own, or was not kept."""
    ours = map(open_plan, plan_names())
    return next((plan for plan in ours if plan.title == title and len(plan.steps) == steps), None)


def open_texts() -> Texts:
    """The words of the summary and of the hints.

    Raises:
        SharedError: some of them are missing.
    """
    return Texts(read_measures(shared_text("measures.toml")), read_hints(shared_text(f"hints/{LANGUAGE}.toml")), our_texts())


def our_texts() -> frozenset[str]:
    """Free text that is our own, and may be kept where a family's own may not, because that can hold a name.

    The titles of the plans that come with Tray Turns, and the tallies of the helper page.
    """
    titles = {str(tomllib.loads(plan_text(name)[0])["title"]) for name in plan_names()}
    return frozenset(titles | our_tallies().keys())


def our_tallies() -> dict[str, str]:
    """What the adult can tally on the helper page, each with its words."""
    return dict(tomllib.loads(shared_text(f"pages/{LANGUAGE}.toml"))["tally"])


@dataclass(frozen=True, slots=True)
class Opened:
    """Ears, and the line that says which recogniser they use."""

    ears: Listener
    recogniser: str


def open_ears(recogniser: str, session: Session, voices: Whose | None, progress: Progress) -> Opened:
    """Ears for this session, with the recogniser of this choice: ``auto``, ``vosk`` or ``moonshine``.

    Raises:
        ModelError: a model is missing, with what to do.
    """
    return ears_of(open_words(recogniser, progress), session, voices)


def open_words(recogniser: str, progress: Progress) -> Recogniser:
    """The recogniser of this choice.

    Raises:
        ModelError: a model is missing, with what to do.
    """
    progress("the recogniser")
    return open_recogniser(recogniser, LANGUAGE)


def ears_of(recogniser: Recogniser, session: Session, voices: Whose | None) -> Opened:
    """Ears for this session, with this recogniser."""
    words = with_second_look(recogniser, session.plan, session.lexicon)
    return Opened(Listener(Detector(Silero()), voices, words), words.name)


def open_voices(where: Path, settings: Settings, progress: Progress) -> Voices:
    """The voices of one file a seat: ``A.flac``, ``B.flac``, ... and ``F.flac`` where the facilitator has one.

    Raises:
        VoicesError: a child's file is missing, or a voice cannot be used.
        SourceError: a file cannot be read.
    """
    progress("the voices")
    voices = empty_voices()
    for seat, path in voice_files(where, settings):
        voices.enrol(seat, read_samples(path))
    return voices


def empty_voices() -> Voices:
    """Voices in which nobody is enrolled yet."""
    return Voices(VoiceNetwork(), Detector(Silero()), OverlapNetwork())


def voice_files(where: Path, settings: Settings) -> Iterator[tuple[Seat, Path]]:
    """The file of each seat's voice; the facilitator may have none.

    Raises:
        VoicesError: a child has none.
    """
    for seat in (*settings.seats, Seat.FACILITATOR):
        found = [path for ending in VOICE_ENDINGS if (path := where / f"{seat.value}{ending}").is_file()]
        if found:
            yield seat, found[0]
        elif seat in CHILDREN:
            raise VoicesError(f"{where} has no voice for seat {seat.value}. Put {seat.value}.flac or {seat.value}.wav there.")


def open_voice(rate_wpm: int, volume: float, progress: Progress) -> Render:
    """The voice that says the cues.

    Raises:
        DeviceError: there is no voice on this machine.
        SettingsError: it cannot speak like that.
    """
    progress("the voice")
    try:
        return Voice(LANGUAGE, rate_wpm, volume).render
    except ValueError as error:
        raise SettingsError(
            f"The voice speaks {SLOWEST_WPM} to {FASTEST_WPM} words a minute at a volume of 0 to 1. Change --rate or --volume."
        ) from error


@dataclass(frozen=True, slots=True)
class Sources:
    """Where the sound and the words come from, in words for the helper page."""

    sound: str
    words: str


def open_site(
    session: Session,
    board: "Board",
    sources: Sources,
    *,
    show_words: bool = True,
    rules: tuple[str, ...] = (),
    keys: "Keys | None" = None,
) -> "Pages":
    """The pages of this session, with every picture drawn.

    Args:
        rules: on display; ours without any.
        keys: which key opens which page; fresh ones for all unless they are given.

    Raises:
        SharedError: words or colours are missing.
    """
    from assistant.pages.app import Pages, fresh_keys
    from assistant.pages.telling import Teller

    texts = open_page_texts()
    texts = replace(texts, rules=rules or texts.rules)
    teller = Teller(session.plan, session.settings, session.script, texts, sources.sound, sources.words, show_words)
    return Pages(board, teller, draw(session.plan), keys or fresh_keys())


def rules_on_display(younger: bool, own: Sequence[str]) -> tuple[str, ...]:
    """The club's rules, and after them those that the family added."""
    rules = tomllib.loads(shared_text(f"rules/{LANGUAGE}.toml"))
    return (*rules["younger" if younger else "rules"], *own)


def open_page_texts() -> "PageTexts":
    """The words on the pages.

    Raises:
        SharedError: some of them are missing.
    """
    from assistant.pages.telling import read_page_texts

    return read_page_texts(*(shared_text(f"{name}/{LANGUAGE}.toml") for name in ("pages", "rules", "roles", "setup")))


def draw(plan: Plan) -> "Drawn":
    """Every picture that the pages show."""
    from assistant.outputs.pictures.shapes import to_svg

    drawing = drawing_of(plan)
    return replace(drawn_for_all(), steps=tuple(to_svg(drawing.step(step.number)) for step in plan.steps))


def drawing_of(plan: Plan) -> "Drawing":
    """What draws this plan."""
    from assistant.core.plans.look import read_look
    from assistant.outputs.pictures.drawing import Drawing

    return Drawing(plan, read_look(shared_text("look.toml")), tomllib.loads(shared_text(f"sheets/{LANGUAGE}.toml"))["care"])


def drawn_for_all() -> "Drawn":
    """What every page needs, whatever the plan."""
    import fontpkg_atkinson_hyperlegible as hyperlegible  # letters made to be told apart (OFL-1.1)

    from assistant.core.plans.look import read_look
    from assistant.outputs.pictures.icons import ICONS, icon
    from assistant.outputs.pictures.shapes import Picture, to_svg
    from assistant.pages.app import Drawn

    look = read_look(shared_text("look.toml"))
    icons = {name: to_svg(Picture(100, 100, name, icon(name, look, look.roles.get(name, "")))) for name in ICONS}
    fonts = {f"{style}.ttf": (hyperlegible.ROOT / "files" / f"AtkinsonHyperlegible-{style}.ttf").read_bytes()
             for style in ("Regular", "Bold")}  # fmt: skip
    return Drawn(look, (), icons, fonts)


def demo_folder() -> Path:
    """Where the demonstration's sound lies."""
    return folder("demo_audio")
