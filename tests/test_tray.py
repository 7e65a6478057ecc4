"""Which pieces fit what was said."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.core.plans.plan import Piece, Plan, read_plan
from assistant.core.words.tray import Fitting, Tray, merge
from assistant.devices.shelf import plan_text
from assistant.errors import OutOfTurnError
from tests.utterances import boat, pairs

BOAT = read_plan(*plan_text("little-boat"))
TRAY = Tray.of(BOAT, boat())


def fits(said: str, tray: Tray = TRAY) -> tuple[str, ...]:
    return tray.fitting(pairs(said)).keys


def test_the_tray_holds_just_the_pieces_of_the_plan() -> None:
    """Fact of the trade (common practice, no source): only the pieces needed lie on the tray."""
    assert TRAY.count == 8


@pytest.mark.parametrize(
    ("said", "keys"),
    [
        ("colour red", ("long-red", "short-red")),
        ("colour red, size long", ("long-red",)),
        ("colour blue", ("long-blue", "short-blue", "blue-triangle")),
        ("shape triangle", ("white-triangle", "blue-triangle")),
        ("colour purple", ()),
        ("colour red, shape triangle", ()),
        ("colour red, colour white", ("long-red", "short-red", "white-triangle")),
    ],
)
def test_the_pieces_that_are_all_that_was_said(said: str, keys: tuple[str, ...]) -> None:
    assert fits(said) == keys


def test_a_kind_of_word_that_no_piece_has_narrows_nothing() -> None:
    assert fits("colour red, pattern striped") == ("long-red", "short-red")
    assert TRAY.fitting(()).pieces == TRAY.count


def test_a_word_means_itself_first_and_its_neighbour_only_when_nothing_is_exactly_that() -> None:
    """ "The little red one": no red piece is small, and one is short."""
    assert fits("size small") == ("yellow-square", "green-square", "blue-triangle")
    assert fits("size small, colour red") == ("short-red",)
    assert fits("size small, colour red", Tray.of(BOAT)) == ()


def test_two_pieces_that_are_the_same_in_every_way_are_one_kind() -> None:
    bead = Piece("bead", {"colour": "red"})
    assert Tray({"bead": bead}, {"bead": 3}).fitting(pairs("colour red")) == Fitting(3, ("bead",))
    assert Tray({"bead": bead}, {"bead": 3}).fitting(pairs("colour red")).kinds == 1


def test_a_piece_that_is_built_in_lies_on_the_tray_no_more() -> None:
    later = TRAY.without(BOAT.steps[1].put)
    assert (TRAY.count, later.count) == (8, 7)
    assert fits("colour red", later) == ("short-red",)
    assert fits("colour red") == ("long-red", "short-red")


def test_a_piece_that_is_not_there_cannot_be_taken_and_nothing_changes() -> None:
    later = TRAY.without(BOAT.steps[1].put)
    with pytest.raises(OutOfTurnError, match="No long red block lies on the tray any more"):
        later.without(BOAT.steps[1].put)
    assert later.count == 7


@given(st.lists(st.sampled_from(sorted({p for piece in BOAT.pieces.values() for p in piece.attributes.items()})), max_size=4))
def test_what_fits_lies_on_the_tray_and_saying_nothing_more_fits_no_less(said: list[tuple[str, str]]) -> None:
    fitting = TRAY.fitting(said)
    assert set(fitting.keys) <= BOAT.pieces.keys()
    assert fitting.pieces <= TRAY.count and fitting.kinds <= fitting.pieces


def test_the_whole_plan_empties_the_tray() -> None:
    def built(plan: Plan) -> Tray:
        tray = Tray.of(plan)
        for step in plan.steps:
            tray = tray.without(step.put)
        return tray

    assert built(BOAT).count == 0


def test_contributions_to_one_request_add_up_and_a_new_value_replaces_the_old() -> None:
    first, second, third = pairs("colour red"), pairs("size long"), pairs("colour blue")
    assert merge(first, second) == pairs("colour red, size long")
    assert merge(merge(first, second), third) == pairs("size long, colour blue")
    assert merge((), first) == merge(first, ()) == first
