"""While a session is being kept, nobody locks or deletes the store under it; a kill lets go of it."""

import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from assistant.cli import main
from assistant.commands import kept_sessions
from assistant.errors import KeepingError
from assistant.outputs.keeping.in_use import alone, in_use
from assistant.outputs.keeping.store import open_store
from tests.killing import DAY
from tests.test_store import kept

HOLD = """
import sys
from pathlib import Path
from assistant.outputs.keeping.in_use import in_use
with in_use(Path(sys.argv[1])):
    print("held", flush=True)
    sys.stdin.read()
"""


@pytest.fixture
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A store of the test's own, with a session in it."""
    monkeypatch.setattr(kept_sessions, "folder", lambda: tmp_path / "data")
    monkeypatch.setenv(kept_sessions.PASSPHRASE, "four o'clock is cake time")
    with open_store(tmp_path / "data", DAY) as store:
        kept(store, until="2999-01-01")
    return tmp_path / "data"


@contextmanager
def another_window(folder: Path) -> Iterator[subprocess.Popen[str]]:
    """Another process that keeps a session in this folder."""
    with subprocess.Popen([sys.executable, "-c", HOLD, str(folder)], stdin=-1, stdout=-1, text=True) as other:
        assert other.stdout and other.stdout.readline() == "held\n"
        try:
            yield other
        finally:
            other.kill()


def test_what_would_pull_the_store_from_under_a_session_is_refused(home: Path, capsys: pytest.CaptureFixture[str]) -> None:
    before = {path.name for path in home.iterdir()}
    with another_window(home) as other:
        for command in ("data lock", "data unlock", "data delete 1", "data delete --all"):
            assert main(command.split()) == 2
            assert "A session is being kept right now" in capsys.readouterr().err
        assert main(["data", "list"]) == 0  # who only looks is no trouble
        with in_use(home):  # nor is a second session
            pass
        other.kill()
        other.wait()
    assert before <= {path.name for path in home.iterdir()}
    assert main(["data", "delete", "--all"]) == 0
    assert list(home.iterdir()) == []


def test_no_session_begins_to_be_kept_while_the_store_is_being_changed(tmp_path: Path) -> None:
    with alone(tmp_path), pytest.raises(KeepingError, match="being changed"), in_use(tmp_path):
        pass
    with in_use(tmp_path):
        pass
    assert list(tmp_path.iterdir()) == []
