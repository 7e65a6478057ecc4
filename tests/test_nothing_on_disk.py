"""A session without consent writes no file and opens no connection: a system-call trace of every thread and child shows it."""

import os
import re
import shutil
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from urllib.request import urlopen

import pytest

ROOT = Path(__file__).parent.parent

WATCHED = (
    "open", "openat", "openat2", "creat", "rename", "renameat", "renameat2", "mkdir", "mkdirat", "link", "linkat", "symlink",
    "symlinkat", "mknod", "mknodat", "truncate", "connect", "sendto",
)  # fmt: skip
EXPLAINED = {
    r".*/assistant/__pycache__/__init__\.cpython-\d+\.pyc(\.\d+)?": "Python's compiled copy of this program's first file",
    r".*/tests/__pycache__/(__init__|whole_session)\.cpython-\d+\.pyc(\.\d+)?": "the same of the test that runs it",
    r"/dev/null": "not a file: what is written there is gone",
    r"/dev/tty": "the terminal itself",
    r"/proc/self/task/\d+/comm": "a thread gives itself a name",
}
"""What a session may open for writing, and why that keeps nothing."""

OPENED = re.compile(r'open(?:at|at2)?\((?:[^,]*, )?"(?P<path>[^"]*)", (?:\{flags=)?(?P<flags>[A-Z_|0-9]+).*= \d+')
CHANGED = re.compile(r'(?P<call>creat|rename\w*|mkdir\w*|link\w*|symlink\w*|mknod\w*|truncate)\(.*"(?P<path>[^"]*)".* = 0')


def traced(
    arguments: list[str], folder: Path, module: str = "assistant", answers: str = "", watch: Callable[[str], object] = str
) -> tuple[subprocess.CompletedProcess[str], str]:
    """Run the command line under strace; the trace itself goes to ``folder``, the command's own folder stays empty.

    Args:
        answers: what is typed.
        watch: is shown every line as it is said.
    """
    strace = shutil.which("strace")
    assert strace, "strace is missing: sudo apt-get install strace (make test does it)"
    trace, home, said = folder / "trace", folder / "home", folder / "said"
    home.mkdir()
    environment = os.environ | {"HOME": str(home), "XDG_RUNTIME_DIR": str(home)}
    tracing = [strace, "-f", "-qq", "-s", "300", "-e", f"trace={','.join(WATCHED)}", "-o", str(trace)]
    command = [*tracing, sys.executable, "-m", module, *arguments]
    lines = []
    with (
        said.open("w") as errors,
        subprocess.Popen(command, cwd=ROOT, env=environment, stdin=-1, stdout=-1, stderr=errors, text=True) as running,
    ):
        assert running.stdin and running.stdout
        running.stdin.write(answers)
        running.stdin.close()
        for line in running.stdout:
            lines.append(line)
            watch(line)
    assert list(home.iterdir()) == []
    done = subprocess.CompletedProcess(command, running.returncode, "".join(lines), said.read_text())
    return done, trace.read_text(errors="replace")


class Visitor:
    """A browser of the simplest kind: it opens each page that it is told of, and reads a little of its live line."""

    def __init__(self) -> None:
        self.visited: list[str] = []

    def __call__(self, line: str) -> None:
        if found := re.search(r"^The (\w+) page: (http://127\.0\.0\.1:\S+)", line):
            with urlopen(found[2], timeout=20) as page:
                assert b"<html" in page.read()
            with urlopen(f"{found[2]}events", timeout=20) as events:
                assert events.read(40)
            self.visited.append(found[1])


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
def whole_session(tmp_path_factory: pytest.TempPathFactory) -> tuple[subprocess.CompletedProcess[str], str, list[str]]:
    """Three minutes from set-up to clear-away, with pages that are shared and visited; then review and progress in memory."""
    visitor = Visitor()
    room = ["--from", "demo_audio/session.flac", "--voices", "demo_audio/voices", "--pages", "--share"]
    minutes = ["--length", "3", "--set-up", "0.5", "--clear-away", "0.5"]
    session = ["session", "little-boat", *room, *minutes]
    told = traced(session, tmp_path_factory.mktemp("trace"), "tests.whole_session", watch=visitor)
    return *told, visitor.visited


Whole = tuple[subprocess.CompletedProcess[str], str, list[str]]


def test_a_whole_session_runs_under_the_trace(whole_session: Whole) -> None:
    done, trace, visited = whole_session
    assert done.returncode == 0, done.stderr
    assert "the session is over: on time" in done.stdout
    assert visited == ["room", "helper", "engineer"]
    assert re.search(r"the review: \d{5,} signs, \d{5,} bytes on paper\nprogress: ", done.stdout)
    assert "session.flac" in trace  # the trace sees what is read


def test_a_whole_session_without_consent_writes_no_file(whole_session: Whole) -> None:
    assert written(whole_session[1]) == set()


def test_a_whole_session_opens_no_connection_but_looks_up_its_own_address(whole_session: Whole) -> None:
    gone = [line for line in whole_session[1].splitlines() if "AF_INET" in line]
    assert len(gone) == 1 and 'inet_addr("192.0.2.1")' in gone[0]  # for --share; the look-up sends nothing


def test_the_trace_would_have_seen_it(tmp_path: Path) -> None:
    kept = tmp_path / "kept.rttm"
    done, trace = traced(["analyse", "demo_audio/voices/A.flac", "--plan", "little-boat", "--rttm", str(kept)], tmp_path)
    assert done.returncode == 0, done.stderr
    assert written(trace) == {str(kept)}


@pytest.mark.parametrize(("level", "name"), [("timeline", "sessions.sqlite"), ("voices", "sessions.locked")])
def test_what_is_kept_is_written_into_the_store_and_nothing_else(
    level: str, name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    data = tmp_path / "data"
    monkeypatch.setenv("XDG_DATA_HOME", str(data))
    monkeypatch.setenv("TRAY_TURNS_PASSPHRASE", "four o'clock is cake time")
    if level == "voices":
        subprocess.run([sys.executable, "-m", "assistant", "data", "lock"], cwd=ROOT, check=True, capture_output=True)
    least = "words" if level == "voices" else level
    answers = f"{least}\n" * 4 + "yes\n" * 3  # three guardians and the adult, then three children
    answers += "yes\n" * 7 if level == "voices" else ""  # the voices are asked about apart
    recording = ["demo_audio/voices/A.flac", "--plan", "little-boat", "--keep", level]
    done, trace = traced(["analyse", *recording], tmp_path, answers=answers)
    assert done.returncode == 0 and f"Will be kept: {level}" in done.stdout, done.stderr
    assert "Kept as session 1. Read about it: tray-turns review 1 --to review.html." in done.stdout
    store = data / "tray-turns" / name
    assert str(store) in written(trace)
    beside = (f"{store}-journal", f"{store}-wal", f"{store}-shm")  # the first only while the new store is still empty
    in_use = str(store.with_name("sessions.in-use"))  # empty, and gone with the session
    assert written(trace) <= {str(data), str(store.parent), str(store), in_use, *beside}
    assert [path.name for path in store.parent.iterdir()] == [name]
