"""How long the review takes, and how large it is: an hour's session, and a year of a hundred sessions.

``python -m tests.benchmarks.review``; with a Chromium on the path it also says how long the page takes to open.
"""

import re
import shutil
import subprocess
import tempfile
from collections.abc import Callable
from pathlib import Path
from time import perf_counter

from assistant.commands.review import progress_lines, progress_page, review_page, review_pdf, weeks_of
from assistant.core.club.consent import Consent
from assistant.events import Event, Muted, RolesSet, SessionOpened
from assistant.outputs.keeping.store import open_store
from assistant.samples import to_samples
from assistant.terms import Repair, Role, Seat
from tests.killing import DAY, agreed
from tests.told import Story, asked

TURNS = 1_400  # about as many as an hour of the demonstration would have


def an_hour() -> list[Event]:
    """An hour of asking, asking back and building, with a swap every three minutes."""
    story = Story()
    story.then(SessionOpened(0, "Little boat", story.seats, 400, to_samples(3600)))
    seats, roles = [Seat.A, Seat.B, Seat.C], [Role.ENGINEER, Role.SUPPLIER, Role.BUILDER]
    for number in range(TURNS // 4):
        at, first = number * 10.0, number // 18
        order = [seats[(first + place) % 3] for place in range(3)]
        story.roles = dict(zip(order, roles, strict=True))
        if number % 18 == 0:
            story.then(RolesSet(to_samples(at), first + 1, tuple(story.roles.items())))
            story.then(Muted(to_samples(at + 0.9), to_samples(at), to_samples(at + 0.9)))
        story.says(order[0].value, at + 1, at + 2.4, "the red one please", asked(number, after=2, kinds=2, colour="red"))
        story.says(order[1].value, at + 2.9, at + 3.5, "which one", repair=Repair.RESTRICTED_REQUEST)
        story.says(order[0].value, at + 4, at + 5.2, "the long one", asked(number, after=1, colour="red", size="long"))
        story.says(order[2].value, at + 7, at + 7.8, "done").done(number + 1)
    return story.ends(3600)


def timed(what: Callable[[], object]) -> float:
    """The fastest of three."""
    return min(_once(what) for _ in range(3))


def _once(what: Callable[[], object]) -> float:
    began = perf_counter()
    what()
    return perf_counter() - began


WATCH = "<script>addEventListener('load',()=>document.body.dataset.loaded=Math.round(performance.now()))</script>"


def opening(browser: str, page: Path) -> float:
    """Seconds from the start of the navigation to the page's own load event, the fastest of three."""
    return min(_opened(browser, page) for _ in range(3))


def _opened(browser: str, page: Path) -> float:
    with tempfile.TemporaryDirectory() as profile:
        options = ["--headless", "--no-sandbox", "--disable-gpu", f"--user-data-dir={profile}", "--dump-dom", page.as_uri()]
        done = subprocess.run([browser, *options], capture_output=True, check=True, timeout=120, text=True)
    loaded = re.search(r'data-loaded="(\d+)"', done.stdout)
    assert loaded, "the browser did not say when the page was there"
    return int(loaded[1]) / 1000


def main() -> None:
    """Print the figures."""
    events = an_hour()
    html = review_page(events)
    print(f"an hour, {TURNS} turns: the page is made in {timed(lambda: review_page(events)):.2f} s, {len(html) / 1e3:.0f} kB")
    for whole, called in ((False, "two sheets"), (True, "the whole of it")):
        began, pdf = perf_counter(), review_pdf(events, whole=whole)
        print(f"on paper, {called}: made in {perf_counter() - began:.1f} s, {len(pdf) / 1e3:.0f} kB")
    with tempfile.TemporaryDirectory() as folder:
        page = Path(folder) / "review.html"
        page.write_text(html.replace("</body>", f"{WATCH}</body>"), encoding="utf-8")
        if browser := shutil.which("chromium") or shutil.which("chromium-browser"):
            print(f"it opens in {opening(browser, page):.2f} s, from the start of the navigation to its load event")
        with open_store(Path(folder), DAY) as store:
            for _ in range(100):
                keeping = store.keep(agreed(Consent.TIMELINE), DAY)
                keeping.write_all(events)
            size = (Path(folder) / "sessions.sqlite").stat().st_size
            first = _once(lambda: weeks_of(store, own_words=True))
            print(f"a hundred such sessions: {size / 1e6:.0f} MB; each is worked out once, in {first / 100:.2f} s")
            print(f"progress over all hundred: {timed(lambda: progress_lines(weeks_of(store, own_words=True))):.2f} s")
            weeks = progress_page(weeks_of(store, own_words=False))
            watched = weeks.replace("style-src", "script-src 'unsafe-inline'; style-src", 1).replace("<main>", f"{WATCH}<main>")
            page.write_text(watched, encoding="utf-8")
            opens = f", opens in {opening(browser, page):.2f} s" if browser else ""
            print(f"its page: {len(weeks) / 1e3:.0f} kB{opens}")


if __name__ == "__main__":
    main()
