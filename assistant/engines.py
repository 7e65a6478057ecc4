"""Which recogniser hears: the family's Vosk model where there is one, else the one that comes embedded.

What lives here: that choice. What must not: a recogniser's own workings.
"""

from collections.abc import Callable
from pathlib import Path

from assistant.devices.models import find_vosk_model, models_folder
from assistant.errors import ModelError
from assistant.listening.recognise import Recogniser

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
