"""The session as it stands, folded from its events."""

from functools import reduce

from assistant.core.club.view import View, see
from assistant.events import (
    Corrected,
    CueAsked,
    Event,
    Heard,
    Marked,
    Paused,
    Refused,
    StepDone,
    Tallied,
    TallyUndone,
    Trouble,
    Understood,
)
from assistant.terms import Act, Cue, Fault, Mark, Seat


def seen(*events: Event) -> View:
    return reduce(see, events, View())


def heard(unit: int, seat: Seat) -> Heard:
    return Heard(unit * 100 + 90, unit, unit * 100, unit * 100 + 50, seat, 0.2, ())


def test_the_last_six_turns_are_kept_and_every_turn_is_counted() -> None:
    view = seen(*(heard(unit, Seat.A) for unit in range(1, 9)))
    assert [turn.heard.unit for turn in view.turns] == [3, 4, 5, 6, 7, 8]
    assert view.turn is view.turns[-1]
    assert view.heard == {Seat.A: 8}


def test_a_turn_put_right_moves_to_the_other_seat_however_old_it_is() -> None:
    units = (heard(unit, Seat.UNSURE) for unit in range(1, 9))
    view = seen(*units, Corrected(900, 5, Seat.UNSURE, Seat.B), Understood(900, 5, Seat.B, None, Act.OTHER))
    assert [turn.seat.value for turn in view.turns] == ["?", "?", "B", "?", "?", "?"]
    view = see(view, Corrected(910, 1, Seat.UNSURE, Seat.C))  # no longer shown, still counted
    assert view.heard == {Seat.UNSURE: 6, Seat.B: 1, Seat.C: 1}


def test_a_cue_stays_to_be_read_until_the_step_is_done_or_a_break_begins() -> None:
    asked = CueAsked(10, Cue.SWAP, "We swap now.")
    assert seen(asked).cue == asked
    assert seen(asked, StepDone(20, 1, None)).cue is None
    assert seen(asked, Paused(20)).cue is None


def test_only_the_last_tally_of_its_kind_is_taken_back() -> None:
    waited, helped = (Seat.A, "waited"), (Seat.A, "helped")
    tallies = [Tallied(1, *waited), Tallied(2, *helped), Tallied(3, *waited), Tallied(4, *helped)]
    view = seen(*tallies, TallyUndone(5, *waited))
    assert view.tallies == (waited, helped, helped)
    assert (view.tallied(*waited), view.tallied(*helped)) == (1, 2)


def test_what_is_wrong_stands_until_it_is_over() -> None:
    away, mute = Trouble(1, Fault.AWAY, None, over=False), Trouble(2, Fault.SILENT, Seat.B, over=False)
    assert seen(away, mute, away).troubles == ((Fault.SILENT, Seat.B), (Fault.AWAY, None))
    assert seen(away, mute, Trouble(3, Fault.AWAY, None, over=True)).troubles == ((Fault.SILENT, Seat.B),)


def test_why_a_key_was_refused_stands_until_the_next_key() -> None:
    refused = [Marked(1, Mark.STEP_BACK), Refused(1, Mark.STEP_BACK, "There is no step to go back to.")]
    assert seen(*refused).refused == "There is no step to go back to."
    assert seen(*refused, Marked(2, Mark.PAUSE)).refused == ""
