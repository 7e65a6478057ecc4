"""The review page: what is on it, that it needs nothing else, and that it ranks nobody."""

import re
import tomllib
from dataclasses import replace
from html.parser import HTMLParser
from pathlib import Path

import pytest
from hypothesis import given, settings

from assistant.cli import main
from assistant.commands.review import review_page
from assistant.core.club.consent import Consent
from assistant.core.measures.highlights import to_try, went_well
from assistant.core.measures.summary import summarise
from assistant.core.wording import counted
from assistant.devices.shelf import shared_text
from assistant.events import Event, RolesSet, SessionOpened
from assistant.outputs.exports.records import at_level, json_lines
from assistant.samples import to_samples
from assistant.terms import Praise, Prompt, Repair, Role, Seat
from tests.test_any_session import sessions
from tests.test_exports import SECRETS, STORY, TIMELINE
from tests.told import Story, asked

TEXTS = tomllib.loads(shared_text("review/en.toml"))


class Read(HTMLParser):
    """What a browser would find: every tag, and the cells of every table row."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.open: list[str] = []
        self.rows: list[list[str]] = []
        self.feed(html)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))
        if tag not in ("meta", "rect", "line", "path", "circle", "br"):
            self.open.append(tag)
        if tag == "tr":
            self.rows.append([])
        if tag in ("td", "th"):
            self.rows[-1].append("")

    def handle_endtag(self, tag: str) -> None:
        if tag not in ("rect", "line", "path", "circle"):
            assert self.open.pop() == tag

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))

    def handle_data(self, data: str) -> None:
        if self.open and self.open[-1] in ("td", "th"):
            self.rows[-1][-1] += data

    def all(self, name: str) -> list[dict[str, str | None]]:
        return [attributes for _, attributes in self.tags if name in (attributes.get("class") or "").split()]


def test_turns_are_bars_with_role_and_letter_and_requests_say_how_many_fitted() -> None:
    page = Read(review_page(TIMELINE))
    bars = [one["aria-label"] for one in page.all("bar")]
    assert bars == [
        "0:01 A engineer: request, 3 fit",
        "0:03 A engineer: request, 1 fit",
        "0:02 B supplier: repair, restricted request",
        "0:06 F: other",
        "0:05 ?: other",
    ]
    assert len(page.all("fit")) == 2
    assert {"engineer", "supplier", "none"} <= {one.get("class") for _, one in page.tags}


def test_repairs_are_arcs_swaps_and_cues_are_lines_muted_spans_are_hatched() -> None:
    page = Read(review_page(TIMELINE))
    assert [len(page.all(name)) for name in ("arc", "cue", "muted")] == [1, 1, 2]  # one muted span, one in the legend
    assert len(page.all("swap")) == 2
    assert len(page.all("lost")) == 2


def test_the_table_beside_it_says_the_same() -> None:
    rows = Read(review_page(TIMELINE)).rows
    assert ["0:01", "0:02", "A", "engineer", "request, 3 fit"] in rows
    assert ["0:08", "0:10", "", "", "muted"] in rows
    assert ["0:08", "", "", "", "cue: swap; roles: A supplier, B builder, C engineer"] in rows


def test_words_are_there_only_where_they_were_kept() -> None:
    assert [secret for secret in SECRETS if secret in review_page(TIMELINE).lower()] == []
    full = review_page(at_level(STORY, Consent.WORDS))
    assert "which one" in full and "crimson" in full


def test_a_review_with_words_says_what_the_summary_said_on_the_evening_and_one_without_claims_nothing_of_it() -> None:
    red = asked(1, colour="red", size="long", where="on top of the blue one")
    story = Story().says("A", 1, 2, "the long red one on top of the blue one", red).done(1, at_s=5).ends(9)
    assert "More than needed: 0 of 1" in review_page(story) and "With a piece already built" in review_page(story)
    theirs = [replace(one, steps=3) if isinstance(one, SessionOpened) else one for one in story]  # a plan of the same title
    assert "More than needed" not in review_page(theirs)
    without = review_page(at_level(story, Consent.TIMELINE))
    assert "Saying where: 1." in without
    assert "More than needed" not in without and "With a piece already built" not in without


def test_the_page_needs_nothing_else_and_may_load_nothing() -> None:
    html = review_page(STORY)
    assert "default-src 'none'" in html
    assert not re.search(r"""(?:src|href)=|url\((?!#)|@import|https?://""", html)


def test_what_people_said_cannot_become_part_of_the_page() -> None:
    events = Story().says("A", 1, 2, '<script>alert(1)</script> & "so"').ends(3)
    html = review_page(events)
    assert "<script>alert" not in html
    assert "&lt;script&gt;alert(1)" in html


@given(sessions())
@settings(max_examples=25)
def test_any_session_has_a_page_that_is_well_formed(events: list[Event]) -> None:
    page = Read(review_page(events))
    assert page.open == []
    assert "None" not in " ".join(cell for row in page.rows for cell in row)


def test_a_session_longer_than_three_minutes_goes_on_in_the_next_strip() -> None:
    events = Story().says("A", 179, 181, "over the edge").says("B", 185, 186).ends(190)
    page = Read(review_page(events))
    strips = [one for tag, one in page.tags if tag == "svg" and one.get("role") == "group"]
    assert [one["aria-label"] for one in strips] == ["0:00 to 3:00", "3:00 to 6:00"]
    assert [one["aria-label"] for one in page.all("bar")].count('2:59 A engineer: other "over the edge"') == 2


# --- what went well, what to try --------------------------------------------------------------------------------------------


def test_three_things_that_went_well_are_named_behaviours() -> None:
    said = went_well(summarise(STORY))
    assert [key for key, _ in said] == ["made_clear", "cleared", "alone"]
    sentences = [TEXTS["well"][key].format(**filled) for key, filled in said]
    assert sentences[0] == "Asking back worked: what was not clear was made clear (1 of 1)."


def test_one_of_anything_is_told_in_the_singular() -> None:
    """Every sentence with every number 1: "There was 1 direct prompt and 1 indirect one"."""
    one = dict.fromkeys(("solved", "cleared", "opened", "enough", "count", "alone", "answered", "indirect", "specific"), 1)
    filled = counted({**one, **dict.fromkeys(("swaps", "done", "open", "direct"), 1), "prompts": 1})
    for text in (*TEXTS["well"].values(), *TEXTS["try"].values(), TEXTS["progress"]["title"]):
        assert not re.search(r"\b1 (\w+ )?(times|requests|steps|sessions|prompts|ones)\b", text.format(**filled)), text
    assert TEXTS["well"]["steps"].format(**filled) == "Building together: 1 step was built."
    assert TEXTS["well"]["steps"].format(**counted({"done": 2})) == "Building together: 2 steps were built."


def test_nothing_that_went_well_or_could_be_tried_names_a_child() -> None:
    for text in (*TEXTS["well"].values(), *TEXTS["try"].values()):
        assert "{seat}" not in text and "{other}" not in text


def five(story: Story, **said: object) -> Story:
    for number in range(5):
        story.says("F", 10 * number + 1, 10 * number + 2, "well", **said)  # type: ignore[arg-type]
    return story


@pytest.mark.parametrize(
    ("events", "key"),
    [
        (Story().says("A", 1, 2, "the red one", asked(1, after=3, kinds=2, colour="red")).ends(60), "open"),
        (five(Story(), prompt=Prompt.DIRECT).ends(60), "direct"),
        (five(Story(), praise=Praise.GENERAL).ends(60), "praise"),
        (Story().done(1, at_s=9).ends(60), "swap"),
        (Story().done(1, at_s=9).then(RolesSet(0, 2, ((Seat.A, Role.BUILDER),))).ends(60), "keep"),
        (Story().ends(60), "little"),
    ],
)
def test_one_thing_to_try(events: list[Event], key: str) -> None:
    found, filled = to_try(summarise(events))
    assert found == key
    assert "{" not in TEXTS["try"][found].format(**filled)


def six_prompts(who: str) -> list[Event]:
    """Each followed after 1.5 s by somebody's word."""
    story = Story().done(1, at_s=0).then(RolesSet(0, 2, ((Seat.A, Role.BUILDER),)))
    for at in range(0, 120, 20):
        story.says("F", at + 1, at + 2, "I wonder", prompt=Prompt.INDIRECT).says(who, at + 3.5, at + 4, "oh")
    return story.ends(200)


def test_an_adult_who_went_on_after_prompts_could_count_to_three() -> None:
    assert to_try(summarise(six_prompts("F"))) == ("wait", {"count": 6, "prompts": 6})


def test_children_who_answered_quickly_leave_nothing_to_wait_for() -> None:
    assert to_try(summarise(six_prompts("A")))[0] == "keep"


def test_a_story_without_asking_back_has_something_else_that_went_well() -> None:
    events = Story().says("A", 1, 2, "red", asked(1, after=1, colour="red")).says("B", 3, 4, "here").done(1).ends(60)
    assert [key for key, _ in went_well(summarise(events))] == ["enough", "alone", "steps"]


# --- the command ------------------------------------------------------------------------------------------------------------


def test_the_command_writes_one_file(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "club.jsonl"
    path.write_text(json_lines(STORY, Consent.TIMELINE), encoding="utf-8")
    assert main(["review", "--events", str(path), "--to", str(tmp_path / "review.html")]) == 0
    assert sorted(one.name for one in tmp_path.iterdir()) == ["club.jsonl", "review.html"]
    assert "0:01 A engineer: request, 3 fit" in (tmp_path / "review.html").read_text()


def test_a_plan_to_try_is_named_when_the_plan_was_ours(tmp_path: Path) -> None:
    events = Story().says("A", 1, 2, "red", asked(1, colour="red"), repair=Repair.OPEN_REQUEST).done(1).ends(to_samples(0) + 60)
    assert "Little boat again, in peace." in review_page(events)
