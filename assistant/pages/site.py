"""What all our pages have in common over HTTP: keys, files, the line on which a page is told, and orders.

What lives here: the routes that every page has. What must not: what a page is told or can order, who may ask (``guard``), a
thread.

::

    /KEY/                 the page that this key opens: its HTML, and beside it
    /KEY/page.css …       its looks and its one script
    /KEY/icon/swap.svg    icons of our own
    /KEY/events           the newest snapshot, again whenever it changes (server-sent events)
    /KEY/orders           what the adult wants (POST; only where a page gives orders)

Each page has a key of its own, drawn anew for each session. A key opens its own page and says nothing of the others.
"""

import asyncio
import json
import secrets
from collections.abc import AsyncIterator, Callable, Iterable, Mapping
from pathlib import Path
from string import Template
from typing import Any, Generic, TypeVar

from starlette.applications import Starlette
from starlette.exceptions import HTTPException
from starlette.requests import ClientDisconnect, Request
from starlette.responses import PlainTextResponse, Response, StreamingResponse
from starlette.routing import Route
from starlette.types import ASGIApp

from assistant.core.plans.look import Look
from assistant.errors import SharedError
from assistant.pages.board import Notices, Posted, Wish
from assistant.pages.orders import BadOrderError

FILES = Path(__file__).parent / "files"
LOOK_EVERY_S = 0.05  # how often an open page looks for a newer snapshot: a tick nobody sees, and nobody waits for it
SILENCE_S = 5.0  # after this much silence a stream says that it is still there
LONGEST_ORDER = 2048  # bytes: a passphrase twice, four bytes a letter, and what is around it
MOST_STREAMS = 64

_ICONS = {"room": "build", "helper": "adult", "engineer": "engineer", "setup": "set%20up"}  # in the browser's tab
TYPES = {
    ".css": "text/css", ".js": "text/javascript", ".svg": "image/svg+xml", ".jpg": "image/jpeg", ".ttf": "font/ttf",
}  # fmt: skip
Name = TypeVar("Name", bound=str)


def fresh_keys(pages: Iterable[Name]) -> Mapping[Name, str]:
    """A key for each page: 128 bits that nobody can guess."""
    return {page: secrets.token_urlsafe(16) for page in pages}


class Site(Generic[Name, Posted, Wish]):
    """Some pages that belong together.

    Args:
        board: what they read from, and hand orders to.
        tell: what a page is told of a snapshot.
        keys: which key opens which page.
        html: each page, its words filled in.
        files: everything beside it that does not change, by its place under a key.
        orders: what a page's orders mean; a page that is not in it gives none.
    """

    def __init__(
        self,
        board: Notices[Posted, Wish],
        tell: Callable[[Name, Posted], Mapping[str, Any]],
        keys: Mapping[Name, str],
        html: Mapping[Name, str],
        files: Mapping[str, bytes],
        orders: Mapping[Name, Callable[[bytes], Wish]],
    ) -> None:
        self.board = board
        self.keys = keys
        self.tell = tell
        self._html = html
        self._files = our_files() | dict(files)
        self._orders = orders
        self._told: dict[Name, tuple[int, bytes]] = {}
        self._streams = 0
        self._asked_for: set[Name] = set()
        self._told_the_end: set[Name] = set()
        self.is_closing = False
        self.app: ASGIApp = Starlette(routes=self.routes(), exception_handlers={HTTPException: nothing_here})

    def routes(self) -> list[Route]:
        """What answers at which address; the more particular first."""
        return [
            Route("/{key}/", self._page),
            Route("/{key}/events", self._events),
            Route("/{key}/orders", self._order, methods=["POST"]),
            Route("/{key}/{file:path}", self._file),
        ]

    @property
    def is_owed_the_end(self) -> bool:
        """Whether it is all over and an open page does not know it yet; one whose line broke may be on its way back."""
        if not self.board.newest[1].is_over:
            return False
        return self._streams > 0 or not self._asked_for <= self._told_the_end

    def page_of(self, key: str) -> Name | None:
        """The page that this key opens; every key is compared in full, however early it differs."""
        found = [page for page, known in self.keys.items() if secrets.compare_digest(known.encode(), key.encode())]
        return found[0] if found else None

    def opened(self, request: Request) -> Name:
        """The page that was asked for."""
        page = self.page_of(request.path_params["key"])
        if page is None:
            raise HTTPException(404)
        return page

    # --- answers ----------------------------------------------------------------------------------------------------------

    async def _page(self, request: Request) -> Response:
        page = self.opened(request)
        self._asked_for.add(page)
        return Response(self._html[page], media_type="text/html")

    async def _file(self, request: Request) -> Response:
        self.opened(request)
        name = request.path_params["file"]
        if name not in self._files:
            raise HTTPException(404)
        return Response(self._files[name], media_type=TYPES[Path(name).suffix])

    async def _order(self, request: Request) -> Response:
        read = self._orders.get(self.opened(request))
        if read is None:
            raise HTTPException(404)
        if request.headers.get("content-type") != "application/json":
            raise HTTPException(415)
        try:
            order = read(await _body(request))
        except BadOrderError as error:
            return PlainTextResponse(str(error), 400)
        if not self.board.offer(order):
            raise HTTPException(503)
        return Response(status_code=204)

    async def _events(self, request: Request) -> Response:
        page = self.opened(request)
        if self._streams >= MOST_STREAMS:
            raise HTTPException(503)
        return StreamingResponse(self._stream(page), media_type="text/event-stream")

    async def _stream(self, page: Name) -> AsyncIterator[bytes]:
        """The newest snapshot whenever there is a newer one; whoever reads slowly misses those between."""
        self._streams += 1
        seen, silent_s = -1, 0.0
        try:
            yield b"retry: 1000\n\n"
            while not self.is_closing:
                number, snapshot = self.board.newest
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

    def _as_json(self, page: Name, number: int, snapshot: Posted) -> bytes:
        """Put into words once for all who have this page open."""
        told_number, told = self._told.get(page, (-1, b""))
        if told_number != number:
            told = json.dumps(self.tell(page, snapshot)).encode()
            self._told[page] = number, told
        return told


def filled(name: str, words: Mapping[str, str], **markup: str) -> str:
    """A page's HTML, in the frame that all pages have. ``words`` are escaped already, ``markup`` is ours.

    Raises:
        SharedError: it needs a word that is not there.
    """
    try:
        body = _template(name).substitute(words, **markup)
        return _template("frame").substitute(title=words["title"], name=name, icon=_ICONS[name], body=body)
    except KeyError as error:
        raise SharedError(f"shared/: the page {name!r} needs the word {error}. Write it there.") from error


def _template(name: str) -> Template:
    return Template((FILES / f"{name}.html").read_text(encoding="utf-8"))


def our_files() -> dict[str, bytes]:
    """The looks and the scripts."""
    return {path.name: path.read_bytes() for path in FILES.iterdir() if path.suffix in (".css", ".js")}


async def nothing_here(_: Request, error: Exception) -> Response:
    """The same few words for whatever is not there: nothing is told of what is."""
    status = error.status_code if isinstance(error, HTTPException) else 500
    return PlainTextResponse("There is nothing here.", status)


async def _body(request: Request) -> bytes:
    """The body, read no further than an order is long."""
    body = b""
    try:
        async for part in request.stream():
            body += part
            if len(body) > LONGEST_ORDER:
                raise HTTPException(413)
    except ClientDisconnect as error:  # a page that was closed
        raise HTTPException(400) from error
    return body


def palette(look: Look) -> str:
    """The colours of ``shared/look.toml`` as CSS variables."""
    inks = {ink: getattr(look, ink) for ink in ("dark", "quiet", "faint", "line", "paper", "shade")}
    lines = "".join(f"  --{name}: {colour};\n" for name, colour in (inks | dict(look.roles)).items())
    return f":root {{\n{lines}}}\n"
