"""The pages of a session: the room, the helper, the engineer.

What lives here: how their HTML is filled, and the pictures of the steps. What must not: what every page has (``site``), what a
page is told (``telling``).

::

    /KEY/step/3.svg       helper and engineer: the step being built, or the one told just before it

The adult's key alone leads to the others, so that the engineer's picture cannot be reached from the room page.
"""

from collections import deque
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from functools import partial
from html import escape

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from assistant.core.club.keys import help_lines
from assistant.core.plans.look import Look
from assistant.pages import site
from assistant.pages.board import Board, Order, Snapshot
from assistant.pages.orders import read_order
from assistant.pages.site import TYPES, Site, filled, palette
from assistant.pages.telling import Page, Teller, Told

Keys = Mapping[Page, str]
"""Which key opens which page."""


@dataclass(frozen=True, slots=True)
class Drawn:
    """All pictures, drawn before the session starts: steps from the first, icons by name, the typeface by its file's name."""

    look: Look
    steps: tuple[str, ...]
    icons: Mapping[str, str]
    fonts: Mapping[str, bytes] = field(default_factory=dict)

    @property
    def files(self) -> dict[str, bytes]:
        """What every page may fetch, by its place under a key."""
        icons = {f"icon/{name}.svg": svg.encode() for name, svg in self.icons.items()}
        return icons | {f"font/{name}": font for name, font in self.fonts.items()} | {"look.css": palette(self.look).encode()}


def fresh_keys(pages: Iterable[Page] = Page) -> Keys:
    """A key for each page: 128 bits that nobody can guess."""
    return site.fresh_keys(pages)


class Pages(Site[Page, Snapshot, Order]):
    """The pages of one session.

    Args:
        board: what they read from, and hand orders to.
        teller: puts snapshots into words.
        drawn: the pictures.
        keys: which key opens which page.
    """

    def __init__(self, board: Board, teller: Teller, drawn: Drawn, keys: Keys) -> None:
        self._teller = teller
        self._drawn = drawn
        self._pictured: deque[int] = deque(maxlen=2)  # the steps that were told last: a page may ask when the next has begun
        orders = {Page.HELPER: partial(read_order, seats=teller.settings.seats, tallies=teller.texts.tally)}
        html = {page: _html(page, keys, teller) for page in keys}
        super().__init__(board, self._told_of, keys, html, drawn.files, orders)

    def routes(self) -> list[Route]:
        """Those of every page, and the steps."""
        return [Route("/{key}/step/{number:int}.svg", self._step), *super().routes()]

    def _told_of(self, page: Page, snapshot: Snapshot) -> Told:
        step = self._teller.step_of(snapshot)
        if step and step.number not in self._pictured:
            self._pictured.append(step.number)
        return self._teller.tell(page, snapshot)

    async def _step(self, request: Request) -> Response:
        page, number = self.opened(request), request.path_params["number"]
        step = self._teller.step_of(self.board.newest[1])
        now = {step.number} if step else set()
        if page is Page.ROOM or number not in now.union(self._pictured):
            raise HTTPException(404)
        return Response(self._drawn.steps[number - 1], media_type=TYPES[".svg"])


def _html(page: Page, keys: Keys, teller: Teller) -> str:
    """The page's HTML with its words in it, each escaped."""
    texts = teller.texts
    rules = "".join(f"<li>{escape(rule)}</li>" for rule in texts.rules)
    keyboard = "".join(f"<li>{escape(line)}</li>" for line in help_lines())
    links = "".join(_link(other, keys, teller) for other in keys if other is not page) if page is Page.HELPER else ""
    words = {word: escape(text) for word, text in texts.page[page].items()}
    return filled(page.value, words, rules=rules, keyboard=keyboard, links=links)


def _link(page: Page, keys: Keys, teller: Teller) -> str:
    """From the helper's page to another that has a key here."""
    text = escape(teller.texts.page[Page.HELPER][f"open_{page.value}"])
    return f'<a class="button" href="../{keys[page]}/" target="_blank" rel="noopener">{text}</a>'
