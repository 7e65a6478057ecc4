"""The review as a PDF, read back by pypdf: the same as the page, on A4, told apart in grey too."""

import io
import tomllib
from pathlib import Path

import pytest
from hypothesis import given, settings
from pypdf import PdfReader

from assistant.assembly import our_tallies
from assistant.cli import main
from assistant.commands import kept_sessions
from assistant.commands.reading import look
from assistant.commands.review import review_page, review_pdf
from assistant.core.club.consent import Consent
from assistant.devices.shelf import shared_text
from assistant.events import Event, RolesSet, SessionOpened, Tallied
from assistant.outputs.exports.records import json_lines
from assistant.outputs.keeping.store import open_store
from assistant.outputs.pictures.shapes import Polygon
from assistant.outputs.review.drawing import MOST_STRIPS, Box, Colours, glance, shapes
from assistant.samples import to_samples
from assistant.terms import Praise, Prompt, Repair, Seat
from tests.benchmarks.review import an_hour
from tests.killing import DAY, PASSPHRASE, locked_store
from tests.test_any_session import sessions
from tests.test_exports import SECRETS, STORY, TIMELINE
from tests.test_review import Read
from tests.test_store import kept
from tests.told import Story, asked

TEXTS = tomllib.loads(shared_text("review/en.toml"))


def read(pdf: bytes) -> str:
    """All its text, in one line."""
    return " ".join(" ".join(page.extract_text() for page in PdfReader(io.BytesIO(pdf)).pages).split())


def test_everything_of_the_page_is_on_paper() -> None:
    text = read(review_pdf(STORY, whole=True))
    for key in ("well", "try_next", "glance", "timeline", "numbers", "table"):
        assert TEXTS["page"][key] in text
    for row in Read(review_page(STORY)).rows:
        for cell in row:
            assert " ".join(cell.split()) in text


def a_full_hour() -> list[Event]:
    """Everything that can be told is told: every lane, every tally of every child, prompts, praise and somebody unsure."""
    story = Story()
    for number in range(120):
        at, who = 30 * number, "A?"[number % 2]
        story.says("A", at + 1, at + 2, "red", asked(number, after=2, kinds=2, colour="red", where="on the blue one"))
        story.says("B", at + 3, at + 4, "which one", repair=Repair.RESTRICTED_REQUEST).says(who, at + 5, at + 6, "long")
        story.says("F", at + 7, at + 8, "i wonder", prompt=Prompt.DIRECT).says("C", at + 9, at + 10, "here")
        story.says("F", at + 11, at + 12, "you waited", praise=Praise.SPECIFIC).done(number + 1)
        tally = list(our_tallies())[number // 3 % len(our_tallies())]
        story.then(Tallied(to_samples(at + 13), Seat("ABC"[number % 3]), tally))
        story.then(RolesSet(to_samples(at + 14), number + 2, tuple(story.roles.items())))
    return story.ends(3600)


NAMES = "A is Wilhelmina, B is Maximilian, C is Alexandrina."


@pytest.mark.parametrize("events", [an_hour(), a_full_hour(), STORY, Story().ends(1)], ids=["hour", "full", "story", "second"])
def test_two_sheets_are_enough(events: list[Event]) -> None:
    for names in ("", NAMES):
        reader = PdfReader(io.BytesIO(review_pdf(events, names)))
        assert len(reader.pages) == 2
        first, second = (" ".join(page.extract_text().split()) for page in reader.pages)
        assert TEXTS["page"]["glance"] in first and "Steps built:" in first
        assert TEXTS["page"]["numbers"] in second and TEXTS["page"]["more"] in second
        assert TEXTS["page"]["table"] not in first + second


def test_who_still_speaks_when_the_club_is_over_gets_no_strip_of_their_own() -> None:
    first, _ = PdfReader(io.BytesIO(review_pdf(Story().says("A", 2698, 2702).ends(2700)))).pages
    assert "40:00" in first.extract_text() and "42:00" not in first.extract_text()  # a time every five minutes, not every three


def test_the_sheet_to_read_first_has_no_more_than_three_strips_up_to_three_hours() -> None:
    for minutes in (1, 6, 7, 15, 16, 30, 45, 60, 61, 90, 180):
        scale = glance(to_samples(60 * minutes))
        assert scale.strip_samples * MOST_STRIPS >= to_samples(60 * minutes)


def test_it_is_a4_and_says_nothing_of_when_it_was_made() -> None:
    # ISO 216: A4 is 210 by 297 mm; a point is 1/72 of 25.4 mm.
    reader = PdfReader(io.BytesIO(review_pdf(STORY)))
    for page in reader.pages:
        assert [round(float(side) * 25.4 / 72) for side in (page.mediabox.width, page.mediabox.height)] == [297, 210]
    assert reader.metadata and reader.metadata.creation_date and reader.metadata.creation_date.year == 2000
    assert review_pdf(STORY) == review_pdf(STORY)


def test_words_are_there_only_where_they_were_kept() -> None:
    pdf = review_pdf(TIMELINE, whole=True)
    assert [secret for secret in SECRETS if secret in read(pdf).lower()] == []
    assert "crimson" in read(review_pdf(STORY, whole=True))


@pytest.mark.parametrize("whole", [False, True])
def test_a_session_in_which_nothing_happened_goes_onto_paper_too(whole: bool) -> None:
    text = read(review_pdf([SessionOpened(0, "Little boat", (Seat.A, Seat.B), 8, 0)], whole=whole))
    assert "Nobody has spoken yet." in text and TEXTS["page"]["nothing"] in text


@given(sessions())
@settings(max_examples=8)
def test_any_session_goes_onto_paper(events: list[Event]) -> None:
    assert TEXTS["page"]["table"] in read(review_pdf(events, whole=True))
    assert TEXTS["page"]["more"] in read(review_pdf(events))


def test_a_long_session_has_the_head_of_the_table_on_every_sheet() -> None:
    story = Story()
    for number in range(200):
        story.says("ABC"[number % 3], 2 * number, 2 * number + 1)
    pages = [page.extract_text() for page in PdfReader(io.BytesIO(review_pdf(story.ends(400), whole=True))).pages]
    tables = [page for page in pages if "other" in page]
    assert len(tables) > 2 and all(TEXTS["column"]["did"] in page for page in tables)


def test_a_sign_that_the_typeface_does_not_have_stops_nothing() -> None:
    assert "so ??" in read(review_pdf(Story().says("A", 1, 2, "so 積木").ends(3), whole=True))


@pytest.mark.parametrize("kind", ["supplier", "builder", "muted", "lost"])
def test_what_has_a_colour_has_lines_too_and_they_stay_inside(kind: str) -> None:
    inks = look()
    colours = Colours(dict(inks.roles), inks.dark, inks.line, inks.shade)
    drawn = [one for one in shapes([Box(kind, 10, 20, 40, 14)], colours) if isinstance(one, Polygon)]
    lines = [one for one in drawn if not one.closed]
    assert len(lines) > 2
    for x, y in (point for line in lines for point in line.points):
        assert 10 <= x <= 50 and 20 <= y <= 34


def test_the_command_makes_a_pdf_of_a_name_that_ends_so(tmp_path: Path) -> None:
    path = tmp_path / "club.jsonl"
    path.write_text(json_lines(STORY, Consent.TIMELINE), encoding="utf-8")
    for options in ([], ["--whole"]):
        pdf = tmp_path / f"review{len(options)}.pdf"
        assert main(["review", "--events", str(path), "--to", str(pdf), *options]) == 0
        text = read(pdf.read_bytes())
        assert "Asking back worked" in text and (TEXTS["page"]["table"] in text) == bool(options)


def test_names_are_on_it_only_when_asked_for(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    home = locked_store(tmp_path / "data")
    monkeypatch.setattr(kept_sessions, "folder", lambda: home)
    monkeypatch.setenv(kept_sessions.PASSPHRASE, PASSPHRASE)
    with open_store(home, DAY, PASSPHRASE) as store:
        kept(store, until="2999-01-01")
    for name in ("review.html", "review.pdf"):
        assert main(["review", "--names", "--to", str(tmp_path / name)]) == 2
        assert "There are no names to show." in capsys.readouterr().err
    with open_store(home, DAY, PASSPHRASE) as store:
        store.keep_names({Seat.A: "Wendelin"})
    for options in ([], ["--names"]):
        page, sheets = (tmp_path / f"review{len(options)}.{ending}" for ending in ("html", "pdf"))
        assert main(["review", *options, "--to", str(page)]) == 0
        assert main(["review", *options, "--to", str(sheets)]) == 0
        assert ("A is Wendelin." in page.read_text()) == bool(options)
        assert ("A is Wendelin." in read(sheets.read_bytes())) == bool(options)
