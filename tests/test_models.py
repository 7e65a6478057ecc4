"""Models are found where they lie, and what is on the machine can be said."""

import sys
from pathlib import Path

import pytest

from assistant.devices import models
from assistant.devices.models import find_vosk_model, models_folder, vosk_models
from assistant.engines import check_models


def put(folder: Path, *places: str) -> Path:
    for place in places:
        (folder / place).parent.mkdir(parents=True, exist_ok=True)
        (folder / place).touch()
    return folder


@pytest.mark.parametrize(
    ("place", "model"),
    [
        ("vosk-model-small-en-us-0.15/am/final.mdl", "vosk-model-small-en-us-0.15"),
        ("vosk-model-en-us-0.22/am/final.mdl", "vosk-model-en-us-0.22"),
        ("vosk-model-small-en-us-0.15/vosk-model-small-en-us-0.15/am/final.mdl", "vosk-model-small-en-us-0.15"),
        ("vosk-model-en-us-daanzu/final.mdl", "vosk-model-en-us-daanzu"),
        ("am/final.mdl", None),
        ("ours/am/final.mdl", "ours"),
    ],
)
def test_a_model_is_found_as_it_was_unpacked(tmp_path: Path, place: str, model: str | None) -> None:
    found = find_vosk_model(put(tmp_path, place), "en")
    assert found is not None
    assert found.name == (model or tmp_path.name)


@pytest.mark.parametrize(
    "place", ["vosk-model-small-ko-0.22/am/final.mdl", "README.md", "x/ivector/final.ie", "x/am/final.txt"]
)
def test_what_is_no_model_for_the_language_is_not_found(tmp_path: Path, place: str) -> None:
    assert find_vosk_model(put(tmp_path, place), "en") is None


def test_no_folder_is_no_model(tmp_path: Path) -> None:
    assert find_vosk_model(tmp_path / "nowhere", "en") is None


def test_each_language_finds_its_own(tmp_path: Path) -> None:
    put(tmp_path, *(f"vosk-model-{name}/am/final.mdl" for name in ("small-ko-0.22", "en-us-0.22", "small-de-0.15")))
    found = {language: find_vosk_model(tmp_path, language) for language in ("en", "en-GB", "de", "ko", "fr")}
    assert {language: path and path.name for language, path in found.items()} == {
        "en": "vosk-model-en-us-0.22",
        "en-GB": "vosk-model-en-us-0.22",
        "de": "vosk-model-small-de-0.15",
        "ko": "vosk-model-small-ko-0.22",
        "fr": None,
    }
    assert len(vosk_models(tmp_path)) == 3


def test_the_folder_is_the_environments_then_the_checkouts_then_the_users(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delenv("TRAY_TURNS_MODELS", raising=False)
    assert models_folder() == Path(__file__).parent.parent / "models"
    monkeypatch.setattr(models, "_CHECKOUT", tmp_path)  # as when installed: no pyproject.toml there
    assert models_folder().parts[-2:] == ("tray-turns", "models")
    monkeypatch.setenv("TRAY_TURNS_MODELS", str(tmp_path / "here"))
    assert models_folder() == tmp_path / "here"


def test_check_opens_everything_and_says_how_it_went(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    put(tmp_path, "vosk-model-small-en-us-0.15/am/final.mdl")  # an empty file: not a model
    monkeypatch.setitem(sys.modules, "moonshine_voice.transcriber", None)
    found = {finding.what: (finding.works, finding.sentence) for finding in check_models(tmp_path)}
    assert {what: works for what, (works, _) in found.items()} == {
        "speech detector": True,
        "voice network": True,
        "overlap network": True,
        "embedded recogniser": False,
        "vosk-model-small-en-us-0.15": False,
        "voice of the cues": True,
    }
    assert "Use Vosk instead" in found["embedded recogniser"][1]
    assert "is damaged" in found["vosk-model-small-en-us-0.15"][1]


def test_without_a_vosk_model_check_says_where_one_would_go(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("assistant.engines._everything", lambda folder: [])
    [finding] = check_models(tmp_path)
    assert (finding.what, finding.works) == ("Vosk", True)
    assert str(tmp_path) in finding.sentence
