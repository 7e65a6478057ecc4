"""Printed sheets: the words are those of ``shared/``, large enough, on the paper that was asked for."""

from collections.abc import Iterator, Sequence
from io import BytesIO
from pathlib import Path
from typing import Any

import pytest
from PIL import Image
from pypdf import PdfReader

from assistant.core.club.settings import Settings
from assistant.core.plans.look import read_look
from assistant.core.plans.model import Plan
from assistant.core.plans.plan import read_plan
from assistant.core.plans.sheets import read_sheets
from assistant.core.wording import Count
from assistant.errors import SettingsError, SharedError, SourceError
from assistant.outputs.paper.page import MARGIN_MM, POINT_MM, SMALLEST_PT, Format
from assistant.outputs.paper.photos import LONGEST_SIDE, clean_photo
from assistant.outputs.paper.printing import Sheet, printed
from assistant.outputs.paper.sheets import Order
from assistant.terms import CHILDREN, Seat

SHARED = Path(__file__).parent.parent / "shared"
PLANS = sorted(path.stem for path in (SHARED / "plans").glob("*.toml"))


def text_of(name: str) -> str:
    return (SHARED / name).read_text(encoding="utf-8")


LOOK = read_look(text_of("look.toml"))
FILES = [text_of(f"{folder}/en.toml") for folder in ("sheets", "roles", "rules", "checklists")]
TEXTS = read_sheets(*FILES)


def plan(name: str = "little-boat") -> Plan:
    return read_plan(text_of(f"plans/{name}.toml"), name)


def pdf(*sheets: Sheet, paper: Format = Format.A4, children: int = 3, name: str = "little-boat", **more: Any) -> PdfReader:
    order = Order(plan(name), Settings(children=children, names=more.pop("names", {})), **more)
    return PdfReader(BytesIO(printed(sheets or tuple(Sheet), order, TEXTS, LOOK, paper)))


def words(reader: PdfReader) -> str:
    """All text, with every break a space."""
    return " ".join(" ".join(page.extract_text() for page in reader.pages).split())


def letters(reader: PdfReader) -> Iterator[tuple[str, float, float, float]]:
    """Each run of text: the text, its size in points, and where it begins, in points from the lower left corner."""
    found: list[tuple[str, float, float, float]] = []

    def visit(text: str, cm: list[float], tm: list[float], font: Any, size: float) -> None:
        if text.strip():
            found.append((text, size * abs(tm[3] * cm[3]), tm[4] + cm[4], tm[5] * cm[3] + cm[5]))

    for page in reader.pages:
        page.extract_text(visitor_text=visit)
    yield from found


@pytest.mark.parametrize("children", [2, 3])
def test_each_child_has_a_card_with_the_words_of_its_role(children: int) -> None:
    reader = pdf(Sheet.ROLES, children=children)

    assert len(reader.pages) == children
    for page, card in zip(reader.pages, TEXTS.role_cards(children), strict=True):
        said = " ".join(page.extract_text().split())
        assert said == " ".join((card.title, *card.lines))


def test_with_two_children_the_builder_looks_at_the_picture() -> None:
    assert TEXTS.role_cards(2)[0].lines[0] == TEXTS.role_cards(3)[0].lines[0] == "I look at the picture."
    assert TEXTS.role_cards(3)[2].lines[0] == "I take the piece."


@pytest.mark.parametrize("younger", [False, True])
def test_the_rules_are_those_that_live_in_shared_and_the_family_s_own(younger: bool) -> None:
    own = ("Feet stay under the table.",)
    said = words(pdf(Sheet.RULES, own_rules=own, younger=younger))

    rules = TEXTS.younger if younger else TEXTS.rules
    for number, rule in enumerate((*rules, *own), start=1):
        assert f"{number}. {rule}" in said.replace("Rules we added ", "")


def test_lists_timetable_and_tray_say_what_shared_says() -> None:
    said = words(pdf(Sheet.LISTS, Sheet.TIMETABLE, Sheet.TRAY))

    for line in (*TEXTS.set_up, *TEXTS.clear_away):
        assert line.format(pieces=Count(8)) in said
    for part in TEXTS.words["timetable"]["part"].values():
        assert part in said
    for piece in plan().pieces.values():
        assert piece.name in said


def test_the_timetable_adds_up_to_the_length_of_the_club() -> None:
    said = words(pdf(Sheet.TIMETABLE))

    assert "45 minutes in all, and no longer" in said
    assert [f"{minutes} minutes" in said for minutes in (5, 35)] == [True, True]


def test_step_cards_name_the_colour_and_leave_the_words_to_the_engineer() -> None:
    said = words(pdf(Sheet.STEPS))

    assert "Step 1 of 8 blue" in said
    assert "long blue block" not in said and "flat on the board" not in said
    assert "on each piece of bread" in words(pdf(Sheet.STEPS, name="cheese-toast"))


def test_the_adult_s_list_has_the_words_and_the_warnings() -> None:
    said = words(pdf(Sheet.WORDS, name="cheese-toast"))

    assert "2 slices of bread" in said and "An adult does this: it is sharp." in said and "2 × green leaf" in said


@pytest.mark.parametrize(
    ("name", "paper"), [*((name, Format.LETTER) for name in PLANS), ("little-boat", Format.A4), ("cheese-toast", Format.A4)]
)
def test_everything_is_large_enough_and_inside_the_page(name: str, paper: Format) -> None:
    """Easy reading: 12 to 14 points at least. ISO 216: A4 is 210 x 297 mm; ANSI: Letter is 8.5 x 11 inches."""
    reader = pdf(paper=paper, name=name, children=plan(name).children[-1], youngest_years=2, own_rules=("We listen.",))
    wide, high = {Format.A4: (210, 297), Format.LETTER: (215.9, 279.4)}[paper]

    for page in reader.pages:
        assert (float(page.mediabox.width) * POINT_MM, float(page.mediabox.height) * POINT_MM) == pytest.approx(
            (wide, high), abs=0.1
        )
    for text, size, left, foot in letters(reader):
        assert size >= SMALLEST_PT - 0.05, (text, size)
        assert MARGIN_MM / 2 <= left * POINT_MM <= wide - MARGIN_MM / 2, text
        assert 5 <= foot * POINT_MM <= high - 5, text


@pytest.mark.parametrize(
    ("age", "name", "caution"),
    [
        (None, "two-colour-string", ""),
        (4, "two-colour-string", ""),
        (2, "two-colour-string", "A child under 3 could choke on: red bead, white bead."),
        (2, "chunky-wall", "no piece of this plan goes into the small-parts cylinder"),
        (1, "fruit-yoghurt", "Cut food to suit that child"),
    ],
)
def test_the_caution_follows_the_youngest_in_the_room(age: float | None, name: str, caution: str) -> None:
    said = words(pdf(Sheet.TRAY, Sheet.LISTS, name=name, youngest_years=age))

    assert ("under 3" in said) is bool(caution)
    assert said.count(caution) == (3 if caution else len(said) + 1)  # the tray list and both lists


def test_the_rota_names_the_children_and_says_what_is_even() -> None:
    said = words(pdf(Sheet.ROTA, names={Seat.A: "Zoë", Seat.B: "Łukasz"}))

    assert "1 Zoë Łukasz C" in said
    assert "After 3 rounds everybody has had each role equally often." in said
    assert "After 6 rounds everybody has also followed everybody else equally often." in said
    assert "If Zoë passes: Zoë and Łukasz change places." in said


@pytest.mark.parametrize("rounds", [6, 12])
@pytest.mark.parametrize("names", [("Maximilian-Alexander Jon", "Maximilian-Alexander Jo", "Anna Maria Luisa Johanna"), "WMN"])
def test_a_long_name_stands_whole_in_the_rota(names: Sequence[str], rounds: int) -> None:
    called = {seat: name.ljust(24, name[-1]) if len(name) == 1 else name for seat, name in zip(CHILDREN, names, strict=True)}
    table = "".join(words(pdf(Sheet.ROTA, names=called, rounds=rounds)).partition("After")[0].split())
    for name in called.values():
        assert table.count("".join(name.split())) >= rounds


def test_after_a_pass_the_rota_claims_no_more_than_is_true() -> None:
    said = words(pdf(Sheet.ROTA, rounds=4, passes={2: Seat.B}))

    assert "* B passed" in said
    assert "equally often" not in said


def test_a_photo_takes_the_place_of_the_drawing() -> None:
    out = BytesIO()
    Image.new("RGB", (64, 48), "#885511").save(out, "JPEG")
    reader = pdf(Sheet.STEPS, photos={2: clean_photo(out.getvalue(), "2.jpg")})

    assert [len(page.images) for page in reader.pages] == [0, 1, 0, 0, 0]


def test_a_photo_loses_place_time_and_device_and_stands_upright() -> None:
    exif = Image.Exif()
    exif[0x0112] = 6  # EXIF 2.32, orientation: turn a quarter to the right
    exif[0x0110] = "a telephone"
    exif.get_ifd(0x8825)[1] = "N"
    out = BytesIO()
    Image.new("RGB", (4000, 2000)).save(out, "JPEG", exif=exif)
    assert b"telephone" in out.getvalue()

    clean = clean_photo(out.getvalue(), "1.jpg")

    with Image.open(BytesIO(clean)) as photo:
        assert photo.size == (LONGEST_SIDE // 2, LONGEST_SIDE)
        assert not photo.getexif() and b"telephone" not in clean


@pytest.mark.parametrize("broken", [b"", b"no picture", b"\xff\xd8\xff\xe0cut off"])
def test_what_is_no_photo_is_one_sentence(broken: bytes) -> None:
    with pytest.raises(SourceError, match=r"1\.jpg"):
        clean_photo(broken, "1.jpg")


def test_a_sign_that_cannot_be_printed_is_named() -> None:
    with pytest.raises(SettingsError, match="'Я'"):
        pdf(Sheet.ROTA, names={Seat.A: "Яна"})


def test_a_name_of_any_length_stays_in_its_column() -> None:
    reader = pdf(Sheet.ROTA, names={Seat.A: "Bartholomew-Maximilian the Third of Somewhere"})

    assert "Bartholomew" in words(reader)


def test_the_same_sheets_are_the_same_bytes_and_carry_no_date() -> None:
    order = Order(plan(), Settings())
    one, other = (printed(tuple(Sheet), order, TEXTS, LOOK) for _ in range(2))

    assert one == other
    assert str(PdfReader(BytesIO(one)).metadata.creation_date).startswith("2000-01-01")  # type: ignore[union-attr]


@pytest.mark.parametrize(
    ("which", "broken", "said"),
    [
        (0, "", "shared/sheets"),
        (1, "[engineer]", "shared/roles"),
        (2, "rules = []", "shared/rules"),
        (3, "set_up = 1", "shared/checklists"),
        (2, "rules = [", "shared/rules"),
    ],
)
def test_broken_words_are_one_sentence(which: int, broken: str, said: str) -> None:
    files = list(FILES)
    files[which] = broken
    with pytest.raises(SharedError, match=said):
        read_sheets(*files)
