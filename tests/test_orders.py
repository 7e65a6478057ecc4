"""What the helper page may send, and what it may not."""

import json
from typing import Any

import pytest

from assistant.events import Marked
from assistant.pages.board import Board, Named, Pressed, PutAway, Snapshot
from assistant.pages.orders import BadOrderError, read_order
from assistant.terms import Mark, Seat

SEATS = (Seat.A, Seat.B)
TALLIES = ("waited", "helped")


def order(**sent: Any) -> object:
    return read_order(json.dumps(sent).encode(), SEATS, TALLIES)


@pytest.mark.parametrize(
    ("sent", "meant"),
    [
        ({"do": "step done"}, Marked(0, Mark.STEP_DONE)),
        ({"do": "pass", "seat": "B"}, Marked(0, Mark.PASS, Seat.B)),
        ({"do": "who", "unit": 7, "seat": "F"}, Marked(0, Mark.WHO, Seat.FACILITATOR, 7)),
        ({"do": "tally", "seat": "A", "what": "waited"}, Marked(0, Mark.TALLY, Seat.A, what="waited")),
        ({"do": "tally back", "seat": "A", "what": "waited"}, Marked(0, Mark.TALLY_BACK, Seat.A, what="waited")),
        ({"do": "key", "key": "d"}, Pressed("d")),
        ({"do": "put away"}, PutAway()),
        ({"do": "names", "names": {"A": "  Ada \n Lee\u202e ", "B": " "}}, Named({Seat.A: "Ada Lee"})),
        ({"do": "names", "names": {}}, Named({})),
    ],
)
def test_what_it_means(sent: dict[str, Any], meant: object) -> None:
    assert order(**sent) == meant


@pytest.mark.parametrize(
    "sent",
    [
        {},
        {"do": "format the disk"},
        {"do": ["step done"]},
        {"do": "pass"},
        {"do": "pass", "seat": "C"},  # two children play
        {"do": "pass", "seat": "F"},
        {"do": "pass", "seat": {"A": 1}},
        {"do": "who", "unit": True, "seat": "A"},
        {"do": "who", "unit": -1, "seat": "A"},
        {"do": "who", "unit": 1, "seat": "?"},
        {"do": "tally", "seat": "A", "what": "said a bad word"},
        {"do": "tally", "seat": "A"},
        {"do": "key", "key": "dd"},
        {"do": "key"},
        {"do": "names", "names": {"A": "x" * 25}},
        {"do": "names", "names": {"A": 7}},
        {"do": "names", "names": {"C": "Cy"}},  # two children play
        {"do": "names", "names": {"F": "Fi"}},
        {"do": "names", "names": ["Ada"]},
        {"do": "names"},
    ],
)
def test_what_is_refused(sent: dict[str, Any]) -> None:
    with pytest.raises(BadOrderError):
        order(**sent)


@pytest.mark.parametrize("raw", [b"", b"{", b"[]", b"null", b'"stop"', b"\xff\xfe", b"[" * 900, b'{"do": NaN}'])
def test_what_is_no_order_at_all(raw: bytes) -> None:
    with pytest.raises(BadOrderError):
        read_order(raw, SEATS, TALLIES)


def test_the_board_holds_a_few_orders_and_refuses_the_rest() -> None:
    board = Board()
    taken = [board.offer(Pressed("d")) for _ in range(40)]
    assert (taken.count(True), taken[0], taken[-1]) == (32, True, False)
    assert len(list(board.orders())) == 32
    assert list(board.orders()) == []


def test_the_board_shows_only_the_newest() -> None:
    board = Board()
    for sample in (100, 200, 300):
        board.post(Snapshot(sample))
    assert board.newest == (3, Snapshot(300))
