"""A whole club with its pages, in which time goes by only when the test says so."""

import io
import threading
from collections.abc import Iterable, Iterator, Sequence
from http.client import HTTPConnection, HTTPResponse
from queue import Queue
from types import TracebackType

from rich.console import Console

from assistant.assembly import Sources, open_site, open_texts, rules_on_display
from assistant.club import Club, OpenPages, Wishes
from assistant.commands.pages import SHARED
from assistant.core.club.settings import Settings
from assistant.events import Heard
from assistant.pages.app import Keys, fresh_keys
from assistant.pages.board import Board
from assistant.pages.server import HERE, Server
from assistant.pages.telling import Page
from assistant.run import Road
from assistant.samples import Frame
from tests.fakes import SHORT, ListSpeaker, ScriptedEars, a_session, conversation, silence

ELSEWHERE = "127.0.0.2"  # stands for the home network: another address of this machine

TALK = conversation(
    (20, "A: can i have the red one please"),
    (22.5, "B: which one"),
    (24, "A: the long one"),
    (25.8, "?: mine"),
    (28, "C: done"),
)


class Rehearsal:
    """The real club, with scripted ears, and its pages; entered, it stands at 0:00 until :meth:`play`."""

    def __init__(
        self,
        talk: Iterable[Heard] = TALK,
        settings: Settings = SHORT,
        share: bool = False,
        own: Sequence[str] = (),
    ) -> None:
        self._rules = rules_on_display(False, own)
        self.board = Board()
        self.session = a_session(settings=settings)
        self.speaker = ListSpeaker()
        self._keys = fresh_keys()
        self._frames: Queue[Frame | None] = Queue()
        self._still: Iterator[Frame] = silence(settings.length_s + 30)
        self._shared_keys = fresh_keys(SHARED)
        self.shared = self._serve(self._shared_keys, host=ELSEWHERE) if share else None
        road = Road(ScriptedEars(talk), self.session, self.speaker)
        self.club = Club(road, Wishes(), Console(file=io.StringIO()), open_texts(), pages=OpenPages(self.board, self.shared))
        self._thread = threading.Thread(target=self.club.follow, args=(iter(self._frames.get, None),), daemon=True)
        self.server = self._serve(self._keys)

    def __enter__(self) -> "Rehearsal":
        self.server.__enter__()
        if self.shared:
            self.shared.__enter__()
        self._thread.start()
        self.play(1.0)
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None) -> None:
        self.server.stop()  # at once: no page is left that has to hear the end
        if self.shared:
            self.shared.stop()
        self._frames.put(None)
        self._thread.join()
        self.server.__exit__(None, None, None)
        if self.shared:
            self.shared.__exit__(None, None, None)

    def play(self, to_s: float) -> None:
        """Let the club go on until this second of the session, and wait until it has got there."""
        for frame in self._still:
            self._frames.put(frame)
            if frame.end_sample >= to_s * 16_000:
                break
        length = self.session.settings.length_samples
        while self._thread.is_alive() and self.club.sample < min(frame.end_sample, length):
            self._thread.join(0.005)
        while self._thread.is_alive() and frame.end_sample >= length and not self.board.newest[1].is_over:
            self._thread.join(0.005)

    def step(self) -> None:
        """Let one second go by, in which orders are taken."""
        self.play(self.club.sample / 16_000 + 1)

    def lose(self) -> None:
        """The pages' server is gone; the session goes on."""
        self.server.__exit__(None, None, None)

    def regain(self) -> None:
        """It is there again, at the same address."""
        self.server = self._serve(self._keys, port=self.server.port)
        self.server.__enter__()

    def address(self, page: Page) -> str:
        """Where this page is."""
        return self.server.address(page)

    def path(self, page: Page, file: str = "") -> str:
        """The same without the host."""
        return f"/{self._keys[page]}/{file}"

    def ask(
        self, path: str, *, method: str = "GET", body: bytes | None = None, headers: dict[str, str] | None = None
    ) -> tuple[int, HTTPResponse, bytes]:
        """One plain request, with the right Host unless the headers say otherwise."""
        connection = HTTPConnection("127.0.0.1", self.server.port, timeout=20)
        try:
            connection.request(method, path, body, headers or {})
            answer = connection.getresponse()
            return answer.status, answer, answer.read()
        finally:
            connection.close()

    def order(self, body: bytes, **headers: str) -> tuple[int, str]:
        """An order as the helper page sends it, but for these headers."""
        sent = {"Content-Type": "application/json", "Origin": f"http://127.0.0.1:{self.server.port}"} | headers
        status, _, text = self.ask(self.path(Page.HELPER, "orders"), method="POST", body=body, headers=sent)
        return status, text.decode()

    def _serve(self, keys: Keys, host: str = HERE, port: int = 0) -> Server:
        sources = Sources("a script", "nobody")
        return Server(open_site(self.session, self.board, sources, rules=self._rules, keys=keys), host, port)
