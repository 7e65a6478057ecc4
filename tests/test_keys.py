"""The facilitator's keys."""

from assistant.core.club.keys import KEYS, Keys, Waiting, help_lines
from assistant.events import Heard, Marked, Paused, Resumed
from assistant.terms import Mark, Seat

SEATS = (Seat.A, Seat.B)


def test_pausing_is_one_key_and_so_is_going_on() -> None:
    keys = Keys(SEATS)
    assert keys.press(" ") == Marked(0, Mark.PAUSE)
    keys.see(Paused(100))
    assert keys.press(" ") == Marked(0, Mark.RESUME)
    keys.see(Resumed(200))
    assert keys.press(" ") == Marked(0, Mark.PAUSE)


def test_the_last_turn_is_put_right_with_two_keys() -> None:
    keys = Keys(SEATS)
    keys.see(Heard(100, 7, 0, 90, Seat.UNSURE, 0.0, ()))
    assert isinstance(keys.press("w"), Waiting)
    assert keys.press("B") == Marked(0, Mark.WHO, Seat.B, 7)
    keys.press("w")
    assert keys.press("f") == Marked(0, Mark.WHO, Seat.FACILITATOR, 7)


def test_a_letter_that_is_no_seat_ends_the_wait_and_does_nothing() -> None:
    keys = Keys(SEATS)
    keys.press("p")
    assert keys.press("c") is None
    assert keys.press("c") == Marked(0, Mark.CLEAR_AWAY)


def test_stopping_takes_the_key_twice() -> None:
    keys = Keys(SEATS)
    assert isinstance(keys.press("q"), Waiting)
    assert keys.press("d") is None
    keys.press("q")
    assert keys.press("q") == Marked(0, Mark.STOP)


def test_every_key_is_on_the_list_and_unknown_keys_do_nothing() -> None:
    assert len(help_lines()) == len(KEYS) + 3
    assert Keys(SEATS).press("z") is None
