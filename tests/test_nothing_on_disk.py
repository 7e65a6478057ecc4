"""A session without consent writes no file and opens no connection: a system-call trace of every thread and child shows it."""

import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent

WATCHED = (
    "open", "openat", "openat2", "creat", "rename", "renameat", "renameat2", "mkdir", "mkdirat", "link", "linkat", "symlink",
    "symlinkat", "mknod", "mknodat", "truncate", "connect", "sendto",
)  # fmt: skip
EXPLAINED = {
    r".*/assistant/__pycache__/__init__\.cpython-\d+\.pyc(\.\d+)?": "Python's compiled copy of this program's first file",
    r"/dev/null": "not a file: what is written there is gone",
    r"/dev/tty": "the terminal itself",
    r"/proc/self/task/\d+/comm": "a thread gives itself a name",
}
"""What a session may open for writing, and why that keeps nothing."""

OPENED = re.compile(r'open(?:at|at2)?\((?:[^,]*, )?"(?P<path>[^"]*)", (?:\{flags=)?(?P<flags>[A-Z_|0-9]+).*= \d+')
CHANGED = re.compile(r'(?P<call>creat|rename\w*|mkdir\w*|link\w*|symlink\w*|mknod\w*|truncate)\(.*"(?P<path>[^"]*)".* = 0')


def traced(arguments: list[str], folder: Path) -> tuple[subprocess.CompletedProcess[str], str]:
    """Run the command line under strace; the trace itself goes to ``folder``, the command's own folder stays empty."""
    strace = shutil.which("strace")
    assert strace, "strace is missing: sudo apt-get install strace (make test does it)"
    trace, home = folder / "trace", folder / "home"
    home.mkdir()
    environment = os.environ | {"HOME": str(home), "XDG_RUNTIME_DIR": str(home)}
    tracing = [strace, "-f", "-qq", "-s", "300", "-e", f"trace={','.join(WATCHED)}", "-o", str(trace)]
    command = [*tracing, sys.executable, "-m", "assistant", *arguments]
    done = subprocess.run(command, cwd=ROOT, env=environment, capture_output=True, text=True, timeout=280)
    assert list(home.iterdir()) == []
    return done, trace.read_text(errors="replace")


def written(trace: str) -> set[str]:
    """Every file opened for writing, created, linked or renamed, but for the explained ones."""
    paths = {
        match["path"]
        for match in map(OPENED.search, trace.splitlines())
        if match and re.search(r"O_WRONLY|O_RDWR|O_CREAT|O_TMPFILE|O_TRUNC|O_APPEND", match["flags"])
    }
    paths |= {match["path"] for match in map(CHANGED.search, trace.splitlines()) if match}
    return {path for path in paths if not any(re.fullmatch(known, path) for known in EXPLAINED)}


@pytest.fixture(scope="module")
def whole_session(tmp_path_factory: pytest.TempPathFactory) -> tuple[subprocess.CompletedProcess[str], str]:
    return traced(["demo"], tmp_path_factory.mktemp("trace"))


def test_a_whole_session_runs_under_the_trace(whole_session: tuple[subprocess.CompletedProcess[str], str]) -> None:
    done, trace = whole_session
    assert done.returncode == 0, done.stderr
    assert "the session is over: on time" in done.stdout
    assert "session.flac" in trace  # the trace sees what is read


def test_a_whole_session_without_consent_writes_no_file(whole_session: tuple[subprocess.CompletedProcess[str], str]) -> None:
    assert written(whole_session[1]) == set()


def test_a_session_with_its_pages_writes_no_file_and_goes_nowhere(tmp_path: Path) -> None:
    recording = ["--from", "demo_audio/voices/A.flac", "--no-voices", "--quiet"]
    done, trace = traced(["session", "little-boat", *recording, "--pages", "--share"], tmp_path)
    assert done.returncode == 0, done.stderr
    assert "The room page: http://127.0.0.1:" in done.stdout
    assert written(trace) == set()
    gone = [line for line in trace.splitlines() if "AF_INET" in line]
    assert len(gone) == 1 and 'inet_addr("192.0.2.1")' in gone[0]  # the look-up sends nothing


def test_a_whole_session_opens_no_connection(whole_session: tuple[subprocess.CompletedProcess[str], str]) -> None:
    assert [line for line in whole_session[1].splitlines() if "AF_INET" in line] == []


def test_the_trace_would_have_seen_it(tmp_path: Path) -> None:
    kept = tmp_path / "kept.rttm"
    done, trace = traced(["analyse", "demo_audio/voices/A.flac", "--plan", "little-boat", "--rttm", str(kept)], tmp_path)
    assert done.returncode == 0, done.stderr
    assert written(trace) == {str(kept)}


def test_a_session_that_is_kept_writes_the_store_and_nothing_else(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    data = tmp_path / "data"
    monkeypatch.setenv("XDG_DATA_HOME", str(data))
    done, trace = traced(["demo", "--keep", "timeline"], tmp_path)
    assert done.returncode == 0, done.stderr
    store = data / "tray-turns" / "sessions.sqlite"
    assert str(store) in written(trace)
    beside = (f"{store}-journal", f"{store}-wal", f"{store}-shm")  # the first only while the new store is still empty
    assert written(trace) <= {str(data), str(store.parent), str(store), *beside}
