"""Where speech begins and ends, told by rulers: one sign is one slot of 32 ms, 1 a voice, ? perhaps a voice, 0 none."""

import pytest

from assistant.listening import endpoint
from assistant.listening.endpoint import Began, Ended, Endpoint, Sign, State
from assistant.listening.speech import SLOT_SAMPLES, Slot
from assistant.samples import to_samples

SILENCE = "0" * 7
PROBABILITY = {"0": 0.0, "?": 0.6, "1": 1.0}


@pytest.fixture(autouse=True)
def no_lag(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(endpoint, "START_LAG_SAMPLES", 0)
    monkeypatch.setattr(endpoint, "END_LAG_SAMPLES", 0)


def slots(ruler: str) -> list[Slot]:
    return [Slot(number * SLOT_SAMPLES, PROBABILITY[sign]) for number, sign in enumerate(ruler)]


def spans(ruler: str) -> list[tuple[int, int]]:
    """The stretches of speech: the first slot of each, and the first slot after it."""
    machine = Endpoint()
    changes = [machine.hear(slot) for slot in slots(ruler)] + [machine.finish()]
    return [(round(c.start_sample / SLOT_SAMPLES), round(c.end_sample / SLOT_SAMPLES)) for c in changes if isinstance(c, Ended)]


def states(ruler: str) -> str:
    """The state after each slot: q quiet, a starting, s speaking, o stopping."""
    letters = {State.QUIET: "q", State.STARTING: "a", State.SPEAKING: "s", State.STOPPING: "o"}
    machine = Endpoint()
    said = ""
    for slot in slots(ruler):
        machine.hear(slot)
        said += letters[machine.state]
    return said


def test_three_voiced_slots_of_four_are_speech_and_it_begins_at_the_first() -> None:
    #             012345678
    assert spans("000111000" + SILENCE) == [(3, 6)]
    assert spans("000101100" + SILENCE) == [(3, 7)]
    assert spans("010011100" + SILENCE) == [(4, 7)]


def test_a_knock_is_not_speech() -> None:
    assert spans("0001100" + SILENCE) == []
    assert spans("0110000011000001100" + SILENCE) == []


def test_what_is_never_surely_a_voice_is_not_speech() -> None:
    # A rattling tray: likely for a while, never sure.
    assert spans("00?????????000" + SILENCE) == []


def test_speech_that_begins_softly_begins_where_it_was_likely() -> None:
    assert spans("00????????1111" + SILENCE) == [(2, 14)]
    assert spans("0?0000??????1111" + SILENCE) == [(6, 16)]


def test_a_short_silence_stays_inside_and_a_long_one_divides() -> None:
    assert spans("111" + "0" * 6 + "111" + SILENCE) == [(0, 12)]
    assert spans("111" + "0" * 7 + "111" + SILENCE) == [(0, 3), (10, 13)]


def test_the_silence_that_divides_is_two_hundred_milliseconds() -> None:
    # Inter-pausal units: speech with no silence of 200 ms or more inside (the definition in DEVELOPERS.md).
    assert (endpoint.SILENCE_SLOTS - 1) * SLOT_SAMPLES < to_samples(0.2) <= endpoint.SILENCE_SLOTS * SLOT_SAMPLES


def test_a_boundary_lies_where_the_probability_crosses_the_threshold() -> None:
    # 0.0 to 1.0 between the middles of slots 1 and 2, threshold 0.3: three tenths of the way; and back, seven tenths.
    machine = Endpoint()
    changes = [machine.hear(slot) for slot in slots("00111" + SILENCE)]
    start, fall = 1.5 + 0.3, 4.5 + 0.7
    assert changes[4] == Began(round(start * SLOT_SAMPLES))
    assert changes[-1] == Ended(round(start * SLOT_SAMPLES), round(fall * SLOT_SAMPLES))


def test_speech_at_the_end_of_the_sound_is_closed_where_it_was_last_heard() -> None:
    assert spans("0011111100") == [(2, 8)]
    assert spans("0011") == []


def test_the_four_states_in_their_order() -> None:
    assert states("00" + "111" + "00" + "1" + SILENCE) == "qq" + "aas" + "oo" + "s" + "o" * 6 + "q"
    assert states("1" + "0000" + "0") == "a" + "aaa" + "q" + "q"


def test_every_state_has_an_answer_to_every_sign() -> None:
    assert set(endpoint.TRANSITIONS) == set(State)
    assert all(set(row) == set(Sign) for row in endpoint.TRANSITIONS.values())


def test_speech_is_known_as_soon_as_it_is_sure() -> None:
    machine = Endpoint()
    known = [machine.hear(slot) for slot in slots("00?111")]
    assert [type(change) for change in known] == [type(None)] * 4 + [Began, type(None)]


def test_a_voice_that_never_stops_is_cut_into_units_without_a_gap() -> None:
    longest = endpoint.LONGEST_SAMPLES // SLOT_SAMPLES
    machine = Endpoint()
    ended = [c for slot in slots("1" * (2 * longest + 10) + SILENCE) if isinstance(c := machine.hear(slot), Ended)]
    assert [part.goes_on for part in ended] == [True, True, False]
    assert [part.end_sample for part in ended[:-1]] == [part.start_sample for part in ended[1:]]
    assert all(part.end_sample - part.start_sample <= endpoint.LONGEST_SAMPLES + SLOT_SAMPLES for part in ended)


def test_the_detectors_lag_is_taken_off_both_boundaries(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(endpoint, "START_LAG_SAMPLES", 2 * SLOT_SAMPLES)
    monkeypatch.setattr(endpoint, "END_LAG_SAMPLES", SLOT_SAMPLES)
    assert spans("00001111111100" + SILENCE) == [(2, 11)]
