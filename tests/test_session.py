"""The session as a state machine: what follows from what."""

from collections.abc import Iterable
from itertools import product

import pytest

from assistant.core.club.session import PHASES, Move, Session
from assistant.core.club.settings import Settings, SwapBy, SwapRule
from assistant.core.measures.record import read_record
from assistant.errors import OutOfTurnError
from assistant.events import (
    Corrected,
    CueAsked,
    Event,
    Heard,
    Passed,
    PhaseBegan,
    Refused,
    RolesSet,
    SessionClosed,
    StepBegan,
    StepDone,
    StepUndone,
    SwapAnnounced,
    Tallied,
    TallyUndone,
    Tick,
    TimeLeft,
    Understood,
)
from assistant.samples import FRAME_SAMPLES, to_samples
from assistant.terms import Act, Closing, Cue, Mark, Phase, Repair, Seat
from tests.fakes import SHORT, a_session, conversation, marked


def tell(session: Session, events: Iterable[Event] = (), until_s: float = 0.0) -> list[Event]:
    """Everything that follows when these events come in, with the clock ticking between them."""
    made, sample, left = list(session.open()), 0, sorted(events, key=lambda event: event.sample)
    last = max([to_samples(until_s), *(event.sample for event in left)])
    while sample <= last:
        sample += FRAME_SAMPLES
        while left and left[0].sample <= sample:
            made += session.receive(left.pop(0))
        made += session.receive(Tick(sample))
    return made


def only(events: Iterable[Event], *kinds: type[Event]) -> list[Event]:
    return [event for event in events if isinstance(event, kinds)]


def cues(events: Iterable[Event]) -> list[tuple[int, Cue]]:
    """The cues and the whole second in which each was asked for."""
    return [(event.sample // 16_000, event.cue) for event in events if isinstance(event, CueAsked)]


def roles(session: Session) -> str:
    return "".join(seat for seat, _ in session.state.roles)


ASK_AND_DONE = conversation(
    (20, "A: the long blue block please"), (25, "C: done"),
    (30, "A: the long red block"), (35, "C: done"),
    (40, "A: the short blue block"), (45, "C: it's on"),
)  # fmt: skip


# --- the clock ----------------------------------------------------------------------------------------------------------


def test_a_session_goes_from_set_up_to_the_end_by_the_clock_alone() -> None:
    made = tell(a_session(), until_s=125)
    assert [(event.sample // 16_000, event.phase) for event in made if isinstance(event, PhaseBegan)] == [
        (0, Phase.SETTING_UP),
        (10, Phase.BUILDING),
        (100, Phase.CLEARING),
        (120, Phase.OVER),
    ]
    assert cues(made) == [(10, Cue.BEGIN), (60, Cue.TIME_LEFT), (100, Cue.CLEAR_AWAY), (120, Cue.END)]
    assert only(made, TimeLeft) == [TimeLeft(to_samples(60), 1)]
    assert made[-1] == SessionClosed(to_samples(120), Closing.ON_TIME)


def test_with_the_usual_times_children_are_told_five_minutes_before_building_stops() -> None:
    """Five minutes before the end would be the moment at which clear-away begins: no warning of anything."""
    made = tell(a_session(settings=Settings()), until_s=2401)
    asked = [(event.sample // 16_000, event.text) for event in made if isinstance(event, CueAsked)]
    assert asked[1:] == [
        (2100, "Five minutes more, then we clear away."),
        (2400, "Building stops now. We clear away together."),
    ]


def test_with_no_time_to_clear_away_children_still_hear_that_building_stops() -> None:
    made = tell(a_session(settings=Settings(length_s=120, set_up_s=10, clear_away_s=0, notice_min=1)), until_s=121)
    assert Phase.CLEARING not in [event.phase for event in made if isinstance(event, PhaseBegan)]
    last = [event for event in made if isinstance(event, CueAsked)][-1]
    assert (last.cue, last.text) == (Cue.END, "Building stops now. The club is over. See you next time.")


def test_nothing_moves_the_end() -> None:
    # Fact of the trade (common practice, no source): the length is decided at the start and never extended.
    marks = [mark for mark in Mark if mark is not Mark.STOP]
    every_key = [marked(11 + 0.5 * place, mark, Seat.A, 1, "waited") for place, mark in enumerate(marks)]
    session = a_session()
    made: list[Event] = []
    for event in [*session.open(), *every_key]:
        try:
            made += session.receive(event)
        except OutOfTurnError:
            pass
    for sample in range(0, to_samples(121), FRAME_SAMPLES):
        made += session.receive(Tick(sample))
    assert only(made, SessionClosed) == [SessionClosed(to_samples(120), Closing.ON_TIME)]


def test_after_the_end_nothing_follows_from_anything() -> None:
    session = a_session()
    tell(session, until_s=121)
    assert session.receive(marked(130, Mark.STEP_DONE)) == ()
    assert session.receive(conversation((130, "C: done"))[0]) == ()
    assert session.close(to_samples(131), Closing.STOPPED) == ()


def test_phases_move_by_the_table_and_never_back_past_clear_away() -> None:
    for phase, move in product(Phase, Move):
        after = PHASES.get((phase, move))
        if phase is Phase.OVER:
            assert after is None
        elif phase is Phase.CLEARING:
            assert after in (None, Phase.OVER)


def test_stopping_closes_the_session_at_once() -> None:
    made = tell(a_session(), [marked(30, Mark.STOP)])
    assert made[-1] == SessionClosed(to_samples(30), Closing.STOPPED)


def test_set_up_can_be_over_early_but_building_cannot_begin_twice() -> None:
    session = a_session()
    made = tell(session, [marked(4, Mark.BEGIN)])
    assert cues(made) == [(4, Cue.BEGIN)]
    with pytest.raises(OutOfTurnError, match="the club is at building"):
        session.receive(marked(5, Mark.BEGIN))
    assert session.phase is Phase.BUILDING


# --- steps and swaps ----------------------------------------------------------------------------------------------------


def test_three_steps_then_a_swap_announced_two_steps_ahead() -> None:
    session = a_session()
    made = tell(session, ASK_AND_DONE)
    assert [event.step for event in made if isinstance(event, StepDone)] == [1, 2, 3]
    assert [(event.step, event.to_swap) for event in made if isinstance(event, StepBegan)] == [(1, 3), (2, 2), (3, 1), (4, 3)]
    assert only(made, SwapAnnounced) == [SwapAnnounced(to_samples(26.3), 2)]
    assert cues(made) == [(10, Cue.BEGIN), (26, Cue.SWAP_SOON), (46, Cue.SWAP)]
    assert [event.round for event in made if isinstance(event, RolesSet)] == [1, 2]
    assert roles(session) == "BCA"


def test_a_swap_that_would_come_after_the_last_step_is_not_announced() -> None:
    session = a_session()
    made = tell(session, [marked(11 + step, Mark.STEP_DONE) for step in range(8)])
    assert [event.to_swap for event in made if isinstance(event, StepBegan)] == [3, 2, 1, 3, 2, 1, None, None]
    assert cues(made)[-1] == (18, Cue.MODEL_DONE)
    assert session.phase is Phase.ADMIRING


def test_swaps_after_each_component() -> None:
    rule = Settings(length_s=120, set_up_s=10, clear_away_s=20, notice_min=1, swap=SwapRule(SwapBy.COMPONENT, 1))
    session = a_session(settings=rule)
    made = tell(session, [marked(11 + step, Mark.STEP_DONE) for step in range(6)])
    assert [event.to_swap for event in made if isinstance(event, StepBegan)] == [3, 2, 1, 3, 2, 1, None]
    assert roles(session) == "CAB"


def test_swaps_by_minutes_are_announced_and_wait_for_the_end_of_the_step() -> None:
    rule = Settings(length_s=240, set_up_s=0, clear_away_s=20, notice_min=1, swap=SwapRule(SwapBy.MINUTES, 1))
    session = a_session(settings=rule)
    made = tell(session, [marked(70, Mark.STEP_DONE), marked(75, Mark.STEP_DONE)], until_s=140)
    assert cues(made) == [(0, Cue.BEGIN), (60, Cue.SWAP_SOON), (70, Cue.SWAP), (130, Cue.SWAP_SOON)]


def test_with_a_swap_at_every_step_each_one_is_announced_as_the_round_begins() -> None:
    rule = Settings(length_s=120, set_up_s=10, clear_away_s=20, notice_min=1, swap=SwapRule(every=1))
    made = tell(a_session(settings=rule), [marked(11, Mark.STEP_DONE), marked(12, Mark.STEP_DONE)])
    assert cues(made) == [(10, Cue.BEGIN), (11, Cue.SWAP), (12, Cue.SWAP)]
    assert all(event.text.endswith("One more step, then we swap.") for event in made if isinstance(event, CueAsked))
    assert [event.steps for event in made if isinstance(event, SwapAnnounced)] == [1, 1, 1]


def test_the_last_step_of_all_announces_no_swap() -> None:
    rule = Settings(length_s=120, set_up_s=10, clear_away_s=20, notice_min=1, swap=SwapRule(every=1))
    made = tell(a_session(settings=rule), [marked(11 + step, Mark.STEP_DONE) for step in range(7)])
    last = [event.text for event in made if isinstance(event, CueAsked)][-1]
    assert last.startswith("We swap now.") and "then we swap" not in last


def test_with_a_swap_at_every_second_step_it_is_announced_one_step_ahead() -> None:
    rule = Settings(length_s=120, set_up_s=10, clear_away_s=20, notice_min=1, swap=SwapRule(every=2))
    made = tell(a_session(settings=rule), [marked(11 + step, Mark.STEP_DONE) for step in range(2)])
    assert [event.steps for event in made if isinstance(event, SwapAnnounced)] == [1]


def test_two_children_saying_done_finish_one_step() -> None:
    twice = conversation((20, "A: the long blue block"), (25, "C: done"), (26.5, "B: done"), (28, "C: finished"))
    made = tell(a_session(), twice)
    assert [event.step for event in made if isinstance(event, StepDone)] == [1]


def test_done_without_a_request_counts_once_the_step_has_gone_on_for_a_while() -> None:
    made = tell(a_session(), conversation((12, "C: done"), (19, "C: done")))
    assert only(made, StepDone) == [StepDone(to_samples(20.3), 1, 2)]


def test_the_facilitator_asking_whether_it_is_done_does_not_finish_the_step() -> None:
    talk = conversation((20, "A: the long blue block"), (23, "F: done"), (26, "F: are you done"))
    assert only(tell(a_session(), talk), StepDone) == []


def test_a_step_back_restores_the_tray_and_the_roles() -> None:
    session = a_session()
    made = tell(session, [*ASK_AND_DONE, marked(50, Mark.STEP_BACK)])
    assert only(made, StepUndone) == [StepUndone(to_samples(50), 3)]
    assert roles(session) == "ABC"
    assert session.state.tray.count == 6
    assert cues(made)[-1] == (50, Cue.ROLES)


def test_the_last_step_can_be_taken_back_while_the_model_is_admired() -> None:
    session = a_session()
    tell(session, [*(marked(11 + step, Mark.STEP_DONE) for step in range(8)), marked(30, Mark.STEP_BACK)])
    assert session.phase is Phase.BUILDING
    assert session.state.step == 8


def test_a_refused_key_leaves_the_session_as_it_was() -> None:
    session = a_session()
    session.open()
    before = session.state, session.phase
    for mark in (Mark.STEP_DONE, Mark.STEP_BACK, Mark.SWAP_NOW, Mark.PASS, Mark.WHO, Mark.TALLY, Mark.TALLY_BACK):
        with pytest.raises(OutOfTurnError):
            session.receive(marked(1, mark))
    assert (session.state, session.phase) == before


# --- passing, pausing, putting right ----------------------------------------------------------------------------------------


def test_a_child_may_pass_aloud() -> None:
    session = a_session()
    made = tell(session, conversation((20, "A: i pass")))
    assert [event.seat for event in made if isinstance(event, Passed)] == [Seat.A]
    assert roles(session) == "BAC"
    assert [event.text for event in made if isinstance(event, CueAsked)][-1].startswith("A passes. B is the engineer")


def test_only_a_child_passes() -> None:
    session = a_session()
    tell(session, until_s=11)
    with pytest.raises(OutOfTurnError, match="Only a child"):
        session.receive(marked(12, Mark.PASS, Seat.FACILITATOR))


def test_a_pause_lets_the_clock_go_on_and_nothing_else() -> None:
    session = a_session()
    made = tell(session, [marked(15, Mark.PAUSE), *ASK_AND_DONE, marked(60, Mark.RESUME)], until_s=121)
    assert only(made, StepDone) == []
    assert (60, Cue.ROLES) in cues(made)
    assert only(made, SessionClosed) == [SessionClosed(to_samples(120), Closing.ON_TIME)]


def test_after_a_pause_over_clear_away_the_cue_is_asked_for_again() -> None:
    made = tell(a_session(), [marked(90, Mark.PAUSE), marked(110, Mark.RESUME)])
    assert cues(made)[-2:] == [(100, Cue.CLEAR_AWAY), (110, Cue.CLEAR_AWAY)]


def test_what_a_pause_swallowed_and_is_still_true_is_said_after_it() -> None:
    """The last minute falls due at 1:00, in the middle of a calm break; so does the announcement of the swap."""
    keys = [marked(50, Mark.PAUSE), marked(55, Mark.STEP_DONE), marked(70, Mark.RESUME)]
    made = tell(a_session(), keys)
    assert cues(made)[-3:] == [(70, Cue.ROLES), (70, Cue.SWAP_SOON), (70, Cue.TIME_LEFT)]


def test_after_a_pause_the_minutes_are_those_that_are_left_then() -> None:
    five = Settings(length_s=600, set_up_s=0, clear_away_s=60)
    made = tell(a_session(settings=five), [marked(290, Mark.PAUSE), marked(420, Mark.RESUME)])
    assert [event.text for event in made if isinstance(event, CueAsked)][-1] == "Three minutes left."


def test_a_model_that_was_finished_in_a_pause_is_looked_at_after_it() -> None:
    steps = [marked(12 + step, Mark.STEP_DONE) for step in range(8)]
    made = tell(a_session(), [marked(11, Mark.PAUSE), *steps, marked(30, Mark.RESUME)])
    assert cues(made)[-1] == (30, Cue.MODEL_DONE)


def test_what_was_not_announced_yet_is_not_said_after_a_pause() -> None:
    made = tell(a_session(), [marked(15, Mark.PAUSE), marked(20, Mark.RESUME)])
    assert cues(made) == [(10, Cue.BEGIN), (20, Cue.ROLES)]


def test_where_building_begins_late_the_minutes_left_are_said_at_once() -> None:
    late = Settings(length_s=600, set_up_s=360, clear_away_s=60)
    made = tell(a_session(settings=late), until_s=361)
    assert cues(made) == [(360, Cue.BEGIN), (360, Cue.TIME_LEFT)]
    assert only(made, TimeLeft) == [TimeLeft(to_samples(360), 4)]


def test_putting_right_who_spoke_understands_the_turn_again_as_it_stood_then() -> None:
    talk = conversation((20, "?: the red one please"), (25, "B: which one"))
    made = tell(a_session(), [*talk, marked(40, Mark.WHO, Seat.A, 1)])
    assert only(made, Corrected) == [Corrected(to_samples(40), 1, Seat.UNSURE, Seat.A)]
    first, again = [event for event in made if isinstance(event, Understood) and event.unit == 1]
    assert first.act is not Act.REQUEST
    assert again.act is Act.REQUEST and again.request is not None
    assert (again.request.fits_before, again.request.fits_after) == (8, 2)


def test_a_tally_is_kept_with_its_seat() -> None:
    made = tell(a_session(), [marked(20, Mark.TALLY, Seat.B, what="waited")])
    assert only(made, Tallied) == [Tallied(to_samples(20), Seat.B, "waited")]
    assert only(made, Refused) == []


def test_a_tally_can_be_taken_back_once() -> None:
    session, back = a_session(), marked(21, Mark.TALLY_BACK, Seat.B, what="waited")
    made = tell(session, [marked(20, Mark.TALLY, Seat.B, what="waited"), back])
    assert only(made, TallyUndone) == [TallyUndone(to_samples(21), Seat.B, "waited")]
    assert read_record(made).tallies == ()
    with pytest.raises(OutOfTurnError, match="no such tally"):
        session.receive(back)


# --- requests -----------------------------------------------------------------------------------------------------------


def understood(made: Iterable[Event]) -> list[Understood]:
    return [event for event in made if isinstance(event, Understood)]


def test_a_request_says_how_many_pieces_fit() -> None:
    talk = conversation((20, "A: can you find the red one please"), (24, "B: which one"), (28, "A: the long one"))
    ask, repair, more = understood(tell(a_session(), talk))
    assert ask.request is not None and more.request is not None
    assert (ask.request.fits_before, ask.request.fits_after, ask.request.kinds_after) == (8, 2, 2)
    assert ask.request.is_open
    assert repair.repair is Repair.RESTRICTED_REQUEST
    assert more.request.number == ask.request.number
    assert dict(more.request.attributes) == {"colour": "red", "size": "long"}
    assert more.request.fits_after == 1


def test_the_tray_empties_step_by_step() -> None:
    talk = conversation((20, "A: the long blue block"), (25, "C: done"), (30, "A: the blue one"))
    *_, last = understood(tell(a_session(), talk))
    assert last.request is not None
    assert (last.request.fits_before, last.request.fits_after) == (7, 2)


def test_a_supplier_offers_and_does_not_ask() -> None:
    talk = conversation((20, "A: the red one"), (23, "B: the long one"))
    _, offer = understood(tell(a_session(), talk))
    assert (offer.act, offer.repair, offer.request) == (Act.REPAIR, Repair.RESTRICTED_OFFER, None)


def test_with_two_children_the_builder_asks() -> None:
    # Fact of the trade (common practice, no source): with two children the builder asks for every piece.
    settings = Settings(children=2, length_s=120, set_up_s=10, clear_away_s=20, notice_min=1)
    talk = conversation((20, "A: the yellow block please"), (24, "B: the yellow block please"))
    first, second = understood(tell(a_session("four-block-tower", settings), talk))
    assert first.act is Act.REQUEST
    assert second.act is not Act.REQUEST


def test_with_two_children_the_builder_who_says_yes_that_one_answers_and_does_not_ask_back() -> None:
    settings = Settings(children=2, length_s=120, set_up_s=10, clear_away_s=20, notice_min=1)
    talk = conversation((20, "A: the yellow block please"), (23, "B: this one"), (26, "A: yes that one"), (29, "A: that one"))
    _, offer, *answers = understood(tell(a_session("four-block-tower", settings), talk))
    assert offer.repair is Repair.RESTRICTED_OFFER
    assert [answer.repair for answer in answers] == [None, None]


def test_with_three_children_the_builder_still_asks_whether_it_is_this_one() -> None:
    talk = conversation((20, "A: the red one please"), (23, "C: this one"))
    assert understood(tell(a_session(), talk))[-1].repair is Repair.RESTRICTED_OFFER


def test_units_without_words_are_other_talk() -> None:
    silent = Heard(to_samples(20), 1, to_samples(18), to_samples(19), Seat.A, 0.2, ())
    assert [event.act for event in understood(tell(a_session(), [silent]))] == [Act.OTHER]


def test_the_short_session_of_these_tests_is_what_they_think_it_is() -> None:
    assert (SHORT.set_up_samples, SHORT.clear_away_sample, SHORT.length_samples) == tuple(map(to_samples, (10, 100, 120)))
