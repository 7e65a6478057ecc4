"""What each level keeps: one of everything in a session, all that can be written of it, and a search in every byte.

The expectations are the table in ``docs/keeping.md``: the document and the program cannot drift apart.
"""

import dataclasses
import platform
import re
from datetime import date
from enum import Enum
from pathlib import Path
from typing import Any, get_args

import pytest

from assistant.assembly import our_texts
from assistant.commands.review import progress_page, review_page, review_pdf, weeks_of
from assistant.core.club.consent import LEVELS, Consent
from assistant.core.measures.progress import Goal, figures_of
from assistant.devices.shelf import shared_text
from assistant.errors import KeepingError
from assistant.events import CueAsked, CueStarted, Event, Request, SessionOpened, Tallied, Trouble, Word
from assistant.outputs.exports.bundle import bundle
from assistant.outputs.exports.records import HINTS
from assistant.outputs.keeping import Keeper
from assistant.outputs.keeping.store import open_store
from assistant.samples import to_samples
from assistant.terms import Cue, Fault, Repair, Seat
from tests.killing import DAY, PASSPHRASE, UNTIL, a_frame, agreed, locked_store
from tests.test_review_on_paper import read as on_paper
from tests.told import Story, asked

DOCUMENT = (Path(__file__).parent.parent / "docs" / "keeping.md").read_text(encoding="utf-8")

MARKS = {
    "seats as letters, times from the start": ("SPEAKER session 1 1.00000",),
    "roles, steps, swaps, what an utterance did": ("restricted request", "supplier"),
    "how many pieces fitted, kinds of attribute (colour, size)": ("request, 3 fit", '"colour"'),
    "what was wrong with the sound, in whose microphone, when": ('"fault": "clipped"',),
    "the title of one of our own plans": ("Little boat",),
    "a tally of the helper page's own list": ("handed over",),
    "what was said": ("halfmoon",),
    "the values of attributes (crimson)": ("crimson",),
    "names that were spoken": ("Rumpel",),
    "names that a cue says": ("Wilhelmina",),
    "a tally in the adult's own words": ("bathtub",),
    "the title of the family's own plan": ("Oswald",),
    "the sound, encrypted in the store, and exported `--with-voices`": ('fLaC\0\0\0"',),  # a stream's first eight bytes
}
"""What is looked for as a sign of each row of the table."""


OUTSIDE = b"--- and now what lies outside the store ---"


def everything() -> list[Event]:
    """A session with all of it."""
    story = Story()
    story.says("A", 1, 2, "the halfmoon one", asked(1, after=3, kinds=2, colour="crimson"))
    story.says("B", 2.4, 3, "which one rumpel", repair=Repair.RESTRICTED_REQUEST)
    swap = "We swap now. Wilhelmina is the engineer."
    story.then(CueAsked(to_samples(4), Cue.SWAP, swap), CueStarted(to_samples(5), Cue.SWAP, swap, 10, False))
    story.then(Trouble(to_samples(5.5), Fault.CLIPPED, Seat.A, over=False))
    story.then(Tallied(to_samples(6), Seat.B, "sat in the bathtub"), Tallied(to_samples(6), Seat.B, "handed over"))
    story.then(SessionOpened(to_samples(7), "Oswald's castle", story.seats, 8, to_samples(20)))
    return story.ends(20)


def table() -> dict[str, dict[str, bool]]:
    """Each row of the document's first table."""
    rows = [re.findall(r"\| *([^|]+?) *(?=\|)", line) for line in DOCUMENT.splitlines() if re.search(r"\| (yes|no) \|", line)]
    return {row[0]: {level: cell == "yes" for level, cell in zip(LEVELS, row[1:], strict=False)} for row in rows}


def written(level: Consent, folder: Path) -> bytes:
    """All bytes of everything that can be written of the session at a level, names of files included."""
    events, ours, keeper = everything(), our_texts(), Keeper(level, our_texts())
    try:
        is_locked = level is Consent.VOICES and locked_store(folder / "store")
        with open_store(folder / "store", DAY, PASSPHRASE if is_locked else "") as store:
            keeping = store.keep(agreed(level), DAY, ours)
            for event in events:
                keeping.write(event)
            for number in range(50):
                keeping.hear(a_frame(number))
            keeping.finish()
            kept, voices = store.events(keeping.number), store.voices(keeping.number)
            store.keep_figures(keeping.number, figures_of(kept).to_text())
            store.keep_goal(Goal("waited", words="asks Hadubrand before taking"), UNTIL)
            weeks = weeks_of(store, own_words=False)
            if is_locked:
                store.keep_names({Seat.A: "Wendelin"})
            store_bytes = [path.read_bytes() for path in (folder / "store").iterdir()]  # with its journal
        with keeper.event_file(folder / "events.jsonl") as file:
            for event in events:
                file.write(event)
        keeper.rttm(folder / "session.rttm", events)
        keeper.text(folder / "review.html", review_page(kept), level)
        keeper.text(folder / "progress.html", progress_page(weeks), level)
        keeper.text(folder / "on-paper.txt", on_paper(review_pdf(kept, whole=True)), level)
        consent, meanings = shared_text("consent/en.toml"), shared_text("dictionary/en.toml")
        keeper.folder(folder / "bundle", bundle(events, level, consent, meanings, ours), level)
        if voices:
            keeper.voices(folder / "bundle" / "session.flac", voices)
    except KeepingError:
        assert level is Consent.NOTHING
        return b""
    assert keeping.trouble is None
    files = [path for path in folder.rglob("*") if path.is_file() and path.parent.name != "store"]
    outside = (str(path.relative_to(folder)).encode() + path.read_bytes() for path in files)
    return b"\n".join([*store_bytes, OUTSIDE, *outside])


@pytest.fixture(scope="module")
def all_written(tmp_path_factory: pytest.TempPathFactory) -> dict[str, bytes]:
    return {LEVELS[level]: written(level, tmp_path_factory.mktemp(LEVELS[level])) for level in Consent}


@pytest.mark.parametrize("level", LEVELS)
@pytest.mark.parametrize("row", MARKS)
def test_each_level_keeps_what_the_document_says_and_no_more(row: str, level: str, all_written: dict[str, bytes]) -> None:
    bytes_written = all_written[level].lower()
    for mark in MARKS[row]:
        assert (mark.lower().encode() in bytes_written) == table()[row][level], f"{mark!r} at the level of {level}"


def test_every_row_of_the_table_is_looked_for() -> None:
    never = [row for row, levels in table().items() if not any(levels.values())]
    assert table().keys() == MARKS.keys() | set(never)
    assert len(never) == 4  # computed from voices, names and goals, devices, time of day: the tests below


def test_an_event_cannot_carry_a_voice() -> None:
    """No field of any event holds more than numbers, texts and our own closed sets; the only lists of them are words, roles,
    seats and attributes. A voice vector has 256 numbers, and there is no place for them."""

    def plain(hint: Any) -> bool:
        if parts := get_args(hint):
            return all(part in (Ellipsis, type(None)) or plain(part) for part in parts)
        return hint in (int, float, str, bool, Request, Word) or issubclass(hint, Enum)

    for kind, hints in HINTS.items():
        assert all(map(plain, hints.values())), kind
        lists = {name for name, hint in hints.items() if "tuple" in str(hint)}
        assert lists <= {"words", "seats", "roles", "attributes", "where"}
        assert [field.name for field in dataclasses.fields(kind) if hints[field.name] is float] in ([], ["margin"])


def test_a_locked_store_tells_nothing_of_what_is_in_it(all_written: dict[str, bytes]) -> None:
    store, outside = all_written["voices"].lower().split(OUTSIDE)
    for mark in (mark for marks in MARKS.values() for mark in marks):
        assert mark.lower().encode() not in store
    assert b"wendelin" not in store and b"hadubrand" not in store and DAY.encode() not in store + outside


@pytest.mark.parametrize("level", ["timeline", "words", "voices"])
def test_names_and_own_goals_do_not_leave_the_store(level: str, all_written: dict[str, bytes]) -> None:
    outside = all_written[level].split(OUTSIDE)[1]
    assert b"Wendelin" not in outside and b"Hadubrand" not in outside
    assert b"Goal 1, in your own words" in outside


@pytest.mark.parametrize("level", ["timeline", "words"])  # voices add noise alone, in which any short name can be found
def test_neither_this_computer_nor_its_user_is_named(level: str, all_written: dict[str, bytes]) -> None:
    for name in {platform.node(), str(Path.home())} - {"", "/", "localhost"}:
        assert name.encode() not in all_written[level]


@pytest.mark.parametrize("level", ["timeline", "words"])
def test_there_is_no_time_of_day_and_outside_the_store_no_day(level: str, all_written: dict[str, bytes]) -> None:
    text = all_written[level].decode("utf-8", errors="ignore")
    assert set(re.findall(r"\d{4}-\d\d-\d\d[T ]\d\d:\d\d", text)) <= {"1970-01-01T00:00"}  # what every EAF of ours says
    assert date.today().isoformat() not in text
    store, outside = text.split(OUTSIDE.decode())
    assert DAY in store and DAY not in outside
