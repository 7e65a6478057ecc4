"""Colours that can be told apart: WCAG 2.2's own values, and every pair that the drawings and sheets use."""

from itertools import combinations, product
from pathlib import Path

import pytest

from assistant.core.plans.look import SHAPE_CONTRAST, TEXT_CONTRAST, contrast, mix, read_look
from assistant.errors import SharedError

TEXT = (Path(__file__).parent.parent / "shared" / "look.toml").read_text(encoding="utf-8")
LOOK = read_look(TEXT)


@pytest.mark.parametrize(
    ("colour", "on_white"),
    [
        ("#000000", 21.0),
        ("#595959", 7.005),
        ("#767676", 4.542),
        ("#777777", 4.478),
        ("#949494", 3.033),
        ("#FF0000", 3.998),
        ("#0000FF", 8.592),
        ("#FFFF00", 1.074),
    ],
)
def test_contrast_on_white_as_wcag_defines_it(colour: str, on_white: float) -> None:
    """WCAG 2.2: L = .2126 R + .7152 G + .0722 B over linear channels, threshold 0.04045; (L1 + .05) / (L2 + .05)."""
    assert contrast(colour, "#FFFFFF") == pytest.approx(on_white, abs=0.001)


@pytest.mark.parametrize(
    ("colour", "on_white", "on_black"),
    [
        ("#E69F00", 2.25, 9.32),
        ("#56B4E9", 2.31, 9.10),
        ("#009E73", 3.42, 6.14),
        ("#F0E442", 1.32, 15.88),
        ("#0072B2", 5.19, 4.05),
        ("#D55E00", 3.87, 5.43),
        ("#CC79A7", 3.06, 6.86),
    ],
)
def test_the_palette_is_that_of_okabe_and_ito(colour: str, on_white: float, on_black: float) -> None:
    """Okabe & Ito, Color Universal Design (2008): the hexadecimal values; contrasts computed once with another program."""
    assert colour in LOOK.pieces.values()
    assert contrast(colour, "#FFFFFF") == pytest.approx(on_white, abs=0.006)
    assert contrast(colour, "#000000") == pytest.approx(on_black, abs=0.006)


def test_text_can_be_read_wherever_it_stands() -> None:
    for ink, ground in product((LOOK.dark, LOOK.quiet), (LOOK.paper, LOOK.shade)):
        assert contrast(ink, ground) >= TEXT_CONTRAST


def test_icons_of_roles_have_outlines_that_stand_out() -> None:
    for colour in LOOK.roles.values():
        assert contrast(LOOK.dark, colour) >= SHAPE_CONTRAST


def test_no_two_pieces_look_the_same() -> None:
    """Chosen by us: well apart in some channel; the written name does the rest."""
    for (one, a), (other, b) in combinations(LOOK.pieces.items(), 2):
        apart = max(abs(int(a[i : i + 2], 16) - int(b[i : i + 2], 16)) for i in (1, 3, 5))
        assert apart >= 20, (one, other)


def test_mixing_goes_from_one_colour_to_the_other() -> None:
    assert [mix("#000000", "#FFFFFF", share) for share in (0, 0.5, 1)] == ["#000000", "#808080", "#FFFFFF"]


def test_a_plan_s_own_colour_comes_first() -> None:
    assert LOOK.piece("red", {"red": "#AA0000"}) == "#AA0000"
    assert LOOK.piece("Red", {}) == "#D55E00"
    assert LOOK.piece("mauve", {}) == LOOK.pieces["plain"]


@pytest.mark.parametrize("broken", ["", "x", TEXT.replace("#D55E00", "red"), TEXT.replace("[role]", "[rolls]")])
def test_a_broken_palette_is_one_sentence(broken: str) -> None:
    with pytest.raises(SharedError, match=r"shared/look\.toml"):
        read_look(broken)
