"""Which recogniser hears: the family's Vosk model where there is one, else the one that comes embedded.

What lives here: that choice, and trying out every model on this machine. What must not: a recogniser's own workings.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from assistant.core.plans.plan import Plan
from assistant.core.words.lexicon import Lexicon
from assistant.devices.models import find_vosk_model, models_folder, vosk_models
from assistant.errors import ModelError, TrayTurnsError
from assistant.listening.recognise import Recogniser

if TYPE_CHECKING:
    from assistant.listening.networks import Network

EMBEDDED_LANGUAGE = "en"


def open_recogniser(choice: str = "auto", language: str = "en", folder: Path | None = None) -> Recogniser:
    """The recogniser of this choice, ready.

    Args:
        choice: ``"vosk"``, ``"moonshine"``, or ``"auto"`` for Vosk wherever a model lies there.
        language: what is spoken, ``"en"``.
        folder: where the models lie; ``models_folder()`` for None.

    Raises:
        ModelError: it is not there, or broken, with what to do. A broken Vosk model is never quietly passed over.
    """
    where = folder or models_folder()
    model = find_vosk_model(where, language)
    makers: dict[str, Callable[[], Recogniser]] = {
        "auto": lambda: _vosk(model, where, language) if model else _moonshine(where, language),
        "vosk": lambda: _vosk(model, where, language),
        "moonshine": lambda: _moonshine(where, language),
    }
    return makers[choice]()


def with_second_look(recogniser: Recogniser, plan: Plan, lexicon: Lexicon) -> Recogniser:
    """The recogniser with a second look at its words, where it is the embedded one: with Vosk that was not measured.

    Args:
        plan: whose pieces may be meant.
        lexicon: with the plan's own words.
    """
    from assistant.listening.moonshine import Moonshine
    from assistant.listening.second_look import SecondLook

    return SecondLook(recogniser, plan, lexicon) if isinstance(recogniser, Moonshine) else recogniser


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing that a session needs or can use, and a sentence about it."""

    what: str
    works: bool
    sentence: str


def check_models(folder: Path | None = None) -> Iterator[Finding]:
    """Open every model on this machine, one after the other, and say how that went."""
    where = folder or models_folder()
    for what, opened in _everything(where):
        try:
            yield Finding(what, True, opened())
        except TrayTurnsError as error:
            yield Finding(what, False, str(error))
    if not vosk_models(where):
        yield Finding("Vosk", True, f"No Vosk model lies in {where}; the embedded recogniser hears instead.")


def _everything(folder: Path) -> Iterator[tuple[str, Callable[[], str]]]:
    """What to open, by name; each gives a sentence when it opens."""
    from assistant.listening.networks import SEGMENTATION, WESPEAKER

    yield "speech detector", _open_detector
    for network in (WESPEAKER, SEGMENTATION):
        yield network.name, partial(_open_network, network)
    yield "embedded recogniser", lambda: f"{_moonshine(folder, EMBEDDED_LANGUAGE).name} opens."
    for path in vosk_models(folder):
        yield path.name, partial(_open_vosk, path)
    yield "voice of the cues", _open_voice


def _open_detector() -> str:
    from assistant.listening.networks import open_detector

    open_detector()
    return "The speech detector opens, and is the one that this program was measured with."


def _open_network(network: Network) -> str:
    from assistant.listening.networks import open_network

    open_network(network)
    return f"The {network.name} opens, and is the one that this program was measured with."


def _open_vosk(path: Path) -> str:
    from assistant.listening.vosk_recogniser import Vosk

    return f"{Vosk(path).name} opens, and is used for its language before the embedded recogniser."


def _open_voice() -> str:
    from assistant.devices.voice import CALM_WPM, Voice

    Voice()
    return f"The voice speaks, at {CALM_WPM} words a minute unless you say otherwise."


def _vosk(model: Path | None, folder: Path, language: str) -> Recogniser:
    if model is None:
        raise ModelError(
            f"There is no Vosk model for {language!r} in {folder}. Run `tray-turns models fetch`, or unpack one there by hand."
        )
    from assistant.listening.vosk_recogniser import Vosk

    return Vosk(model)


def _moonshine(folder: Path, language: str) -> Recogniser:
    if language.partition("-")[0] != EMBEDDED_LANGUAGE:
        raise ModelError(f"The embedded recogniser knows English only. Put a Vosk model for {language!r} into {folder}.")
    from assistant.listening.moonshine import Moonshine

    return Moonshine()
