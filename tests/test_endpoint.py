"""Where speech begins and ends, told by rulers: one sign is one slot of 16 ms: 1 a voice, ? perhaps a voice, 0 none."""

import pytest

from assistant.listening import endpoint
from assistant.listening.endpoint import Began, Ended, Endpoint, Sign, State
from assistant.listening.speech import SLOT_SAMPLES, Slot
from assistant.samples import to_samples

SILENCE = "0" * 13
PROBABILITY = {"0": 0.1, "?": 0.5, "1": 0.9}


@pytest.fixture(autouse=True)
def no_lag(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(endpoint, "START_LAG_SAMPLES", 0)
    monkeypatch.setattr(endpoint, "END_LAG_SAMPLES", 0)


def slots(ruler: str) -> list[Slot]:
    return [Slot(number * SLOT_SAMPLES, PROBABILITY[sign]) for number, sign in enumerate(ruler)]


def spans(ruler: str) -> list[tuple[int, int]]:
    """The stretches of speech, in slots."""
    machine = Endpoint()
    changes = [machine.hear(slot) for slot in slots(ruler)] + [machine.finish()]
    return [(c.start_sample // SLOT_SAMPLES, c.end_sample // SLOT_SAMPLES) for c in changes if isinstance(c, Ended)]


def states(ruler: str) -> str:
    """The state after each slot: q quiet, a starting, s speaking, o stopping."""
    letters = {State.QUIET: "q", State.STARTING: "a", State.SPEAKING: "s", State.STOPPING: "o"}
    machine = Endpoint()
    said = ""
    for slot in slots(ruler):
        machine.hear(slot)
        said += letters[machine.state]
    return said


def test_five_voiced_slots_of_seven_are_speech_and_it_begins_at_the_first() -> None:
    #             0123456789..
    assert spans("000111110000" + SILENCE) == [(3, 8)]
    assert spans("000101101111" + SILENCE) == [(3, 12)]
    assert spans("010001111100" + SILENCE) == [(5, 10)]


def test_a_knock_is_not_speech() -> None:
    assert spans("0001111000" + SILENCE) == []
    assert spans("0110000011000001100" + SILENCE) == []


def test_what_is_never_surely_a_voice_is_not_speech() -> None:
    # A rattling tray: likely for a tenth of a second, never sure.
    assert spans("00?????????000" + SILENCE) == []


def test_speech_that_begins_softly_begins_where_it_was_likely() -> None:
    assert spans("00????????1111" + SILENCE) == [(2, 14)]
    assert spans("0?000000??????1111" + SILENCE) == [(8, 18)]


def test_a_short_silence_stays_inside_and_a_long_one_divides() -> None:
    assert spans("11111" + "0" * 12 + "11111" + SILENCE) == [(0, 22)]
    assert spans("11111" + "0" * 13 + "11111" + SILENCE) == [(0, 5), (18, 23)]


def test_the_silence_that_divides_is_two_hundred_milliseconds() -> None:
    # Inter-pausal units: speech with no silence of 200 ms or more inside (the definition in DEVELOPERS.md).
    assert (endpoint.SILENCE_SLOTS - 1) * SLOT_SAMPLES < to_samples(0.2) <= endpoint.SILENCE_SLOTS * SLOT_SAMPLES


def test_speech_at_the_end_of_the_sound_is_closed_where_it_was_last_heard() -> None:
    assert spans("0011111100") == [(2, 8)]
    assert spans("0011") == []


def test_the_four_states_in_their_order() -> None:
    assert states("00" + "11111" + "00" + "1" + SILENCE) == "qq" + "aaaas" + "oo" + "s" + "o" * 12 + "q"
    assert states("1" + "0000000" + "0") == "a" + "aaaaaa" + "q" + "q"


def test_every_state_has_an_answer_to_every_sign() -> None:
    assert set(endpoint.TRANSITIONS) == set(State)
    assert all(set(row) == set(Sign) for row in endpoint.TRANSITIONS.values())


def test_speech_is_known_as_soon_as_it_is_sure() -> None:
    machine = Endpoint()
    assert [machine.hear(slot) for slot in slots("0011111")] == [None] * 6 + [Began(2 * SLOT_SAMPLES)]


def test_a_voice_that_never_stops_is_cut_into_units_without_a_gap() -> None:
    longest = endpoint.LONGEST_SAMPLES // SLOT_SAMPLES
    machine = Endpoint()
    ended = [c for slot in slots("1" * (2 * longest + 10) + SILENCE) if isinstance(c := machine.hear(slot), Ended)]
    assert [part.goes_on for part in ended] == [True, True, False]
    assert ended[0].start_sample == 0
    assert [part.end_sample for part in ended[:-1]] == [part.start_sample for part in ended[1:]]
    assert all(part.end_sample - part.start_sample <= endpoint.LONGEST_SAMPLES + SLOT_SAMPLES for part in ended)


def test_the_detectors_lag_is_taken_off_both_boundaries(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(endpoint, "START_LAG_SAMPLES", 2 * SLOT_SAMPLES)
    monkeypatch.setattr(endpoint, "END_LAG_SAMPLES", SLOT_SAMPLES)
    assert spans("00001111111100" + SILENCE) == [(2, 11)]
