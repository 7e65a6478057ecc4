"""The documents are true: every command, option, event, cue and key that exists is in them."""

import argparse
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from assistant import events
from assistant.cli import door
from assistant.core.club.keys import KEYS
from assistant.terms import Cue

ROOT = Path(__file__).parent.parent
README = (ROOT / "README.md").read_text(encoding="utf-8")
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")


def commands(parser: argparse.ArgumentParser, path: str = "") -> Iterator[tuple[str, argparse.ArgumentParser]]:
    """Every command with its whole path, ``"models check"``."""
    inner = [action for action in parser._actions if isinstance(action, argparse._SubParsersAction)]
    if not inner:
        yield path, parser
    for action in inner:
        for name, below in action.choices.items():
            yield from commands(below, f"{path} {name}".strip())


@pytest.mark.parametrize("path", [path for path, _ in commands(door())])
def test_every_command_is_in_the_readme(path: str) -> None:
    assert f"tray-turns {path}" in README


@pytest.mark.parametrize(("path", "parser"), list(commands(door())), ids=lambda value: value if isinstance(value, str) else "")
def test_every_command_and_option_has_a_line_of_help(path: str, parser: argparse.ArgumentParser) -> None:
    assert all(action.help for action in parser._actions), path


def test_every_event_is_in_the_guide() -> None:
    kinds = [name for name, value in vars(events).items() if isinstance(value, type) and issubclass(value, events.Event)]
    missing = [name for name in kinds if name != "Event" and f"`{name}`" not in DEVELOPERS]
    assert missing == []


@pytest.mark.parametrize("cue", Cue)
def test_every_cue_is_in_the_guide(cue: Cue) -> None:
    assert f"`{cue.value}`" in DEVELOPERS


def test_every_key_has_a_line_of_help() -> None:
    assert all(text.strip() for _, text in KEYS.values())


def test_files_and_folders_named_in_the_documents_are_there() -> None:
    for document in (README, DEVELOPERS):
        for name in re.findall(r"`((?:assistant|shared|tests|demo_audio|docs|models|\.ci)/[\w./-]*)`", document):
            assert (ROOT / name).exists(), name


def test_the_make_targets_named_in_the_readme_exist() -> None:
    targets = set(re.findall(r"^([a-z]+):", (ROOT / "Makefile").read_text(encoding="utf-8"), re.MULTILINE))
    named = set(re.findall(r"`make ([a-z]+)", README)) | set(re.findall(r"^make ([a-z]+)", README, re.MULTILINE))
    assert named and named <= targets


def test_no_registry_host_is_named_anywhere() -> None:
    hosts = re.compile("|".join(map(re.escape, ("pypi" + ".org", "python" + "hosted", "npmjs" + ".", "crates" + ".io"))))
    for path in ROOT.rglob("*"):
        if path.suffix in {".py", ".toml", ".md", ".txt", ""} and path.is_file() and not set(path.parts) & {".git", ".venv"}:
            assert not hosts.search(path.read_text(encoding="utf-8", errors="ignore")), path
