"""Fetching a model from servers that break off, lie and attack: what comes is the model that was asked for, or nothing.

The server is one of ours on this machine; no test opens a connection to anywhere else.
"""

import hashlib
import io
import stat
import zipfile
from collections.abc import Callable, Iterator
from http.client import HTTPMessage
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from random import Random
from threading import Thread
from urllib.request import Request

import pytest

from assistant.devices import fetch as module
from assistant.devices.fetch import SMALL_ENGLISH, Offer, by_hand, fetch, offer
from assistant.devices.models import find_vosk_model
from assistant.errors import ModelError

NAME = "vosk-model-small-en-us-0.15"
NOISE = Random(1).randbytes(300_000)  # like weights, it does not shrink


def packed(files: dict[str, bytes], **how: int) -> bytes:
    memory = io.BytesIO()
    with zipfile.ZipFile(memory, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in files.items():
            member = zipfile.ZipInfo(name)
            member.compress_type = zipfile.ZIP_DEFLATED
            member.external_attr = how.get(name, 0) << 16
            archive.writestr(member, content)
    return memory.getvalue()


MODEL = packed({f"{NAME}/am/final.mdl": NOISE, f"{NAME}/conf/mfcc.conf": b"--use-energy=false\n", f"{NAME}/README": b"small"})

Answer = Callable[["Handler"], None]


class Handler(BaseHTTPRequestHandler):
    """Answers each request with the next answer in the list; the last one is given again and again."""

    answers: list[Answer]
    asked: list[str | None]

    def do_GET(self) -> None:
        self.asked.append(self.headers["Range"])
        answer = self.answers.pop(0) if len(self.answers) > 1 else self.answers[0]
        answer(self)

    def begin(self, code: int, **headers: str | int) -> None:
        self.send_response(code)
        for name, value in headers.items():
            self.send_header(name.replace("_", "-"), str(value))
        self.end_headers()

    def log_message(self, format: str, *args: object) -> None: ...


def whole(content: bytes, but: int | None = None) -> Answer:
    """All of it, from where it was asked for; with ``but``, the line breaks off after so many bytes."""

    def answer(handler: Handler) -> None:
        asked = handler.headers["Range"]
        start = int(asked.removeprefix("bytes=").rstrip("-")) if asked else 0
        rest = content[start:]
        if not rest:
            handler.begin(416)
            return
        more: dict[str, str | int] = {"Content_Range": f"bytes {start}-{len(content) - 1}/{len(content)}"} if asked else {}
        handler.begin(206 if asked else 200, Content_Length=len(rest), **more)
        handler.wfile.write(rest[:but])

    return answer


def deaf(content: bytes) -> Answer:
    """All of it, whatever range was asked for."""

    def answer(handler: Handler) -> None:
        handler.begin(200, Content_Length=len(content))
        handler.wfile.write(content)

    return answer


def status(code: int) -> Answer:
    return lambda handler: handler.begin(code, Content_Length=0)


def to(place: str) -> Answer:
    return lambda handler: handler.begin(302, Location=place, Content_Length=0)


def endless(handler: Handler) -> None:
    handler.begin(200)
    while True:
        try:
            handler.wfile.write(NOISE)
        except OSError:
            return


class Server:
    """A server in a thread, a folder to fetch into, and what was said on the way."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder

        class OneHandler(Handler):
            answers: list[Answer] = []
            asked: list[str | None] = []

        self.handler = OneHandler
        self.http = ThreadingHTTPServer(("127.0.0.1", 0), self.handler)
        self.address = f"http://127.0.0.1:{self.http.server_address[1]}/"
        self.progress: list[tuple[int, int | None]] = []
        self.pauses: list[float] = []
        Thread(target=self.http.serve_forever, kwargs={"poll_interval": 0.01}, daemon=True).start()

    def offer(self, content: bytes, *, sized: bool = True) -> Offer:
        size = len(content) if sized else None
        return Offer(NAME, hashlib.sha256(content).hexdigest(), size, address=self.address)

    def fetch(self, *answers: Answer, content: bytes = MODEL, sized: bool = True) -> Path:
        self.handler.answers[:] = answers
        wanted = self.offer(content, sized=sized)
        return fetch(wanted, self.folder, lambda done, total: self.progress.append((done, total)), pause=self.pauses.append)

    def refusal(self, *answers: Answer, content: bytes = MODEL, sized: bool = True) -> str:
        with pytest.raises(ModelError) as caught:
            self.fetch(*answers, content=content, sized=sized)
        assert find_vosk_model(self.folder, "en") is None
        return str(caught.value)

    @property
    def left(self) -> list[str]:
        """What lies in the folder."""
        return sorted(path.name for path in self.folder.iterdir())

    @property
    def ranges(self) -> list[str | None]:
        return self.handler.asked


@pytest.fixture
def server(tmp_path: Path) -> Iterator[Server]:
    server = Server(tmp_path / "models")
    yield server
    server.http.shutdown()
    server.http.server_close()


# --- it comes -----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("sized", [True, False])
def test_a_model_is_fetched_checked_unpacked_and_found(server: Server, sized: bool) -> None:
    home = server.fetch(whole(MODEL), sized=sized)
    assert home == find_vosk_model(server.folder, "en") == server.folder / NAME
    assert (home / "am" / "final.mdl").read_bytes() == NOISE
    assert server.left == [NAME]
    assert server.progress[-1] == (len(MODEL), len(MODEL))
    assert [done for done, _ in server.progress] == sorted(done for done, _ in server.progress)


def test_what_is_already_there_is_not_fetched_again(server: Server) -> None:
    server.fetch(whole(MODEL))
    assert server.fetch(status(500)) == server.folder / NAME
    assert server.ranges == [None]


def test_it_follows_the_server_elsewhere(server: Server) -> None:
    server.fetch(to(server.address + "elsewhere"), to("/there"), whole(MODEL))
    assert server.left == [NAME]


def test_an_archive_with_the_model_at_its_top(server: Server) -> None:
    content = packed({"am/final.mdl": NOISE})
    assert (server.fetch(whole(content), content=content) / "am" / "final.mdl").is_file()


# --- the line -----------------------------------------------------------------------------------------------------------


def test_after_a_break_it_goes_on_where_it_was(server: Server) -> None:
    server.fetch(whole(MODEL, but=100_000), whole(MODEL, but=50_000), whole(MODEL))
    assert server.ranges == [None, "bytes=100000-", "bytes=150000-"]
    assert server.pauses == [2, 4]
    assert server.left == [NAME]


def test_what_came_is_kept_and_the_next_call_goes_on(server: Server) -> None:
    sentence = server.refusal(whole(MODEL, but=60_000))
    assert "0.2 MB came and are kept: run the same command to go on" in sentence
    assert len(server.ranges) == 4
    server.fetch(whole(MODEL))
    assert server.ranges[4:] == ["bytes=240000-"]
    assert server.left == [NAME]


def test_a_server_that_cannot_go_on_sends_all_of_it_again(server: Server) -> None:
    server.fetch(whole(MODEL, but=100_000), deaf(MODEL))
    assert server.left == [NAME]


def test_a_server_that_goes_on_from_another_place_is_not_believed(server: Server) -> None:
    def elsewhere(handler: Handler) -> None:
        handler.begin(206, Content_Length=len(MODEL), Content_Range=f"bytes 0-{len(MODEL) - 1}/{len(MODEL)}")
        handler.wfile.write(MODEL)

    server.fetch(whole(MODEL, but=100_000), elsewhere)
    assert server.left == [NAME]


def test_a_busy_server_is_asked_again(server: Server) -> None:
    server.fetch(status(503), status(500), whole(MODEL))
    assert server.left == [NAME]


def test_a_line_that_stalls_is_one_that_broke_off(server: Server, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(module, "STALL_S", 0.2)

    def stalls(handler: Handler) -> None:
        handler.begin(200, Content_Length=len(MODEL))
        handler.wfile.write(MODEL[:100_000])
        handler.rfile.read(1)  # until the other side hangs up

    server.fetch(stalls, whole(MODEL))
    assert server.ranges == [None, "bytes=100000-"]
    assert server.left == [NAME]


def test_everything_had_come_but_the_program_was_ended_before_it_was_checked(server: Server) -> None:
    server.folder.mkdir()
    (server.folder / f".{NAME}.zip.part").write_bytes(MODEL)
    server.fetch(status(500))
    assert (server.ranges, server.left) == ([], [NAME])
    (server.folder / NAME).rename(server.folder / "old")
    (server.folder / f".{NAME}.zip.part").write_bytes(MODEL)
    server.fetch(whole(MODEL), sized=False)  # without a known size the server has to say that there is no more
    assert server.left == ["old", NAME]


def test_nobody_answers(server: Server) -> None:
    server.http.shutdown()
    server.http.server_close()
    assert "could not be fetched whole" in server.refusal(status(500))


def test_no_such_model(server: Server) -> None:
    sentence = server.refusal(status(404))
    assert sentence == f"{server.address}{NAME}.zip answers 404 Not Found. Is the name right? No model came."
    assert len(server.ranges) == 1  # asking again would not help


def test_a_server_that_sends_us_in_circles(server: Server) -> None:
    assert "answers 302" in server.refusal(to("/round"))


# --- what comes is not the model ----------------------------------------------------------------------------------------


@pytest.mark.parametrize("sized", [True, False])
def test_one_bit_is_other(server: Server, sized: bool) -> None:
    other = bytearray(MODEL)
    other[70_000] ^= 1
    sentence = server.refusal(whole(bytes(other)), sized=sized)
    assert "is not the model that was asked for: its SHA-256 digest is" in sentence
    assert server.left == []


@pytest.mark.parametrize("content", [MODEL[:-1], MODEL + b"x", b"<html>Log in to the hotel's network</html>"])
def test_another_size_is_noticed_before_it_is_fetched(server: Server, content: bytes) -> None:
    assert "That is not this model; nothing was kept" in server.refusal(whole(content))
    assert (server.left, server.progress) == ([], [])


@pytest.mark.parametrize("sized", [True, False])
def test_a_server_that_never_ends(server: Server, monkeypatch: pytest.MonkeyPatch, sized: bool) -> None:
    monkeypatch.setattr(module, "LARGEST_ZIP_BYTES", 1_000_000)
    assert "That is not this model; nothing was kept" in server.refusal(endless, sized=sized)
    assert server.left == []


def test_an_encrypted_line_is_never_left_for_an_open_one() -> None:
    redirect = module._SaferRedirect().redirect_request
    asked = Request("https://models.example/a.zip")
    headers = HTTPMessage()
    with pytest.raises(ModelError, match="which is not encrypted. Nothing was fetched"):
        redirect(asked, io.BytesIO(), 302, "Found", headers, "http://models.example/a.zip")
    onward = redirect(asked, io.BytesIO(), 302, "Found", headers, "https://mirror.example/a.zip")
    assert onward is not None and onward.full_url == "https://mirror.example/a.zip"


# --- archives that attack -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "name",
    [
        "../outside",
        f"{NAME}/../../outside",
        "/etc/outside",
        "C:/outside",
        "a\\..\\..\\outside",
        "a//b",
        "./a",
        "..",
        "a:stream",
    ],
)
def test_a_name_that_leads_outside(server: Server, tmp_path: Path, name: str) -> None:
    content = packed({f"{NAME}/am/final.mdl": NOISE, name: b"out"})
    assert "which no model needs. Nothing was kept of it" in server.refusal(whole(content), content=content)
    assert list(tmp_path.rglob("*")) == [server.folder]
    assert not Path("/etc/outside").exists()


@pytest.mark.parametrize("kind", [stat.S_IFLNK, stat.S_IFIFO, stat.S_IFCHR])
def test_a_link_or_a_device(server: Server, kind: int) -> None:
    name = f"{NAME}/link"
    content = packed({f"{NAME}/am/final.mdl": NOISE, name: b"/etc/passwd"}, **{name: kind | 0o777})
    assert "which no model needs" in server.refusal(whole(content), content=content)


def test_a_bomb(server: Server) -> None:
    content = packed({f"{NAME}/am/final.mdl": bytes(50_000_000)})
    assert len(content) < 100_000
    assert "would swell to 50,000,000 bytes" in server.refusal(whole(content), content=content)


def test_a_bomb_of_many_files(server: Server) -> None:
    content = packed({f"{NAME}/{number}": b"" for number in range(3_000)})
    assert "holds 3,000 files" in server.refusal(whole(content), content=content)


def test_a_bomb_that_lies_about_its_size(server: Server) -> None:
    """The directory at the end promises 1,000 bytes; the data swell to 50 million."""
    content = packed({f"{NAME}/am/final.mdl": bytes(50_000_000), f"{NAME}/noise": NOISE})
    lie = (50_000_000).to_bytes(4, "little")
    assert content.count(lie) == 2
    content = content.replace(lie, (1_000).to_bytes(4, "little"))
    assert "cannot be unpacked" in server.refusal(whole(content), content=content)


@pytest.mark.filterwarnings("ignore:Duplicate name")
def test_the_same_name_twice(server: Server) -> None:
    content = packed({f"{NAME}/am/final.mdl": NOISE, f"{NAME}/AM/final.mdl": b"other"})
    assert "the same name twice" in server.refusal(whole(content), content=content)


def test_a_name_that_is_both_file_and_folder(server: Server) -> None:
    content = packed({f"{NAME}/am/final.mdl": NOISE, f"{NAME}/conf": b"", f"{NAME}/conf/mfcc.conf": b""})
    assert "cannot be unpacked" in server.refusal(whole(content), content=content)


@pytest.mark.parametrize("content", [b"no zip at all" * 100, MODEL[:-40], packed({"readme.txt": b"hello"}), packed({})])
def test_what_is_no_archive_or_holds_no_model(server: Server, content: bytes) -> None:
    sentence = server.refusal(whole(content), content=content)
    assert "cannot be unpacked" in sentence or "holds no Vosk model" in sentence
    assert server.left == []


def test_an_archive_damaged_inside(server: Server) -> None:
    content = bytearray(MODEL)
    content[2_000:2_100] = bytes(100)
    assert "cannot be unpacked" in server.refusal(whole(bytes(content)), content=bytes(content))


def test_a_folder_that_cannot_be_written_to(server: Server) -> None:
    server.folder.write_bytes(b"a file, where the folder should be")
    with pytest.raises(ModelError, match="cannot be written to .* Make room there, or make it yours"):
        server.fetch(whole(MODEL))


# --- what can be asked for ----------------------------------------------------------------------------------------------


def test_the_small_english_model_is_offered_with_its_digest() -> None:
    """Address, size and digest as measured when the project began; the digest agrees in ten independent packagings."""
    assert SMALL_ENGLISH.url == "https://alphacephei.com/vosk/models/vosk-model-small-en-us-0.15.zip"
    assert (SMALL_ENGLISH.size, SMALL_ENGLISH.sha256[:8], len(SMALL_ENGLISH.sha256)) == (41_205_931, "30f26242", 64)


def test_another_language_is_asked_for_by_name_and_digest() -> None:
    assert offer("vosk-model-small-de-0.15", "AB" * 32) == Offer("vosk-model-small-de-0.15", "ab" * 32)


@pytest.mark.parametrize(
    "name", ["", "german", "vosk-model-../../x", "vosk-model-small-de/..", "https://a/vosk-model-de", "vosk-model- "]
)
def test_what_is_no_name(name: str) -> None:
    with pytest.raises(ModelError, match="is no name of a Vosk model. Copy one from"):
        offer(name, "0" * 64)


@pytest.mark.parametrize("digest", ["", "1234", "g" * 64, "0" * 63, "0" * 65])
def test_what_is_no_digest(digest: str) -> None:
    with pytest.raises(ModelError, match="is no SHA-256 digest"):
        offer("vosk-model-small-de-0.15", digest)


def test_it_can_be_done_by_hand(tmp_path: Path) -> None:
    sentence = by_hand(SMALL_ENGLISH, tmp_path)
    for part in (SMALL_ENGLISH.url, SMALL_ENGLISH.sha256, str(tmp_path / SMALL_ENGLISH.name / "am" / "final.mdl")):
        assert part in sentence
