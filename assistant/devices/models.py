"""The speech models on this machine: where they lie, and whether they are whole.

What lives here: looking. What must not: fetching (that is in :mod:`assistant.devices.fetch`), or running a model.
"""

import os
import re
from pathlib import Path

import platformdirs

ENVIRONMENT = "TRAY_TURNS_MODELS"
_CHECKOUT = Path(__file__).resolve().parent.parent.parent
_PLACES = ("final.mdl", "am/final.mdl", "*/final.mdl", "*/am/final.mdl", "*/*/am/final.mdl")
_LANGUAGE = re.compile(r"^vosk-model-(?:small-|big-)?(?P<language>[a-z]{2,3})(?:-|$)")


def models_folder() -> Path:
    """Where the family's models lie: where ``TRAY_TURNS_MODELS`` says, else in the checkout, else with the user's data."""
    if chosen := os.environ.get(ENVIRONMENT):
        return Path(chosen)
    if (_CHECKOUT / "pyproject.toml").is_file():
        return _CHECKOUT / "models"
    return platformdirs.user_data_path("tray-turns", appauthor=False) / "models"


def vosk_models(folder: Path) -> tuple[Path, ...]:
    """Every Vosk model in this folder, or one folder deeper, by name."""
    found = {
        path.parent.parent if path.parent.name == "am" else path.parent
        for place in _PLACES
        for path in folder.glob(place)
        if not _is_hidden(path.relative_to(folder))
    }
    return tuple(sorted(found))


def find_vosk_model(folder: Path, language: str) -> Path | None:
    """The first model, by name, that speaks this language; one whose name tells no language is taken at its owner's word."""
    spoken = language.lower().partition("-")[0]
    return next((path for path in vosk_models(folder) if _language(path) in (spoken, None)), None)


def _is_hidden(path: Path) -> bool:
    """Half unpacked, or put aside."""
    return any(part.startswith(".") for part in path.parts)


def _language(model: Path) -> str | None:
    """``"en"`` for ``vosk-model-small-en-us-0.15``; None where the name does not follow that pattern."""
    match = _LANGUAGE.match(model.name)
    return match["language"] if match else None
