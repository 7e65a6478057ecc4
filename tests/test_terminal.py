"""What the terminal shows, line by line, as it comes out of a pipe."""

import io

from rich.console import Console

from assistant.events import Event, Trouble
from assistant.outputs.terminal import Terminal
from assistant.run import Road
from assistant.samples import to_samples
from assistant.terms import Fault, Mark, Seat
from tests.fakes import ListSpeaker, ScriptedEars, a_session, conversation, marked, silence

TALK = conversation(
    (20, "A: can i have the red one please"),
    (22.5, "B: which one"),
    (24, "A: the long one"),
    (25.8, "?: mine"),
    (28, "C: done"),
    (33, "F: you waited for her nicely"),
)


def shown(events: list[Event], *, show_words: bool = True, live: bool = False) -> str:
    out = io.StringIO()
    console = Console(file=out, width=200, force_terminal=live, color_system=None)
    with Terminal(console, show_words=show_words) as terminal:
        for event in events:
            terminal.show(event)
            terminal.at(event.sample)
    return out.getvalue()


def a_talk() -> list[Event]:
    return list(Road(ScriptedEars(TALK), a_session(), ListSpeaker()).travel(silence(40)))


def test_a_line_says_when_who_how_long_since_what_was_said_and_what_it_does() -> None:
    assert shown(a_talk()).splitlines() == [
        "  0:00  -- setting up --",
        "  0:00  round 1: A engineer, B supplier, C builder",
        "  0:10  -- building --",
        '  0:10  says: "The club begins. A is the engineer and describes. B is the supplier and finds the piece. '
        'C is the builder and fits it on."',
        "  0:20  A engineer             1.0s  can i have the red one please  -> asks for red: 2 pieces fit, of 8 (open)",
        "  0:22  B supplier      +1.5s  1.0s  which one  -> repair (restricted request)",
        "  0:24  A engineer      +0.5s  1.0s  the long one  -> asks for red long: 1 piece fits, of 8",
        "  0:25  ?               +0.8s  1.0s  mine",
        "  0:28  C builder       +1.2s  1.0s  done  -> step done",
        "  0:29  step 1 done",
        '  0:29  says: "Two more steps, then we swap."',
        "  0:33  F facilitator   +4.0s  1.0s  you waited for her nicely  -> praise (specific)",
        "  0:40  -- over --",
        "  0:40  the session is over: sound ended",
    ]


def test_words_can_be_left_out() -> None:
    lines = shown(a_talk(), show_words=False)
    assert "(7 words)" in lines and "(1 word)" in lines
    assert "please" not in lines


def test_a_correction_and_a_calm_break_are_said() -> None:
    keys = iter([marked(30, Mark.WHO, Seat.B, 4), marked(30, Mark.PAUSE), marked(30, Mark.RESUME), marked(30, Mark.SWAP_NOW)])
    frame = 0

    def marks() -> list:  # type: ignore[type-arg]
        nonlocal frame
        frame += 1
        return list(keys) if frame == to_samples(30) // 480 else []

    lines = shown(list(Road(ScriptedEars(TALK), a_session(), ListSpeaker(), marks).travel(silence(32))))
    for line in (
        "put right: B spoke, not ?",
        "calm break: the cues stop, the clock goes on",
        "the calm break is over",
        "not said: roles (swap came after it)",
    ):
        assert line in lines


def test_on_a_terminal_the_bottom_lines_say_where_the_session_stands() -> None:
    out = shown(a_talk(), live=True)
    assert "step 1 of 8, swap in 3" in out
    assert "1:40 left" in out
    assert "A engineer   B supplier   C builder" in out


def test_what_is_wrong_with_the_sound_is_said_once_and_stands_below_until_it_is_over() -> None:
    mute, heard = (Trouble(to_samples(at_s), Fault.SILENT, Seat.B, over=at_s == 40) for at_s in (20, 40))
    assert shown([mute, heard]).splitlines() == [
        "  0:20  B's microphone hears nothing at all. Is it muted, by a switch or a key?",
        "  0:40  B's microphone hears again.",
    ]
    out = io.StringIO()
    with Terminal(Console(file=out, width=200, force_terminal=True, color_system=None)) as terminal:
        terminal.show(Trouble(to_samples(20), Fault.BEHIND, None, over=False))
        terminal.behind_samples = to_samples(12)
        terminal.at(to_samples(21))
    assert "Close other programs. Over 10 s of sound wait." in out.getvalue()


def test_words_that_look_like_markup_are_shown_as_they_are() -> None:
    talk = conversation((20, "A: [red]mine[/red] [bold]"))
    assert "[red]mine[/red] [bold]" in shown(list(Road(ScriptedEars(talk), a_session()).travel(silence(25))))
