"""``plan``, ``print``, ``calendar``, ``rota`` and ``warm-up``, as somebody types them."""

import argparse
import io
import xml.etree.ElementTree as ElementTree
from io import BytesIO
from pathlib import Path

import pytest
from PIL import Image
from pypdf import PdfReader

from assistant.commands import kept_sessions, paper, plans, warmups
from assistant.core.club.consent import Consent
from assistant.core.plans.warmups import Warmup, read_warmups
from assistant.errors import KeepingError, PlanError, SettingsError, SharedError, SourceError
from assistant.events import Event, Request, SessionOpened, StepDone, Understood
from assistant.outputs.exports.records import json_lines
from assistant.outputs.keeping.store import open_store
from assistant.terms import Act, Role, Seat
from tests.killing import DAY, agreed
from tests.told import Story

SHARED = Path(__file__).parent.parent / "shared"
BROKEN = Path(__file__).parent / "samples" / "plans"
Captured = pytest.CaptureFixture[str]


def run(*words: str) -> int:
    parser = argparse.ArgumentParser()
    commands = parser.add_subparsers(required=True)
    for family in (plans, paper, warmups):
        family.add_parsers(commands)
    options = parser.parse_args(words)
    return int(options.run(options))


def typed(monkeypatch: pytest.MonkeyPatch, *lines: str) -> None:
    monkeypatch.setattr("sys.stdin", io.StringIO("".join(f"{line}\n" for line in lines)))


# --- plan -----------------------------------------------------------------------------------------------------------------


def test_the_list_begins_with_the_first_models(capsys: Captured) -> None:
    assert run("plan", "list", "--children", "2") == 0
    lines = capsys.readouterr().out.splitlines()

    assert lines[0].startswith("four-block-tower") and "a first model" in lines[0]
    assert "four-tower-fort" not in "".join(lines)  # it is for three
    assert lines[-1].endswith("tray-turns plan show NAME")


def test_the_list_names_the_family_s_own_in_this_folder(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: Captured
) -> None:
    monkeypatch.chdir(tmp_path)
    run("plan", "list")
    assert "Your own" not in capsys.readouterr().out

    (tmp_path / "bridge").mkdir()
    (tmp_path / "bridge" / "plan.toml").write_text("version = 1", encoding="utf-8")
    run("plan", "list")
    assert f"Your own here: {Path('bridge', 'plan.toml')}\n" in capsys.readouterr().out


def test_a_folder_in_place_of_its_plan_is_one_sentence(tmp_path: Path) -> None:
    with pytest.raises(SharedError, match="There is no plan"):
        run("plan", "check", str(tmp_path))
    (tmp_path / "plan.toml").write_text("version = 1", encoding="utf-8")
    with pytest.raises(SharedError, match="is a folder. Name the plan in it: .*plan.toml"):
        run("plan", "check", str(tmp_path))


def test_a_plan_is_shown_in_words(capsys: Captured) -> None:
    run("plan", "show", "cheese-toast")
    said = capsys.readouterr().out

    for line in (
        "2 slices of bread",
        "½ spoon of butter",
        "An adult does this: sharp.",
        "8. 2 × green leaf;",
        "a step further",
    ):
        assert line in said


def test_checking_says_what_is_wrong_in_all_of_them() -> None:
    with pytest.raises(PlanError) as caught:
        run("plan", "check", "little-boat", str(BROKEN / "16-floating.toml"), str(BROKEN / "17-under-the-board.toml"))

    assert [problem.split(",")[0] for problem in caught.value.problems] == ["16-floating.toml"] * 2 + [
        "17-under-the-board.toml"
    ]


def test_checking_a_good_plan_says_so(capsys: Captured) -> None:
    assert run("plan", "check", "little-boat") == 0
    assert capsys.readouterr().out == "Little boat: 8 steps, 8 pieces.\nNothing is wrong with it.\n"


def test_no_such_plan_is_one_sentence() -> None:
    with pytest.raises(SharedError, match="There is no plan 'little-bote'"):
        run("plan", "show", "little-bote")


def test_pictures_go_where_they_were_asked_for(tmp_path: Path, capsys: Captured) -> None:
    run("plan", "draw", "garden-gate", "--to", str(tmp_path / "pictures"))

    names = sorted(path.name for path in (tmp_path / "pictures").iterdir())
    assert names == ["model.svg", *(f"step-{number:02d}.svg" for number in range(1, 8)), "tray.svg"]
    for path in (tmp_path / "pictures").iterdir():
        ElementTree.parse(path)


def photos(folder: Path, *names: str) -> None:
    for number, name in enumerate(names):
        Image.new("RGB", (40, 30 + number), "#336699").save(folder / name)


def test_a_model_of_one_s_own_from_photos(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: Captured) -> None:
    photos(tmp_path, "tower 2.jpg", "tower 10.jpg", "tower 1.png", "tower 3.jpg")
    typed(
        monkeypatch,
        *("long red block, 2 small blue squares", "on the board", "foot"),
        *("another small blue square and a teapot", "", ""),
        *("",),  # nothing is new in the third
        *("the long red one", "on top", "roof"),
    )

    run("plan", "new", str(tmp_path), "--title", 'Our "tea" tower')
    asked = capsys.readouterr().out
    assert f"Build it: tray-turns session --pages --plans {tmp_path}" in asked
    assert asked.count("A name of your own: ") == 1 and "A name of your own: teapot." in asked  # so that a slip is seen
    run("plan", "check", str(tmp_path / "plan.toml"))
    run("plan", "show", str(tmp_path / "plan.toml"))
    said = capsys.readouterr().out

    assert "3 steps, 6 pieces" in said and "3 × small blue square" in said and "1 × teapot" in said
    text = (tmp_path / "plan.toml").read_text(encoding="utf-8")
    assert [line for line in text.splitlines() if line.startswith("photo")] == [
        'photo = "tower 1.png"',
        'photo = "tower 2.jpg"',
        'photo = "tower 10.jpg"',
    ]


def test_a_plan_that_is_there_is_not_written_over(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    photos(tmp_path, "1.jpg")
    (tmp_path / "plan.toml").write_text("the family's own work", encoding="utf-8")
    typed(monkeypatch, "red block", "", "")

    with pytest.raises(KeepingError, match="is there already"):
        run("plan", "new", str(tmp_path), "--title", "Tower")
    assert (tmp_path / "plan.toml").read_text(encoding="utf-8") == "the family's own work"


@pytest.mark.parametrize(("lines", "said"), [((), "answers ended"), (("",), "No piece was named")])
def test_answers_that_make_no_plan(lines: tuple[str, ...], said: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    photos(tmp_path, "1.jpg")
    typed(monkeypatch, *lines)

    with pytest.raises(SettingsError, match=said):
        run("plan", "new", str(tmp_path), "--title", "Tower")
    assert not (tmp_path / "plan.toml").exists()


def test_a_title_that_is_too_long_is_said_before_anybody_answers(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    photos(tmp_path, "1.jpg")
    typed(monkeypatch)
    with pytest.raises(SettingsError, match="--title has 81 letters. There is place for 80"):
        run("plan", "new", str(tmp_path), "--title", "T" * 81)


def test_a_folder_without_photos_is_one_sentence(tmp_path: Path) -> None:
    with pytest.raises(SourceError, match="There is no photo"):
        run("plan", "new", str(tmp_path), "--title", "Tower")
    with pytest.raises(SourceError, match="is no folder"):
        run("plan", "new", str(tmp_path / "nowhere"), "--title", "Tower")


def test_a_missing_photo_is_found_by_checking(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: Captured) -> None:
    photos(tmp_path, "1.jpg", "2.jpg")
    typed(monkeypatch, "red block", "", "", "blue block", "", "")
    run("plan", "new", str(tmp_path), "--title", "Tower")
    (tmp_path / "2.jpg").unlink()

    with pytest.raises(PlanError, match="step 2: The photo '2.jpg' of step 2 is not there"):
        run("plan", "check", str(tmp_path / "plan.toml"))
    with pytest.raises(SourceError, match="'2.jpg' of step 2 is not there"):
        run("print", str(tmp_path / "plan.toml"), "--to", str(tmp_path / "x.pdf"))


def test_the_next_plan_follows_from_kept_sessions(tmp_path: Path, capsys: Captured) -> None:
    events: list[Event] = [SessionOpened(0, "Four-block tower", (Seat.A, Seat.B), 4, 100)]
    events += [StepDone(step, step, None) for step in range(1, 5)]
    requests = [Request(number, (), 1, (), 4, 1, 1) for number in range(6)]
    events += [Understood(10, one.number, Seat.A, Role.BUILDER, Act.REQUEST, one) for one in requests]
    kept = tmp_path / "session.jsonl"
    kept.write_text(json_lines(events, Consent.WORDS), encoding="utf-8")

    run("plan", "next", "--sessions", str(kept))
    said = capsys.readouterr().out

    assert said.startswith("The last model was finished, and most requests were enough")
    assert "Asks for more: " in said and "four-block-tower" not in said


def test_without_a_file_the_next_plan_follows_from_what_is_kept(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: Captured
) -> None:
    monkeypatch.setattr(kept_sessions, "folder", lambda: tmp_path)
    run("plan", "next")
    assert capsys.readouterr().out.startswith("No session so far")
    with open_store(tmp_path, DAY) as store:
        store.keep(agreed(Consent.TIMELINE), DAY).write_all(Story().done(1, at_s=9).ends(20))
    run("plan", "next")
    assert "not finished" in capsys.readouterr().out


@pytest.mark.parametrize("content", ["", "no json", "[1]", '{"event": "Heard"}', '{"event": "SessionOpened"}', "\xff"])
def test_what_holds_no_session_is_one_sentence(content: str, tmp_path: Path) -> None:
    path = tmp_path / "session.jsonl"
    path.write_bytes(content.encode("latin-1"))

    with pytest.raises(SourceError, match="made with --events"):
        run("plan", "next", "--sessions", str(path))


# --- print, calendar, rota ------------------------------------------------------------------------------------------------


def test_named_sheets_on_the_paper_that_is_there(tmp_path: Path, capsys: Captured) -> None:
    path = tmp_path / "cards.pdf"
    run("print", "little-boat", "--to", str(path), "--sheets", "roles, rules", "--paper", "letter", "--rule", "We listen.")

    reader = PdfReader(BytesIO(path.read_bytes()))
    assert len(reader.pages) == 4
    assert "We listen." in reader.pages[3].extract_text()
    assert reader.pages[0].mediabox.height == pytest.approx(11 * 72, abs=0.1)


def test_photos_are_printed_from_beside_the_plan(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: Captured) -> None:
    photos(tmp_path, "1.jpg", "2.jpg")
    typed(monkeypatch, "red block", "", "", "blue block", "", "")
    run("plan", "new", str(tmp_path), "--title", "Tower")
    run("print", str(tmp_path / "plan.toml"), "--to", str(tmp_path / "steps.pdf"), "--sheets", "steps")

    assert [len(page.images) for page in PdfReader(tmp_path / "steps.pdf").pages] == [0, 2]


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--sheets", "cards"), "no sheet 'cards'"),
        (("--length", "0"), "is no session"),
        (("--set-up", "50"), "fill the whole session"),
        (("--names", "Ada"), "cannot be read"),
        (("--names", "D=Ada"), "cannot be read"),
        (("--children", "2", "--names", "C=Ada"), "no child at seat C"),
        (("--passed", "7:A"), "a round up to 6"),
        (("--rounds", "25"), "does not fit a sheet"),
    ],
)
def test_wishes_that_cannot_be_printed_are_one_sentence(words: tuple[str, ...], said: str, tmp_path: Path) -> None:
    with pytest.raises(SettingsError, match=said):
        run("print", "little-boat", "--to", str(tmp_path / "x.pdf"), *words)
    assert list(tmp_path.iterdir()) == []


def test_a_barred_place_is_one_sentence(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("", encoding="utf-8")
    with pytest.raises(KeepingError, match="cannot be written"):
        run("print", "little-boat", "--to", str(tmp_path / "file" / "x.pdf"), "--sheets", "rules")


def test_the_club_is_in_the_calendar(tmp_path: Path, capsys: Captured) -> None:
    path = tmp_path / "club.ics"
    run("calendar", "--first", "2027-03-01", "--at", "16:30", "--on", "mo,th", "--place", "Kitchen", "--to", str(path))

    assert capsys.readouterr().out.startswith("12 dates from 2027-03-01")
    assert b"RRULE:FREQ=WEEKLY;COUNT=12;BYDAY=MO,TH" in path.read_bytes()


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--first", "1.3.2027"), "no day or time"),
        (("--at", "half past four"), "no day or time"),
        (("--length", "91"), "up to 90 minutes"),
        (("--weeks", "5"), "6 to 52 weeks"),
    ],
)
def test_dates_that_cannot_be_are_one_sentence(words: tuple[str, ...], said: str, tmp_path: Path) -> None:
    with pytest.raises(SettingsError, match=said):
        run("calendar", "--first", "2027-03-01", "--at", "16:30", "--to", str(tmp_path / "x.ics"), *words)


def test_the_rota_in_the_terminal_is_the_one_on_paper(capsys: Captured) -> None:
    run("rota", "--names", "A=Ada", "--passed", "2:B")
    lines = capsys.readouterr().out.splitlines()

    assert lines[0].split() == ["engineer", "supplier", "builder"]
    assert lines[1].split() == ["1", "Ada", "B", "C"]
    assert lines[2].split()[-2:] == ["(B", "passed)"]


# --- warm-up --------------------------------------------------------------------------------------------------------------

WARMUPS = read_warmups((SHARED / "warmups" / "en.toml").read_text(encoding="utf-8"))


def test_there_is_a_warm_up_for_each_skill_that_comes_first(capsys: Captured) -> None:
    run("warm-up")

    *listed, how = capsys.readouterr().out.splitlines()
    assert how == "To begin one: tray-turns warm-up find-another"
    assert [line.split(":")[0][21:] for line in listed] == [
        "Find another like this",
        "Match the picture",
        "Press together",
        "Copy my model",
        "Your turn, my turn",
        "Let us agree",
    ]


@pytest.mark.parametrize("warmup", WARMUPS.values(), ids=WARMUPS)
def test_cues_are_short_and_take_turns(warmup: Warmup) -> None:
    cues = warmup.cues(["Ada", "Zed"])

    assert len(cues) == warmup.turns + 2
    assert all(len(cue.split()) <= 9 for cue in cues)
    assert sum("Ada" in cue for cue in cues) == sum("Zed" in cue for cue in cues) == warmup.turns / 2


def test_a_warm_up_says_its_cues_and_counts_what_was_seen(monkeypatch: pytest.MonkeyPatch, capsys: Captured) -> None:
    typed(monkeypatch, "", "", "a", "", "b", "A", "what?", "q")
    said: list[str] = []

    warmups.warm_up(WARMUPS["your-turn-my-turn"], {Seat.A: "Ada", Seat.B: "Bo"}, said.append)

    assert said == ["One tower, one piece each.", "It is Ada's turn.", "It is Bo's turn."]
    assert capsys.readouterr().out.splitlines()[-2:] == ["Ada waited for the turn: 2", "Bo waited for the turn: 1"]


def test_a_warm_up_ends_by_itself_after_its_last_cue(monkeypatch: pytest.MonkeyPatch, capsys: Captured) -> None:
    typed(monkeypatch, *[""] * 20)
    said: list[str] = []

    warmups.warm_up(WARMUPS["let-us-agree"], {Seat.A: "A", Seat.B: "B"}, said.append)

    assert said[-1] == "We have agreed."


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("juggling",), "no warm-up"),
        (("find-another", "--children", "4"), "one, two or three"),
        (("find-another", "--names", "C=Cy"), "no child"),
    ],
)
def test_warm_ups_that_cannot_be_are_one_sentence(words: tuple[str, ...], said: str) -> None:
    with pytest.raises(SettingsError, match=said):
        run("warm-up", *words, "--quiet")


@pytest.mark.parametrize("broken", ["[x", "[x]\ntitle = 1", '[x]\ntitle = "t"'])
def test_broken_warm_ups_are_one_sentence(broken: str) -> None:
    with pytest.raises(SharedError, match="shared/warmups"):
        read_warmups(broken)
