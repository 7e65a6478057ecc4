"""What the pages cost the road, and how soon a swap is seen: ``python -m tests.benchmarks.pages``.

The road's own work is timed frame by frame, with scripted ears (so that the pages are all there is to see), at ten times real
pace: without pages, with three open pages, and with fifty and one that never reads. The swap is timed from the moment the key
is taken by the road to the moment the text stands in a real browser's page.
"""

import io
import socket
import statistics
import time
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from multiprocessing import get_context
from select import select
from shutil import which

from playwright.sync_api import sync_playwright
from rich.console import Console

from assistant.assembly import Sources, open_site, open_texts
from assistant.club import Club, OpenPages, Wishes
from assistant.events import Marked
from assistant.pages.board import Board
from assistant.pages.server import Server
from assistant.pages.telling import Page
from assistant.run import Road
from assistant.samples import Frame
from assistant.terms import Mark
from tests.fakes import ListSpeaker, ScriptedEars, a_session, silence
from tests.rehearsal import TALK, Rehearsal

FASTER = 10
SECONDS = 125
SWAPS = 20


def main() -> None:
    """Print the table."""
    print("work of the road for a frame of 30 ms, in ms: median, 95th and 99.9th percentile, most")
    for what, pages, deaf in (("no server", None, 0), ("3 pages", 3, 0), ("50 pages, 1 that never reads", 50, 1)):
        with opened(pages, deaf) as board:
            worked = road(board)
        shown = [statistics.median(worked), centile(worked, 0.95), centile(worked, 0.999), max(worked)]
        print(f"  {what:<30}" + "".join(f"{one:9.3f}" for one in shown))
    seen = swaps()
    print(f"from the key to the new role on the room page, {SWAPS} swaps, in ms:", end=" ")
    print(f"median {statistics.median(seen):.0f}, most {max(seen):.0f}")


def road(board: Board | None) -> list[float]:
    """How long the road worked between one frame and the next, in ms."""
    worked: list[float] = []

    def frames() -> Iterator[Frame]:
        for frame in silence(SECONDS):
            time.sleep(0.03 / FASTER)
            began = time.perf_counter()
            yield frame
            worked.append((time.perf_counter() - began) * 1000)

    console = Console(file=io.StringIO())
    pages = OpenPages(board) if board else None
    Club(Road(ScriptedEars(TALK), a_session(), ListSpeaker()), Wishes(), console, open_texts(), pages=pages).follow(frames())
    return worked


@contextmanager
def opened(pages: int | None, deaf: int) -> Iterator[Board | None]:
    """A board with so many pages open in another process, and some that ask and never read."""
    if pages is None:
        yield None
        return
    board = Board()
    with ExitStack() as stack:
        server = stack.enter_context(Server(open_site(a_session(), board, Sources("", ""))))
        helper = server.address(Page.HELPER)
        for _ in range(deaf):
            stack.enter_context(asked(server.port, helper))
        readers = get_context("spawn").Process(target=read_all, args=(server.port, helper, pages), daemon=True)
        readers.start()
        time.sleep(3)
        yield board
        readers.terminate()
        readers.join()


def asked(port: int, address: str) -> socket.socket:
    """A connection that has asked for the stream of this page."""
    connection = socket.create_connection(("127.0.0.1", port))
    key = address.split("/")[3]
    connection.sendall(f"GET /{key}/events HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\n\r\n".encode())
    return connection


def read_all(port: int, address: str, pages: int) -> None:
    """So many pages that read whatever comes."""
    there = [asked(port, address) for _ in range(pages)]
    while there:
        for connection in select(there, [], [])[0]:
            if not connection.recv(65536):
                there.remove(connection)


def swaps() -> list[float]:
    """From the moment the road takes the key until the name stands in its new place, in ms."""
    found = []
    with Rehearsal(()) as club, sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=which("chromium"), args=["--no-sandbox"])
        tab = browser.new_page()
        tab.goto(club.address(Page.ROOM))
        club.play(12)
        tab.wait_for_selector(".who")
        for _ in range(SWAPS):
            tab.evaluate("""() => { window.seen = new Promise(seen => new MutationObserver(() =>
                seen(performance.timeOrigin + performance.now())).observe(document.getElementById("roles"),
                { subtree: true, childList: true, characterData: true })); return null; }""")
            club.board.offer(Marked(0, Mark.SWAP_NOW))
            pressed_ms = time.time() * 1000
            club.step()
            found.append(float(tab.evaluate("() => window.seen")) - pressed_ms)
        browser.close()
    return found


def centile(values: list[float], share: float) -> float:
    """The value that this share of them does not exceed."""
    return sorted(values)[min(len(values) - 1, int(len(values) * share))]


if __name__ == "__main__":
    main()
