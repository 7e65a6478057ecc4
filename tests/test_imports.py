"""Imports point one way, and the core is pure."""

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

PACKAGE = Path(__file__).parent.parent / "assistant"
BASE = {"events", "terms", "errors", "samples"}

MAY_IMPORT: dict[str, set[str]] = {
    "core": {"core"} | BASE,
    "listening": {"listening", "core"} | BASE,
    "devices": {"devices", "core"} | BASE,
    "outputs": {"outputs", "core"} | BASE,
    "pages": {"pages", "core"} | BASE,
    "run": {"core"} | BASE,
    "events": {"terms"},
    "terms": set(),
    "errors": set(),
    "samples": {"terms"},
}
IMPURE = {
    "asyncio", "concurrent", "datetime", "http", "io", "multiprocessing", "os", "pathlib", "queue", "random", "shutil",
    "socket", "sounddevice", "soundfile", "sqlite3", "subprocess", "sys", "tempfile", "threading", "time", "urllib",
}  # fmt: skip


def modules() -> list[Path]:
    return sorted(PACKAGE.rglob("*.py"))


def part_of(path: Path) -> str:
    return path.relative_to(PACKAGE).parts[0].removesuffix(".py")


def imported(path: Path) -> Iterator[str]:
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path}: imports are absolute here"
            yield node.module or ""


@pytest.mark.parametrize("path", modules(), ids=lambda path: str(path.relative_to(PACKAGE)))
def test_imports_point_one_way(path: Path) -> None:
    allowed = MAY_IMPORT.get(part_of(path))
    if allowed is None:
        return  # cli, commands, assembly, club, engines: the outside, which may see everything
    ours = {name.split(".")[1] for name in imported(path) if name.startswith("assistant.")}
    assert ours <= allowed


@pytest.mark.parametrize("path", sorted((PACKAGE / "core").rglob("*.py")), ids=lambda path: path.stem)
def test_the_core_imports_no_clock_disk_device_or_thread(path: Path) -> None:
    assert {name.split(".")[0] for name in imported(path)} & IMPURE == set()


@pytest.mark.parametrize("path", sorted((PACKAGE / "core").rglob("*.py")), ids=lambda path: path.stem)
def test_the_core_opens_nothing(path: Path) -> None:
    calls = [node.func.id for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
             if isinstance(node, ast.Call) and isinstance(node.func, ast.Name)]  # fmt: skip
    assert {"open", "print", "input", "exec", "eval"} & set(calls) == set()


WRITERS = {
    "outputs/keeping/__init__.py": "what people said or did, as far as consent reaches",
    "outputs/keeping/in_use.py": "an empty file beside the store, while a session is kept",
    "outputs/keeping/store.py": "the same, in the family's store",
    "outputs/sheetfiles.py": "plans, pictures and sheets that the family asked for",
    "devices/fetch.py": "speech models that the family fetches",
}


def test_only_these_are_handed_a_place_to_write_to() -> None:
    writing = {"write_text", "write_bytes", "mkdir", "touch", "rename", "NamedTemporaryFile", "mkstemp", "TemporaryDirectory"}
    for path in modules():
        names = {node.attr for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))) if isinstance(node, ast.Attribute)}
        if names & writing:
            assert path.relative_to(PACKAGE).as_posix() in WRITERS
