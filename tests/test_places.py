"""No command replaces a file that is there already, and a session says so before it begins."""

import os
from pathlib import Path
from types import SimpleNamespace

import pytest

from assistant.cli import main
from assistant.core.club.consent import Consent
from assistant.devices.shelf import folder
from assistant.errors import KeepingError
from assistant.outputs.exports.records import json_lines
from assistant.outputs.places import must_be_new, must_be_writable, must_end
from tests.test_exports import STORY

VOICE = folder("demo_audio") / "voices" / "A.flac"
OURS = {"kitchen.flac": VOICE.read_bytes(), "e.jsonl": json_lines(STORY, Consent.WORDS).encode(), "mine.toml": b"# ours\n"}


@pytest.fixture
def family(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder with files of the family's own, in which the command is given."""
    for name, content in {**OURS, "out/events.jsonl": OURS["e.jsonl"], "photos/model.svg": b"a photo"}.items():
        (tmp_path / name).parent.mkdir(exist_ok=True)
        (tmp_path / name).write_bytes(content)
    monkeypatch.chdir(tmp_path)
    return tmp_path


@pytest.mark.parametrize(
    "command",
    [
        "analyse kitchen.flac --plan little-boat --rttm kitchen.flac",
        "analyse kitchen.flac --plan little-boat --events kitchen.flac",
        "analyse kitchen.flac --plan mine.toml --events mine.toml",
        "analyse kitchen.flac --plan little-boat --events x --rttm ./x",
        "analyse kitchen.flac --plan little-boat --rttm there-is-none/x.rttm",
        "analyse kitchen.flac --plan little-boat --rttm photos",
        "session --pages --events e.jsonl",
        "demo --mix kitchen.flac",
        "print little-boat --sheets rules --to mine.toml",
        "calendar --first 2027-03-01 --at 16:30 --to mine.toml",
        "review --events e.jsonl --to e.jsonl",
        "progress --events e.jsonl --to e.jsonl",
        "data export --events out/events.jsonl --to out",
        "plan draw little-boat --to photos",
        "plan new photos --title Ours",
    ],
)
def test_what_is_there_is_as_it_was(command: str, family: Path, capsys: pytest.CaptureFixture[str]) -> None:
    if command.startswith("plan new"):
        (family / "photos" / "plan.toml").write_bytes(b"a plan")
        (family / "photos" / "1.jpg").write_bytes(b"a photo")
    before = {path: path.read_bytes() for path in family.rglob("*") if path.is_file()}
    assert main(command.split()) == 2
    assert {path: path.read_bytes() for path in family.rglob("*") if path.is_file()} == before
    told = capsys.readouterr()
    assert len(told.err.splitlines()) == 1 and "Traceback" not in told.err and "SPEAKER" not in told.out


def test_a_full_disk_is_said_before_the_session_and_no_empty_file_is_left(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr("assistant.outputs.places.disk_usage", lambda path: SimpleNamespace(free=4096))
    for option in ("--rttm", "--events", "--mix"):
        assert main(["demo", option, str(tmp_path / "mine.txt")]) == 2
        told = capsys.readouterr()
        assert "mine.txt cannot be written: the disk is full. Make room" in told.err and not told.out
    assert list(tmp_path.iterdir()) == []
    must_be_writable(Path(os.devnull))


@pytest.mark.parametrize(
    ("command", "endings"),
    [
        ("review --events e.jsonl --to mine", ".html or .pdf"),
        ("progress --events e.jsonl --to mine.pdf", ".html"),
        ("print little-boat --to mine.txt", ".pdf"),
        ("calendar --first 2027-03-01 --at 16:30 --to mine.txt", ".ics"),
    ],
)
def test_a_file_has_the_ending_by_which_it_opens(
    command: str, endings: str, family: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    before = set(family.rglob("*"))
    assert main(command.split()) == 2
    assert f" does not end in {endings}. Give it that ending" in capsys.readouterr().err
    assert set(family.rglob("*")) == before


@pytest.mark.parametrize("command", ["data export --events e.jsonl --to mine.toml", "plan draw little-boat --to mine.toml"])
def test_a_folder_that_is_a_file_is_one_sentence(command: str, family: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(command.split()) == 2
    assert capsys.readouterr().err == "tray-turns: mine.toml cannot be written into: it is a file. Name a folder.\n"


@pytest.mark.parametrize("ending", [".html", ".HTML"])
def test_a_device_or_a_large_letter_changes_nothing_of_that(ending: str) -> None:
    must_end(Path(os.devnull), ".html")
    must_end(Path(f"mine{ending}"), ".html")


def test_a_device_or_a_pipe_may_be_named_as_often_as_you_like(tmp_path: Path) -> None:
    must_be_writable(Path(os.devnull), Path(os.devnull))
    if hasattr(os, "mkfifo"):
        os.mkfifo(tmp_path / "pipe")
        must_be_new(tmp_path / "pipe")


def test_two_names_of_one_place_are_one(tmp_path: Path) -> None:
    (tmp_path / "a").mkdir()
    with pytest.raises(KeepingError, match="named for two things"):
        must_be_new(tmp_path / "x", tmp_path / "a" / ".." / "x")
