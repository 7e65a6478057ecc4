"""The pages of a session: opened in the browser, and where the family asks for it on the home network too.

What lives here: which pages are served where, and what is said about it. What must not: what is on them.
"""

import argparse
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from functools import partial

import segno
from rich.console import Console
from rich.text import Text

from assistant.assembly import Sources, open_site, rules_on_display
from assistant.club import OpenPages
from assistant.core.club.session import Session
from assistant.core.club.setting_up import own_rules
from assistant.devices import browser
from assistant.pages.app import Pages, fresh_keys
from assistant.pages.board import Board
from assistant.pages.server import Server, home_address
from assistant.pages.telling import Page

SHARED = (Page.HELPER, Page.ENGINEER)
NOT_PROTECTED = (
    "The helper and engineer pages are on your home network now; the key o ends that. The connection is not encrypted: whoever "
    "can listen in on your network could read what these pages show, the words that were heard included, and press their "
    "buttons. Share only at home, on a network with a password."
)

BLOCKS = {(1, 1): "█", (1, 0): "▀", (0, 1): "▄", (0, 0): " "}  # the upper and the lower half


@dataclass(frozen=True, slots=True)
class Welcome:
    """A server at which the family already looks, and how its page is told where the session's own page is."""

    server: Server
    lead_to: Callable[[str], None]


@contextmanager
def pages_of(
    options: argparse.Namespace,
    session: Session,
    source: str,
    recogniser: str,
    console: Console,
    welcome: Welcome | None = None,
) -> Iterator[OpenPages | None]:
    """The pages while the session goes on; None without ``--pages`` or ``--share``."""
    if not (options.pages or options.share or welcome):
        yield None
        return
    board, keys = Board(), fresh_keys()
    rules = rules_on_display(options.younger, own_rules("\n".join(options.rule)))
    shown = partial(open_site, session, board, Sources(source, recogniser), show_words=not options.no_words, rules=rules)
    with ExitStack() as stack:
        site = shown(keys=keys)
        if welcome:
            welcome.server.add(site)
        server = welcome.server if welcome else stack.enter_context(Server(site))
        for page in Page:
            console.print(f"The {page.value} page: {server.address(page)}", soft_wrap=True)
        sharing = stack.enter_context(_shared(shown)) if options.share else None
        if sharing:
            _show_sharing(sharing, console)
        if welcome:
            welcome.lead_to(f"../{keys[Page.HELPER]}/")
        else:
            browser.show(server.address(Page.HELPER))
        yield OpenPages(board, sharing)


def _shared(shown: Callable[..., Pages]) -> Server:
    """The two pages that may leave this machine."""
    return Server(shown(keys=fresh_keys(SHARED)), home_address())


def _show_sharing(sharing: Server, console: Console) -> None:
    """The addresses for a second device, and in plain words what does not protect them."""
    console.print(NOT_PROTECTED, soft_wrap=True)
    for page in SHARED:
        address = sharing.address(page)
        console.print(f"On the home network, the {page.value} page: {address}", soft_wrap=True)
        console.print(as_picture(address))


def as_picture(address: str) -> Text:
    """A QR code as half blocks, dark on light whatever the terminal's own colours are."""
    rows = [list(row) for row in segno.make(address, micro=False).matrix_iter(border=2)]
    rows += [[0] * len(rows[0])] * (len(rows) % 2)
    lines = ("".join(BLOCKS[pair] for pair in zip(*rows[at : at + 2], strict=True)) for at in range(0, len(rows), 2))
    return Text("\n".join(lines), "#000000 on #FFFFFF")
