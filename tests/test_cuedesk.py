"""When a cue is said. In the rulers one sign is 100 ms: ``#`` somebody speaks, ``.`` nobody does."""

from assistant.core.club.cuedesk import CueDesk
from assistant.events import (
    CueAsked,
    CueDropped,
    CueEnded,
    CueStarted,
    Event,
    Paused,
    Resumed,
    SpeechStarted,
    SpeechStopped,
    Tick,
)
from assistant.samples import SAMPLE_RATE
from assistant.terms import Cue

SIGN = SAMPLE_RATE // 10  # samples


def ask(sign: int, cue: Cue = Cue.SWAP) -> CueAsked:
    return CueAsked(sign * SIGN, cue, cue.value)


def run(ruler: str, *others: Event) -> list[Event]:
    """Every event the desk makes of speech as the ruler shows it, and of the other events at their samples."""
    desk, made, speaking = CueDesk(), list[Event](), False
    for place, sign in enumerate(ruler + "."):
        now = place * SIGN
        if (sign == "#") != speaking:
            speaking = sign == "#"
            made += desk.receive(SpeechStarted(now, now) if speaking else SpeechStopped(now, now))
        for other in others:
            if other.sample == now:
                made += desk.receive(other)
        made += desk.receive(Tick(now))
    return made


def starts(ruler: str, *others: Event) -> list[tuple[int, bool]]:
    return [(event.sample // SIGN, event.over_speech) for event in run(ruler, *others) if isinstance(event, CueStarted)]


def test_a_cue_waits_for_six_tenths_of_a_second_of_silence() -> None:
    #               0         1         2
    #               012345678901234567890
    assert starts("#####.....###........", ask(3)) == [(19, False)]  # 5 signs of silence are too few; speech ends at 13


def test_silence_that_is_there_already_counts() -> None:
    assert starts("##..........", ask(9)) == [(9, False)]


def test_after_eight_seconds_it_takes_the_next_end_of_speech() -> None:
    chatter = "###.." * 16 + "####" + "....."
    assert starts(chatter, ask(0)) == [(84, False)]


def test_talk_without_end_is_spoken_over_after_twenty_seconds_and_says_so() -> None:
    assert starts("#" * 205, ask(0)) == [(200, True)]


def test_cues_follow_one_another_with_the_same_gap() -> None:
    first, second, end_of_first = ask(10, Cue.TIME_LEFT), ask(10, Cue.SWAP), CueEnded(25 * SIGN, Cue.TIME_LEFT)
    assert starts("." * 40, first, second, end_of_first) == [(10, False), (31, False)]


def test_a_newer_cue_drops_what_it_makes_untrue() -> None:
    made = run("#" * 10, ask(1, Cue.SWAP_SOON), ask(2, Cue.TIME_LEFT), ask(5, Cue.SWAP))
    assert made == [CueDropped(5 * SIGN, Cue.SWAP_SOON, "swap came after it")]


def test_the_end_drops_everything_else() -> None:
    made = run("#" * 10, ask(1, Cue.SWAP), ask(2, Cue.CLEAR_AWAY), ask(5, Cue.END))
    assert [event.cue for event in made if isinstance(event, CueDropped)] == [Cue.SWAP, Cue.CLEAR_AWAY]


def test_a_pause_drops_the_cues_that_wait_and_those_that_come() -> None:
    made = run("#......", ask(0), Paused(1 * SIGN), ask(2, Cue.TIME_LEFT))
    assert made == [
        CueDropped(1 * SIGN, Cue.SWAP, "the session is paused"),
        CueDropped(2 * SIGN, Cue.TIME_LEFT, "the session is paused"),
    ]


def test_after_a_pause_cues_are_said_again() -> None:
    assert starts("." * 20, Paused(SIGN), Resumed(8 * SIGN), ask(9)) == [(9, False)]


def test_the_desk_is_idle_once_the_cue_has_ended() -> None:
    desk = CueDesk()
    desk.receive(ask(0))
    assert not desk.is_idle
    assert len(desk.receive(Tick(10 * SIGN))) == 1
    assert not desk.is_idle
    desk.receive(CueEnded(20 * SIGN, Cue.SWAP))
    assert desk.is_idle
