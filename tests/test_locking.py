"""A locked store: nobody reads it without its passphrase, and locking loses nothing."""

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from assistant.cli import main
from assistant.commands import kept_sessions
from assistant.core.club.consent import Consent
from assistant.errors import KeepingError
from assistant.outputs.keeping import store as module
from assistant.outputs.keeping.store import FILE, LOCKED_FILE, delete_store, is_locked, lock_store, open_store, unlock_store
from assistant.terms import Seat
from tests.killing import DAY, UNTIL
from tests.test_exports import SECRETS, STORY
from tests.test_store import kept, raw

PASSPHRASE = "four o'clock is cake time"


@pytest.fixture
def locked(tmp_path: Path) -> Path:
    """A folder with a locked store that holds the story."""
    folder = tmp_path / "data"
    with open_store(folder, DAY) as store:
        kept(store)
    lock_store(folder, PASSPHRASE)
    return folder


def test_locked_nothing_of_it_can_be_read_in_the_raw_bytes(locked: Path) -> None:
    assert [path.name for path in locked.iterdir()] == [LOCKED_FILE]
    for sign in (*SECRETS, "sqlite format", "heard", "2027"):
        assert sign.encode() not in raw(locked)


def test_a_passphrase_is_made_a_key_as_slowly_as_sqlcipher_4_does_it() -> None:
    """SQLCipher 4: PBKDF2 of HMAC-SHA512, 256 000 rounds (its documentation of kdf_iter and cipher_kdf_algorithm)."""
    ask = "[c.execute(f'PRAGMA {it}').fetchone()[0] for it in ('kdf_iter', 'cipher_kdf_algorithm', 'cipher_page_size')]"
    program = f"from assistant.outputs.keeping.store import _connect; c = _connect(':memory:', 'four cakes'); print({ask})"
    told = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True).stdout
    assert told.strip() == "['256000', 'PBKDF2_HMAC_SHA512', '4096']"


def test_with_the_passphrase_it_is_all_there_and_more_can_be_kept(locked: Path) -> None:
    with open_store(locked, DAY, PASSPHRASE) as store:
        assert store.events(1) == STORY
        second = kept(store, Consent.TIMELINE)
        assert b"crimson" not in raw(locked)  # its journal is encrypted, too
        assert store.check() == []
        store.delete([second])
    assert [session.number for session in open_store(locked, DAY, PASSPHRASE).sessions()] == [1]


@pytest.mark.parametrize("passphrase", ["", "four o'clock", PASSPHRASE + " "])
def test_with_another_passphrase_it_does_not_open(passphrase: str, locked: Path, capfd: pytest.CaptureFixture[str]) -> None:
    before = raw(locked)
    with pytest.raises(KeepingError, match="that is not its passphrase"):
        open_store(locked, DAY, passphrase)
    assert raw(locked) == before
    assert capfd.readouterr().err == ""


def test_unlocked_it_is_as_it_was(locked: Path) -> None:
    unlock_store(locked, PASSPHRASE)
    assert not is_locked(locked)
    with open_store(locked, DAY) as store:
        assert store.events(1) == STORY
        assert len(store.receipts(1)) == 7 and any(one.seat is Seat.FACILITATOR for one in store.receipts(1))
        assert store.check() == []
    assert not (locked / LOCKED_FILE).exists()


def test_what_is_due_goes_when_a_locked_store_is_next_opened(locked: Path) -> None:
    with open_store(locked, UNTIL, PASSPHRASE) as store:
        assert store.sessions() == []


def test_a_kill_before_the_copy_is_whole_leaves_the_store_as_it_was(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with open_store(tmp_path, DAY) as store:
        kept(store)

    def killed(source: Path, *rest: object) -> None:
        shutil.copy(source, source.with_name(f"{LOCKED_FILE}.new"))
        raise KeyboardInterrupt

    with monkeypatch.context() as patch, pytest.raises(KeyboardInterrupt):
        patch.setattr(module, "_copy", killed)
        lock_store(tmp_path, PASSPHRASE)
    with open_store(tmp_path, DAY) as store:
        assert store.events(1) == STORY
    lock_store(tmp_path, PASSPHRASE)
    assert b"crimson" not in raw(tmp_path)


@pytest.mark.parametrize(
    ("passphrase", "why"),
    [("cake", "at least 8"), ("cake" * 51, "at most 200")],  # no set-up page would take it to open the store again
    ids=["short", "too long for the set-up page"],
)
def test_a_passphrase_that_will_not_do_is_refused(passphrase: str, why: str, tmp_path: Path) -> None:
    with open_store(tmp_path, DAY) as store:
        kept(store)
    with pytest.raises(KeepingError, match=why):
        lock_store(tmp_path, passphrase)
    assert (tmp_path / FILE).exists()


def test_a_locked_store_can_be_deleted_without_its_passphrase(locked: Path) -> None:
    delete_store(locked)
    assert list(locked.iterdir()) == []


def test_the_commands(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    folder = tmp_path / "data"
    monkeypatch.setattr(kept_sessions, "folder", lambda: folder)
    typed = ["cake and tea", "cake and tee", PASSPHRASE, PASSPHRASE, PASSPHRASE, "wrong", PASSPHRASE]
    monkeypatch.setattr(kept_sessions, "getpass", lambda question: typed.pop(0))
    with open_store(folder, kept_sessions.today()) as store:
        kept(store, until="2999-01-01")
    assert main(["data", "lock"]) == 2
    assert "not the same" in capsys.readouterr().err
    assert main(["data", "lock"]) == 0 and is_locked(folder)
    assert main(["data", "list"]) == 0
    assert main(["data", "check"]) == 2
    assert "not its passphrase" in capsys.readouterr().err
    assert main(["plan", "check", "little-boat"]) == 0  # asks for no passphrase
    assert main(["data", "unlock"]) == 0 and not is_locked(folder)
    assert typed == []


@pytest.mark.parametrize(
    ("command", "says"),
    [
        ("lock", "tray-turns: Nobody gave a passphrase, and nothing was changed. Type it in a terminal, or set "),
        ("list", "tray-turns: The store is locked, and nobody gave the passphrase. Type it in a terminal, or set "),
    ],
)
@pytest.mark.skipif(sys.platform != "linux", reason="the folder of the data is named in Linux's own way here")
def test_where_nobody_can_type_unseen_that_is_one_sentence(command: str, says: str, tmp_path: Path) -> None:
    home = tmp_path / "tray-turns"
    if command == "list":
        with open_store(home, DAY) as store:
            kept(store)
        lock_store(home, PASSPHRASE)
    outside = {name: value for name, value in os.environ.items() if name != kept_sessions.PASSPHRASE}
    done = subprocess.run(
        [sys.executable, "-m", "assistant", "data", command],
        env=outside | {"XDG_DATA_HOME": str(tmp_path)},
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
        start_new_session=True,  # no terminal to ask on behind its back
    )
    assert done.returncode == 2 and done.stdout == ""
    assert done.stderr == f"{says}{kept_sessions.PASSPHRASE}.\n"
