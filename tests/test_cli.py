"""Bad input: one sentence that says what to do, a non-zero exit, never a traceback."""

import json
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
import soundfile

from assistant.cli import door, main
from assistant.core.club.settings import names_from
from assistant.devices.files import read_samples
from assistant.devices.shelf import folder
from assistant.errors import SettingsError
from assistant.samples import to_samples
from assistant.terms import Seat

VOICE = folder("demo_audio") / "voices" / "A.flac"


def refused(capsys: pytest.CaptureFixture[str], *arguments: str) -> str:
    """The one sentence that a command ends with."""
    assert main(arguments) == 2
    told = capsys.readouterr().err.strip()
    assert told.startswith("tray-turns: ")
    assert "Traceback" not in told
    return told


def test_neither_a_plan_nor_a_page_to_choose_one_on(capsys: pytest.CaptureFixture[str]) -> None:
    assert "add --pages and choose in the browser" in refused(capsys, "session")


def test_no_such_plan(capsys: pytest.CaptureFixture[str]) -> None:
    told = refused(capsys, "analyse", str(VOICE), "--plan", "castle")
    assert "There is no plan 'castle'. See ours: tray-turns plan list" in told
    assert main(["plan", "show", "little-bote"]) == 2
    assert "There is no plan 'little-bote'. Did you mean little-boat?" in capsys.readouterr().err
    assert main(["plan", "show", "ours.toml"]) == 2
    assert "There is no file ours.toml. Check its name" in capsys.readouterr().err


def test_a_plan_with_errors_names_every_one_of_them(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    plan = tmp_path / "mine.toml"
    plan.write_text('version = 1\ntitle = "Mine"\nchildren = [2, 5]\n[[step]]\nput = [{ piece = "red" }]\n')
    told = refused(capsys, "analyse", str(VOICE), "--plan", str(plan))
    for part in ("mine.toml, children:", "step 1: component is missing", "there is no piece 'red'"):
        assert part in told


@pytest.mark.parametrize(
    ("name", "content", "says"),
    [
        ("missing.wav", None, "There is no file"),
        ("empty.wav", b"", "it is empty"),
        ("text.wav", b"this is no sound at all, but a shopping list", "shopping"),
    ],
)
def test_unusable_recordings(
    name: str, content: bytes | None, says: str, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    path = tmp_path / name
    if content is not None:
        path.write_bytes(content)
    told = refused(capsys, "analyse", str(path), "--plan", "little-boat")
    assert name in told
    assert says in told or says == "shopping"


def test_a_silent_recording(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    path = tmp_path / "silent.wav"
    soundfile.write(path, np.zeros(16_000, np.int16), 16_000)
    assert "is silent from start to end" in refused(capsys, "analyse", str(path), "--plan", "little-boat")


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (["--children", "4"], "two or three children, not 4"),
        (["--swap", "sometimes"], "is no swap rule"),
        (["--voices", "/no/such/folder"], "has no voice for seat A"),
        (["--channels", "A=1,B=2,C=3"], "has channel 1 alone, and no channel 3"),
        (["--channels", "A=1,B=2"], "no microphone for seat C"),
        (["--channels", "A=1,B=2,C=3", "--voices", "ours"], "Choose one of them"),
    ],
)
def test_settings_that_cannot_be(arguments: list[str], says: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert says in refused(capsys, "analyse", str(VOICE), "--plan", "little-boat", *arguments)


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (["--length", "500"], "up to 90 minutes"),
        (["--length", "0"], "up to 90 minutes"),
        (["--length", "10", "--set-up", "5", "--clear-away", "5"], "fill the whole session"),
        (["--names", "A:Ada"], "A=Ada,B=Bo"),
        (["--names", "C=Cy", "--children", "2"], "no child at seat C"),
        (["--rate", "1000", "--no-voices", "--from", str(VOICE)], "words a minute"),
    ],
)
def test_sessions_that_cannot_be(arguments: list[str], says: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert says in refused(capsys, "session", "little-boat", *arguments)


def test_names_are_read_by_seat() -> None:
    assert names_from(" a=Ada , B=Bo ") == {Seat.A: "Ada", Seat.B: "Bo"}
    assert names_from("") == {}
    with pytest.raises(SettingsError):
        names_from("F=Fi")


def test_help_answers_without_loading_a_model() -> None:
    loads = "import sys; from assistant.cli import main\ntry: main(['session', '--help'])\nexcept SystemExit: pass\n"
    heavy = "print([name for name in ('onnxruntime', 'moonshine_voice', 'vosk', 'numpy') if name in sys.modules])"
    done = subprocess.run([sys.executable, "-c", loads + heavy], capture_output=True, text=True, check=True)
    assert done.stdout.splitlines()[-1] == "[]"
    assert "--no-voices" in done.stdout


def test_numbers_as_json_have_standard_output_to_themselves(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["analyse", str(VOICE), "--plan", "little-boat", "--json"]) == 0
    out, err = capsys.readouterr()
    assert json.loads(out)["children"] == ["A", "B", "C"]
    assert "setting up" not in err and "building" in err


def test_with_a_microphone_each_nobody_enrols(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    voices = [read_samples(VOICE.with_name(f"{seat}.flac"))[: to_samples(3)] for seat in "BCA"]
    own = np.zeros((3 * to_samples(4), 3))
    for place, voice in enumerate(voices):  # one after the other, each a quarter as loud in the others' microphones
        start = place * to_samples(4)
        own[start : start + len(voice)] = voice[:, np.newaxis] * np.where(np.arange(3) == place, 1, 0.25)
    soundfile.write(tmp_path / "three.wav", own.astype(np.int16), 16_000)
    kept = tmp_path / "events.jsonl"
    said = ["--channels", "B=1,C=2,A=3", "--plan", "little-boat", "--events", str(kept)]
    assert main(["analyse", str(tmp_path / "three.wav"), *said]) == 0
    assert "Without --voices" not in capsys.readouterr().out
    events = map(json.loads, kept.read_text().splitlines())
    seats = [(event["seat"], event["start_sample"] // to_samples(4)) for event in events if event["event"] == "Heard"]
    assert list(dict.fromkeys(seats)) == [("B", 0), ("C", 1), ("A", 2)]


def test_what_is_kept_holds_no_words_unless_asked_for(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path, full = tmp_path / "events.jsonl", tmp_path / "with-words.jsonl"
    assert main(["analyse", str(VOICE), "--plan", "little-boat", "--events", str(path)]) == 0
    assert "boat" not in path.read_text().replace("Little boat", "")
    assert main(["analyse", str(VOICE), "--plan", "little-boat", "--events", str(full), "--keep-words"]) == 0
    assert "boat" in full.read_text().replace("Little boat", "")
    capsys.readouterr()


@pytest.mark.parametrize("said", [[], ["data"], ["plan"], ["goals"], ["models"]])
def test_a_command_that_has_others_shows_them(said: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    assert main(said) == 0
    told = capsys.readouterr()
    assert "commands:" in told.out and not told.err


def test_the_list_of_commands_reads_well() -> None:
    told = door().format_help()
    for command in ("demo", "session", "analyse", "models"):
        assert command in told
