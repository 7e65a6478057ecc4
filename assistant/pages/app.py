"""The pages over HTTP: what lies at which address.

What lives here: the routes. What must not: what a page is told (``telling``), who may ask (``guard``), a thread.

::

    /KEY/                 the page that this key opens: its HTML, and beside it
    /KEY/page.css …       its looks and its one script
    /KEY/icon/swap.svg    icons of our own
    /KEY/step/3.svg       helper and engineer: the step being built, or the one told just before it
    /KEY/events           the newest snapshot, again whenever it changes (server-sent events)
    /KEY/orders           what the adult wants (POST; helper only)

Each page has a key of its own, drawn anew for each session. A key opens its own page and says nothing of the others (the
adult's alone leads to all), so that the engineer's picture cannot be reached from the room page.
"""

import asyncio
import json
import secrets
from collections import deque
from collections.abc import AsyncIterator, Iterable, Mapping
from dataclasses import dataclass, field
from html import escape
from pathlib import Path
from string import Template

from starlette.applications import Starlette
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import PlainTextResponse, Response, StreamingResponse
from starlette.routing import Route
from starlette.types import ASGIApp

from assistant.core.club.keys import help_lines
from assistant.core.plans.look import Look
from assistant.errors import SharedError
from assistant.pages.board import Board, Snapshot
from assistant.pages.guard import Guard
from assistant.pages.orders import BadOrderError, read_order
from assistant.pages.telling import Page, Teller

FILES = Path(__file__).parent / "files"
LOOK_EVERY_S = 0.05  # how often an open page looks for a newer snapshot: a tick nobody sees, and the road never waits for it
SILENCE_S = 5.0  # after this much silence a stream says that it is still there
LONGEST_ORDER = 1024  # bytes
MOST_STREAMS = 64

_TYPES = {".css": "text/css", ".js": "text/javascript", ".svg": "image/svg+xml", ".ttf": "font/ttf"}


@dataclass(frozen=True, slots=True)
class Drawn:
    """All pictures, drawn before the session starts: steps from the first, icons by name, the typeface by its file's name."""

    look: Look
    steps: tuple[str, ...]
    icons: Mapping[str, str]
    fonts: Mapping[str, bytes] = field(default_factory=dict)


Keys = Mapping[Page, str]
"""Which key opens which page."""


def fresh_keys(pages: Iterable[Page] = Page) -> Keys:
    """A key for each page: 128 bits that nobody can guess."""
    return {page: secrets.token_urlsafe(16) for page in pages}


class Pages:
    """The pages of one session.

    Args:
        board: what they read from, and hand orders to.
        teller: puts snapshots into words.
        drawn: the pictures.
        keys: which key opens which page.
    """

    def __init__(self, board: Board, teller: Teller, drawn: Drawn, keys: Keys) -> None:
        self._board = board
        self._teller = teller
        self._drawn = drawn
        self._keys = keys
        self._html = {page: self._filled(page) for page in keys}
        self._files = self._gathered()
        self._told: dict[Page, tuple[int, bytes]] = {}
        self._pictured: deque[int] = deque(maxlen=2)  # the steps that were told last: a page may ask when the next has begun
        self._streams = 0
        self._asked_for: set[Page] = set()
        self._told_the_end: set[Page] = set()
        self.is_closing = False

    @property
    def is_owed_the_end(self) -> bool:
        """Whether the session is over and an open page does not know it yet; one whose line broke may be on its way back."""
        if not self._board.newest[1].is_over:
            return False
        return self._streams > 0 or not self._asked_for <= self._told_the_end

    def app(self, hosts: Iterable[str]) -> ASGIApp:
        """The application, guarded."""
        routes = [
            Route("/{key}/", self._page),
            Route("/{key}/events", self._events),
            Route("/{key}/orders", self._order, methods=["POST"]),
            Route("/{key}/step/{number:int}.svg", self._step),
            Route("/{key}/{file:path}", self._file),
        ]
        return Guard(Starlette(routes=routes, exception_handlers={HTTPException: _refused}), hosts)

    # --- what lies there --------------------------------------------------------------------------------------------------

    def _filled(self, page: Page) -> str:
        """The page's HTML with its words in it, each escaped."""
        texts = self._teller.texts
        rules = "".join(f"<li>{escape(rule)}</li>" for rule in texts.rules)
        keys = "".join(f"<li>{escape(line)}</li>" for line in help_lines())
        links = "".join(self._link(other) for other in self._keys if other is not page) if page is Page.HELPER else ""
        words = {word: escape(text) for word, text in texts.page[page].items()}
        template = Template((FILES / f"{page.value}.html").read_text(encoding="utf-8"))
        try:
            return template.substitute(words, rules=rules, keyboard=keys, links=links)
        except KeyError as error:
            raise SharedError(f"shared/pages: {error} is missing under [{page.value}]. Write it there.") from error

    def _link(self, page: Page) -> str:
        """From the helper's page to another that has a key here."""
        text = escape(self._teller.texts.page[Page.HELPER][f"open_{page.value}"])
        return f'<a class="button" href="../{self._keys[page]}/" target="_blank" rel="noopener">{text}</a>'

    def _gathered(self) -> dict[str, bytes]:
        """Everything that does not change, by its place under a key."""
        files = {path.name: path.read_bytes() for path in FILES.iterdir() if path.suffix in (".css", ".js")}
        files |= {f"icon/{name}.svg": svg.encode() for name, svg in self._drawn.icons.items()}
        files |= {f"font/{name}": font for name, font in self._drawn.fonts.items()}
        return files | {"look.css": _palette(self._drawn.look).encode()}

    def _opened(self, request: Request) -> Page:
        """The page that this key opens; every key is compared in full, however early it differs."""
        key = request.path_params["key"].encode()
        found = [page for page, known in self._keys.items() if secrets.compare_digest(known.encode(), key)]
        if not found:
            raise HTTPException(404)
        return found[0]

    # --- answers ----------------------------------------------------------------------------------------------------------

    async def _page(self, request: Request) -> Response:
        page = self._opened(request)
        self._asked_for.add(page)
        return Response(self._html[page], media_type="text/html")

    async def _file(self, request: Request) -> Response:
        self._opened(request)
        name = request.path_params["file"]
        if name not in self._files:
            raise HTTPException(404)
        return Response(self._files[name], media_type=_TYPES[Path(name).suffix])

    async def _step(self, request: Request) -> Response:
        page, number = self._opened(request), request.path_params["number"]
        step = self._teller.step_of(self._board.newest[1])
        now = {step.number} if step else set()
        if page is Page.ROOM or number not in now.union(self._pictured):
            raise HTTPException(404)
        return Response(self._drawn.steps[number - 1], media_type=_TYPES[".svg"])

    async def _order(self, request: Request) -> Response:
        if self._opened(request) is not Page.HELPER:
            raise HTTPException(404)
        if request.headers.get("content-type") != "application/json":
            raise HTTPException(415)
        try:
            order = read_order(await _body(request), self._teller.settings.seats, self._teller.texts.tally)
        except BadOrderError as error:
            return PlainTextResponse(str(error), 400)
        if not self._board.offer(order):
            raise HTTPException(503)
        return Response(status_code=204)

    async def _events(self, request: Request) -> Response:
        page = self._opened(request)
        if self._streams >= MOST_STREAMS:
            raise HTTPException(503)
        return StreamingResponse(self._stream(page), media_type="text/event-stream")

    async def _stream(self, page: Page) -> AsyncIterator[bytes]:
        """The newest snapshot whenever there is a newer one; whoever reads slowly misses those between."""
        self._streams += 1
        seen, silent_s = -1, 0.0
        try:
            yield b"retry: 1000\n\n"
            while not self.is_closing:
                number, snapshot = self._board.newest
                if number != seen:
                    seen, silent_s = number, 0.0
                    yield b"data: " + self._as_json(page, number, snapshot) + b"\n\n"
                    if snapshot.is_over:
                        self._told_the_end.add(page)
                        return
                elif silent_s >= SILENCE_S:
                    silent_s = 0.0
                    yield b": still here\n\n"
                await asyncio.sleep(LOOK_EVERY_S)
                silent_s += LOOK_EVERY_S
        finally:
            self._streams -= 1

    def _as_json(self, page: Page, number: int, snapshot: Snapshot) -> bytes:
        """Put into words once for all who have this page open."""
        told_number, told = self._told.get(page, (-1, b""))
        if told_number != number:
            told = json.dumps(self._teller.tell(page, snapshot)).encode()
            step = self._teller.step_of(snapshot)
            if step and step.number not in self._pictured:
                self._pictured.append(step.number)
            self._told[page] = number, told
        return told


async def _body(request: Request) -> bytes:
    """The body, read no further than an order is long."""
    body = b""
    async for part in request.stream():
        body += part
        if len(body) > LONGEST_ORDER:
            raise HTTPException(413)
    return body


async def _refused(_: Request, error: Exception) -> Response:
    """The same few words for whatever is not there: nothing is told of what is."""
    status = error.status_code if isinstance(error, HTTPException) else 500
    return PlainTextResponse("There is nothing here.", status)


def _palette(look: Look) -> str:
    """The colours of ``shared/look.toml`` as CSS variables."""
    inks = {ink: getattr(look, ink) for ink in ("dark", "quiet", "faint", "line", "paper", "shade")}
    lines = "".join(f"  --{name}: {colour};\n" for name, colour in (inks | dict(look.roles)).items())
    return f":root {{\n{lines}}}\n"
