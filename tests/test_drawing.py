"""Pictures of plans: what is drawn, in what order, in colours that stand out, and the same as the stored ones.

After a change that is meant, look at the new pictures in a browser and renew the stored ones: ``python -m tests.test_drawing``.
"""

import tomllib
import xml.etree.ElementTree as ElementTree
from itertools import product
from pathlib import Path

import pytest

from assistant.core.plans.building import Form, Lies, Place, lay
from assistant.core.plans.look import SHAPE_CONTRAST, contrast, mix, read_look
from assistant.core.plans.model import Plan
from assistant.core.plans.plan import read_plan
from assistant.outputs.pictures.blocks import LIGHT, PALE, Solid, build, from_the_back
from assistant.outputs.pictures.drawing import Drawing
from assistant.outputs.pictures.icons import ICONS, icon
from assistant.outputs.pictures.shapes import Picture, Polygon, Shape, Text, to_svg

ROOT = Path(__file__).parent.parent
STORED = Path(__file__).parent / "samples" / "pictures"
LOOK = read_look((ROOT / "shared" / "look.toml").read_text(encoding="utf-8"))
CARE = tomllib.loads((ROOT / "shared" / "sheets" / "en.toml").read_text(encoding="utf-8"))["care"]
PLANS = sorted(path.stem for path in (ROOT / "shared" / "plans").glob("*.toml"))
SVG = "{http://www.w3.org/2000/svg}"


def plan(name: str) -> Plan:
    return read_plan((ROOT / "shared" / "plans" / f"{name}.toml").read_text(encoding="utf-8"), name)


def drawing(name: str) -> Drawing:
    return Drawing(plan(name), LOOK, CARE)


def pictures_to_store() -> dict[str, str]:
    """One picture of each kind, with the cases that are easily drawn wrong."""
    return {
        "boat-6-behind": to_svg(drawing("little-boat").step(6)),  # a new piece partly behind others: dashes
        "boat-8-triangle": to_svg(drawing("little-boat").step(8)),
        "bridge-model": to_svg(drawing("bridge-with-road").model()),  # arches, planks, a car
        "gate-tray": to_svg(drawing("garden-gate").tray()),
        "caterpillar-8": to_svg(drawing("caterpillar").step(8)),  # the second row runs back
        "toast-5-adult": to_svg(drawing("cheese-toast").step(5)),
        "table-1-own-activity": to_svg(drawing("table-for-two").step(1)),
    }


@pytest.mark.parametrize(("name", "svg"), pictures_to_store().items(), ids=pictures_to_store())
def test_a_picture_is_the_one_that_was_looked_at(name: str, svg: str) -> None:
    assert svg == (STORED / f"{name}.svg").read_text(encoding="utf-8"), __doc__


@pytest.mark.parametrize("name", PLANS)
def test_every_step_of_every_plan_is_drawn_inside_its_frame(name: str) -> None:
    drawn = drawing(name)
    for picture in (drawn.model(), drawn.tray(), *(drawn.step(step.number) for step in drawn.plan.steps)):
        for x, y in (spot for shape in picture.shapes for spot in spots_of(shape)):
            assert -1 <= x <= picture.width + 1 and -1 <= y <= picture.height + 1, picture.title


def spots_of(shape: Shape) -> list[tuple[float, float]]:
    if isinstance(shape, Polygon):
        return list(shape.points)
    if isinstance(shape, Text):
        return [shape.at]
    (x, y), across, down = shape.middle, shape.across, shape.down
    return [(x - across, y - down), (x + across, y + down)]


@pytest.mark.parametrize("name", PLANS)
def test_the_colour_of_each_new_piece_is_written(name: str) -> None:
    drawn = drawing(name)
    for step in drawn.plan.steps:
        written = [shape.text for shape in drawn.step(step.number).shapes if isinstance(shape, Text)]
        for piece in step.put:
            assert any(piece.attributes.get("colour", "") in text for text in written)


@pytest.mark.parametrize("name", PLANS)
def test_an_svg_says_in_words_what_it_shows(name: str) -> None:
    picture = drawing(name).step(1)
    root = ElementTree.fromstring(to_svg(picture))

    assert root.get("role") == "img"
    assert root.findtext(f"{SVG}title") == picture.title
    assert plan(name).steps[0].put[0].name in picture.title


def test_words_from_a_plan_cannot_break_out_of_the_svg() -> None:
    text = Text((0, 0), '<script>"&', 12, "#000000")
    root = ElementTree.fromstring(to_svg(Picture(10, 10, "</title><b>", (text,))))

    assert root.findtext(f"{SVG}title") == "</title><b>"
    assert root.findtext(f"{SVG}text") == '<script>"&'


def test_outlines_stand_out_from_every_side_of_every_colour() -> None:
    """WCAG 2.2, 1.4.11: 3 to 1 for the parts of a picture that are needed to understand it."""
    for colour, lighter in product(LOOK.pieces.values(), LIGHT):
        assert contrast(LOOK.outline(colour), mix(colour, LOOK.paper, lighter)) >= SHAPE_CONTRAST
    for colour in LOOK.pieces.values():
        assert contrast(LOOK.outline(colour), colour) >= SHAPE_CONTRAST
        assert max(contrast(colour, LOOK.shade), contrast(LOOK.outline(colour), LOOK.shade)) >= SHAPE_CONTRAST


def test_older_pieces_are_paler_and_still_have_an_outline_on_the_board() -> None:
    assert contrast(LOOK.faint, LOOK.paper) >= SHAPE_CONTRAST
    assert contrast(LOOK.faint, LOOK.shade) >= SHAPE_CONTRAST
    for colour in LOOK.pieces.values():
        assert contrast(mix(colour, LOOK.paper, PALE), LOOK.paper) < 2 < contrast(LOOK.dark, mix(colour, LOOK.paper, PALE))


def solid(step: int, colour: str, at: tuple[int, int, int], size: tuple[int, int, int] = (1, 1, 1)) -> Solid:
    return Solid(lay(step, colour, Form.BOX, size, Place(at, Lies.FLAT)), LOOK.pieces[colour], colour)


@pytest.mark.parametrize(
    ("further", "nearer"),
    [
        ((0, 0, 0), (1, 0, 0)),  # to the right is nearer
        ((0, 1, 0), (0, 0, 0)),  # to the front is nearer
        ((0, 0, 0), (0, 0, 1)),  # up is nearer
        ((0, 1, 1), (1, 0, 1)),
    ],
)
def test_what_is_nearer_is_drawn_later(further: tuple[int, int, int], nearer: tuple[int, int, int]) -> None:
    for order in (("red", further, "blue", nearer), ("blue", nearer, "red", further)):
        solids = [solid(1, str(order[0]), order[1]), solid(1, str(order[2]), order[3])]
        fills = [shape.fill for shape in build(from_the_back(solids), None, (800, 600), LOOK) if isinstance(shape, Polygon)]
        assert fills.index(LOOK.pieces["red"]) < fills.index(LOOK.pieces["blue"])


def test_a_new_piece_behind_others_is_dashed() -> None:
    hidden = [solid(1, "red", (1, 0, 0), (1, 1, 3)), solid(2, "blue", (0, 1, 0))]
    open_ = [solid(1, "red", (0, 1, 0)), solid(2, "blue", (1, 0, 0))]

    def lines(solids: list[Solid]) -> int:
        """Strokes that are no outlines, less the two that lead from the tag to its piece."""
        return (
            sum(isinstance(shape, Polygon) and not shape.closed for shape in build(from_the_back(solids), 2, (800, 600), LOOK))
            - 2
        )

    assert lines(open_) == 0
    assert lines(hidden) > 10


def test_later_steps_are_not_given_away() -> None:
    fills = {getattr(shape, "fill", "") for shape in drawing("little-boat").step(1).shapes}

    assert LOOK.pieces["blue"] in fills
    assert not fills & {LOOK.pieces["red"], LOOK.pieces["yellow"], LOOK.pieces["green"]}


@pytest.mark.parametrize("name", ICONS)
def test_icons_stay_in_their_box_and_are_outlined(name: str) -> None:
    shapes = icon(name, LOOK, LOOK.pieces["yellow"])

    assert all(-1 <= part <= 101 for shape in shapes for spot in spots_of(shape) for part in spot)
    assert any(getattr(shape, "stroke", "") == LOOK.dark for shape in shapes)


if __name__ == "__main__":
    for stored, drawn_now in pictures_to_store().items():
        (STORED / f"{stored}.svg").write_text(drawn_now, encoding="utf-8")
