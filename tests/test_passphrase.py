"""The passphrase that is typed on the set-up page: who takes it, who refuses it, and that it lies nowhere afterwards."""

import json
import os
import re
import subprocess
import sys
import threading
from collections.abc import Iterator
from contextlib import ExitStack, closing, suppress
from dataclasses import dataclass, field, replace
from functools import partial
from http.client import HTTPConnection, HTTPException
from pathlib import Path
from urllib.parse import SplitResult, urlsplit

import pytest

from assistant.cli import door
from assistant.commands import kept_sessions
from assistant.commands.safe import Safe
from assistant.commands.set_up_page import begin_with
from assistant.core.club.consent import Consent
from assistant.core.club.setting_up import LONGEST_PASSPHRASE, Choose, Deed, Do, Locking, Passphrase, SettingUp, Stage, What
from assistant.errors import KeepingError
from assistant.outputs.keeping.store import FILE, LOCKED_FILE, is_locked, open_store
from assistant.pages.orders import BadOrderError, read_order, read_set_up_order
from assistant.pages.telling import Page
from assistant.terms import Seat
from tests.killing import DAY, PASSPHRASE, locked_store
from tests.rehearsal import ELSEWHERE, Rehearsal
from tests.test_nothing_on_disk import ROOT, traced
from tests.test_setting_up import AT_CONSENT, after
from tests.test_setup_page import told

YES = Do(Deed.ANSWER, level=Consent.VOICES)
NO = Do(Deed.ANSWER)
TWICE = Passphrase(PASSPHRASE, PASSPHRASE)


@pytest.fixture
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Where this computer's store would lie; there is none yet."""
    monkeypatch.delenv(kept_sessions.PASSPHRASE, raising=False)
    monkeypatch.setattr(kept_sessions, "folder", lambda: tmp_path / "data")
    return tmp_path / "data"


@pytest.fixture
def safe() -> Iterator[Safe]:
    with ExitStack() as stack:
        yield Safe(stack)


def agreed(*answers: Do) -> SettingUp:
    """The set-up after these answers, to keep voices where the store is not locked yet."""
    return after(Choose(What.KEEP, "voices"), TWICE, *answers, state=AT_CONSENT)


# --- the store ------------------------------------------------------------------------------------------------------------


def test_a_new_passphrase_is_typed_twice_and_is_long_enough(home: Path, safe: Safe) -> None:
    for typed, again, why in (
        (PASSPHRASE, PASSPHRASE + "s", "were not the same"),
        (PASSPHRASE, "", "were not the same"),
        ("cake", "cake", "at least 8"),
    ):
        with pytest.raises(KeepingError, match=why):
            safe.take(Locking.NEW, Passphrase(typed, again))
    safe.take(Locking.NEW, TWICE)
    assert not home.exists()  # nobody has agreed to anything


def test_with_it_the_store_is_made_and_locked_when_everybody_has_agreed(home: Path, safe: Safe) -> None:
    safe.take(Locking.NEW, TWICE)
    safe.open(agreed(*[YES] * 14))
    assert safe.store and safe.store.is_locked
    assert sorted(path.name for path in home.iterdir() if path.suffix == ".locked") == [LOCKED_FILE]
    assert not (home / FILE).exists()
    open_store(home, DAY, PASSPHRASE).close()


def test_what_was_kept_before_is_locked_with_it(home: Path, safe: Safe) -> None:
    open_store(home, DAY).close()
    safe.take(Locking.NEW, TWICE)
    safe.open(agreed(*[YES] * 7, NO))  # no voices, but the words: they are locked, as was said
    assert safe.store and safe.store.is_locked and is_locked(home)


def test_where_somebody_says_no_nothing_is_made(home: Path, safe: Safe) -> None:
    safe.take(Locking.NEW, TWICE)
    safe.open(agreed(NO))
    assert safe.store is None and not home.exists()
    assert PASSPHRASE not in vars(safe).values()  # it has no use any more


def test_that_of_a_locked_store_is_tried_at_once(home: Path, safe: Safe) -> None:
    locked_store(home)
    assert safe.is_locked and not safe.takes_variable()
    with pytest.raises(KeepingError, match="that is not its passphrase"):
        safe.take(Locking.OPEN, Passphrase("four cakes"))
    safe.take(Locking.OPEN, Passphrase(PASSPHRASE))
    assert [path.name for path in home.iterdir()] == [LOCKED_FILE]  # nothing holds it yet
    state = replace(agreed(*[YES] * 14), offer=replace(AT_CONSENT.offer, is_locked=True))
    safe.open(state)
    assert safe.store and safe.store.sessions() == []


@pytest.mark.parametrize(("given", "opens"), [(PASSPHRASE, True), ("four cakes", False), ("", False)])
def test_nobody_is_asked_where_the_variable_opens_it(
    given: str, opens: bool, home: Path, safe: Safe, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv(kept_sessions.PASSPHRASE, given)
    assert not safe.takes_variable() and not home.exists()  # nothing is there to open
    locked_store(home)
    options = door().parse_args(["session", "--pages"])
    state = begin_with(options, replace(AT_CONSENT.offer, is_locked=safe.is_locked), safe.takes_variable())
    for level in ("timeline", "voices"):
        chosen = after(Choose(What.KEEP, level), state=replace(state, stage=Stage.CONSENT))
        assert chosen.locking is Locking.OPEN and chosen.waits_for_passphrase is not opens
    if opens:
        safe.open(after(*[YES] * 14, state=chosen))
        assert safe.store and safe.store.is_locked


def test_in_the_terminal_it_is_asked_for_unseen(home: Path, safe: Safe, monkeypatch: pytest.MonkeyPatch) -> None:
    typed = [PASSPHRASE, "another", PASSPHRASE, PASSPHRASE, "four cakes"]
    monkeypatch.setattr(kept_sessions, "getpass", lambda question: typed.pop(0))
    with pytest.raises(KeepingError, match="were not the same"):
        safe.ask(Locking.NEW)
    safe.ask(Locking.NEW)
    locked_store(home)
    with pytest.raises(KeepingError, match="not its passphrase"):
        safe.ask(Locking.OPEN)


# --- the page -------------------------------------------------------------------------------------------------------------


def test_the_page_sends_it_in_an_order_that_does_not_show_it() -> None:
    sent = read_set_up_order(json.dumps({"do": "unlock", "passphrase": PASSPHRASE, "again": "x", "at": "consent"}).encode())
    assert sent == Passphrase(PASSPHRASE, "x", "consent")
    assert repr(sent) == "Passphrase(at='consent')"


@pytest.mark.parametrize(
    "sent",
    [
        {"do": "unlock"},
        {"do": "unlock", "passphrase": ""},
        {"do": "unlock", "passphrase": 7},
        {"do": "unlock", "passphrase": PASSPHRASE, "again": None},
        {"do": "unlock", "passphrase": f"{PASSPHRASE}\0"},
        {"do": "unlock", "passphrase": f"{PASSPHRASE}\ud83c"},
        {"do": "unlock", "passphrase": PASSPHRASE * 10},
        {"do": "choose", "what": "passphrase", "value": PASSPHRASE},
    ],
)
def test_what_is_no_passphrase_is_refused_without_repeating_it(sent: object) -> None:
    with pytest.raises(BadOrderError) as why:
        read_set_up_order(json.dumps(sent).encode())
    assert PASSPHRASE not in str(why.value)


def test_the_longest_goes_through() -> None:
    longest = "\N{BIRTHDAY CAKE}" * LONGEST_PASSPHRASE
    with Rehearsal() as club:
        body = json.dumps({"do": "unlock", "passphrase": longest, "again": longest}, ensure_ascii=False).encode()
        assert club.order(body) == (400, "There is no such order.")  # read to its end, and not for the helper page


def test_no_page_of_a_session_takes_it_and_least_of_all_one_on_the_network() -> None:
    order = {"do": "unlock", "passphrase": PASSPHRASE}
    with pytest.raises(BadOrderError):
        read_order(json.dumps(order).encode(), [Seat.A, Seat.B], [])
    with Rehearsal(share=True) as club:
        assert club.shared
        for page, status in ((Page.HELPER, 400), (Page.ENGINEER, 404)):
            path = urlsplit(club.shared.address(page)).path
            assert post(ELSEWHERE, club.shared.port, f"{path}orders", order) == status
        assert list(club.board.orders()) == []


def test_what_the_page_is_told() -> None:
    voices, words = Choose(What.KEEP, "voices"), Choose(What.KEEP, "words")
    locked = replace(AT_CONSENT, offer=replace(AT_CONSENT.offer, is_locked=True))
    shared = replace(locked, offer=replace(locked.offer, in_terminal=True))
    assert '"fields": ["Passphrase", "The same once more"]' in told(after(voices, state=AT_CONSENT))
    assert '"fields": ["Passphrase"]' in told(after(words, state=locked))
    assert "Ask in the terminal" in told(after(words, state=shared)) and '"fields"' not in told(after(words, state=shared))
    assert "The passphrase is right." in told(after(words, Passphrase(PASSPHRASE), state=locked))
    assert "For the guardian of child A: may the voices be kept too?" in told(agreed(*[YES] * 7))
    assert "What is kept is locked with the passphrase." in told(after(Do(Deed.NEXT), state=agreed(*[YES] * 14)))


def post(host: str, port: int, path: str, order: object) -> int:
    connection = HTTPConnection(host, port, timeout=60)
    try:
        headers = {"Content-Type": "application/json", "Origin": f"http://{host}:{port}"}
        connection.request("POST", path, json.dumps(order).encode(), headers)
        return connection.getresponse().status
    finally:
        connection.close()


# --- a whole session ------------------------------------------------------------------------------------------------------


@dataclass
class Parent:
    """Somebody at the set-up page: presses what is to be pressed, reads what is to be read, and remembers all that was told."""

    orders: list[tuple[dict[str, str], str]]
    told: str = ""
    changed: threading.Condition = field(default_factory=threading.Condition)

    def __call__(self, line: str) -> None:
        if found := re.search(r"here: (http://\S+)", line):
            for work in (self._read, self._press):
                threading.Thread(target=work, args=(urlsplit(found[1]),), daemon=True).start()

    def _read(self, page: SplitResult) -> None:
        connection = HTTPConnection(page.netloc, timeout=60)
        connection.request("GET", f"{page.path}events")
        with suppress(OSError, HTTPException), closing(connection):  # a session that is killed says no goodbye
            for line in connection.getresponse():
                with self.changed:
                    self.told += line.decode()
                    self.changed.notify_all()

    def _press(self, page: SplitResult) -> None:
        for order, answer in self.orders:
            assert post(str(page.hostname), page.port or 0, f"{page.path}orders", order) == 204
            self.wait_for(answer)

    def wait_for(self, answer: str) -> None:
        """Until the page has been told this."""
        with self.changed:
            self.changed.wait_for(partial(self._was_told, answer), timeout=60)

    def _was_told(self, answer: str) -> bool:
        return answer in self.told


BEFORE = [
    *[{"do": "choose", "what": "children", "value": "2"}, {"do": "next"}],
    *[{"do": "choose", "what": "plan", "value": "little-boat"}, *[{"do": "next"}] * 3],
    {"do": "choose", "what": "keep", "value": "voices"},
]
WORDS = [{"do": "answer", "level": "words"}] * 5
VOICES = [*[{"do": "answer", "level": "voices"}] * 5, {"do": "next"}, {"do": "begin"}]
ROOM = ["session", "--pages", "--quiet", "--no-words", "--from", "demo_audio/voices/A.flac"]


def command(*words: str) -> str:
    """What another process says, which knows the passphrase."""
    environment = os.environ | {kept_sessions.PASSPHRASE: PASSPHRASE}
    run = [sys.executable, "-m", "assistant", *words]
    return subprocess.run(run, cwd=ROOT, check=True, capture_output=True, text=True, env=environment).stdout


@pytest.mark.parametrize("is_locked_before", [False, True])
def test_after_a_whole_session_the_voices_are_kept_and_the_passphrase_is_nowhere(
    is_locked_before: bool, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    data, again = tmp_path / "data", {} if is_locked_before else {"again": PASSPHRASE}
    monkeypatch.setenv("XDG_DATA_HOME", str(data))
    monkeypatch.delenv(kept_sessions.PASSPHRASE, raising=False)
    if is_locked_before:
        command("data", "lock")
    wrong = {"do": "unlock", "passphrase": "xylophone cake", **({} if is_locked_before else {"again": "xylophone pie"})}
    refused = "that is not its passphrase" if is_locked_before else "The two were not the same"
    orders = [*BEFORE, wrong, {"do": "unlock", "passphrase": PASSPHRASE, **again}, *WORDS, *VOICES]
    read = {len(BEFORE): refused, len(BEFORE) + 1: "how much may be kept?", -len(VOICES) - 1: "may the voices be kept too?"}
    parent = Parent([(order, read.get(at, read.get(at - len(orders), ""))) for at, order in enumerate(orders)])
    done, trace = traced(ROOM, tmp_path, watch=parent)
    assert done.returncode == 0, done.stderr
    assert all(sentence in parent.told for sentence in read.values())
    kept = command("data", "list")
    assert re.search("voices    until .* of sound", kept) and "C guardian" not in kept
    assert command("data", "check") == "1 session, nothing is wrong with it.\n"
    everything = [path.read_bytes() for path in tmp_path.rglob("*") if path.is_file()]
    for secret in (PASSPHRASE, "xylophone"):
        assert secret not in parent.told + done.stdout + done.stderr + trace
        assert not any(secret.encode() in raw for raw in everything)
    assert "sessions.locked" in trace


@pytest.mark.skipif(sys.platform != "linux", reason="a terminal of the test's own is Linux")
def test_where_the_pages_are_shared_the_terminal_asks_and_shows_nothing_of_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    monkeypatch.delenv(kept_sessions.PASSPHRASE, raising=False)
    command("data", "lock")
    here, waiting = "typed in the terminal, not here", "Type the passphrase in the terminal now."
    parent = Parent([(order, "") for order in BEFORE])
    parent.orders += [({"do": "unlock", "passphrase": PASSPHRASE}, here), ({"do": "ask in terminal"}, waiting)]
    keyboard, terminal = os.openpty()
    run = [sys.executable, "-m", "assistant", *ROOM, "--share"]
    with subprocess.Popen(run, cwd=ROOT, stdin=terminal, stdout=terminal, stderr=terminal, start_new_session=True) as session:
        os.close(terminal)
        said = ""
        for sign, then in (("(Ctrl+C gives up)", parent), ("Passphrase: ", str)):
            while sign not in said:
                said += os.read(keyboard, 4096).decode()
            then(said)
        os.write(keyboard, f"{PASSPHRASE}\n".encode())
        parent.wait_for("The passphrase is right.")
        session.kill()
        while more := read_or_nothing(keyboard):
            said += more
    os.close(keyboard)
    assert here in parent.told and waiting in parent.told and "The passphrase is right." in parent.told
    assert PASSPHRASE not in said + parent.told


def read_or_nothing(terminal: int) -> str:
    """What stands on a terminal; nothing where whoever wrote to it is gone."""
    try:
        return os.read(terminal, 4096).decode()
    except OSError:
        return ""
