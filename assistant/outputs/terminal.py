"""The terminal: a line for every turn and for everything the tool does, and where the session stands.

What lives here: how events look as text. What must not: a rule or a measure. Piped, every line is plain; on a terminal, seats
have colours (and always their letter) and the bottom lines show roles, step and time left.
"""

from collections.abc import Callable, Sequence
from types import TracebackType

from rich.console import Console
from rich.live import Live
from rich.progress_bar import ProgressBar
from rich.table import Table
from rich.text import Text

from assistant.core.club.view import TurnLine, View, see
from assistant.core.measures.hints import Hint
from assistant.core.measures.sentences import Line
from assistant.core.wording import Count
from assistant.events import (
    Corrected,
    CueDropped,
    CueStarted,
    Event,
    Heard,
    Lost,
    Passed,
    Paused,
    PhaseBegan,
    Refused,
    Request,
    Resumed,
    RolesSet,
    SessionClosed,
    StepDone,
    StepUndone,
    Tallied,
    TallyUndone,
    Trouble,
    Understood,
)
from assistant.samples import SAMPLE_RATE, clock_face, to_samples, to_seconds
from assistant.terms import Act, Fault, Phase, Seat

SEAT_STYLES = {  # Okabe & Ito's colours for seats; the letter is always there too
    Seat.A: "bold #56B4E9",
    Seat.B: "bold #E69F00",
    Seat.C: "bold #CC79A7",
    Seat.FACILITATOR: "bold #009E73",
    Seat.UNSURE: "dim",
}
FAULTS = {
    Fault.AWAY: (
        "{microphone} has stopped answering. Is it still plugged in? The clock goes on, and it is used as soon as it is back.",
        "{microphone} is back.",
    ),
    Fault.SILENT: (
        "{microphone} hears nothing at all. Is it muted, by a switch or a key?",
        "{microphone} hears again.",
    ),
    Fault.CLIPPED: (
        "{microphone} is set too loud: voices are distorted. Turn its level down, or move it away a little.",
        "{microphone} is no longer too loud.",
    ),
    Fault.BEHIND: (
        "The computer is behind: it will still understand what was said, only later. Close other programs.",
        "The computer has caught up.",
    ),
    Fault.RATE: (
        "{microphone} does not keep to its speed, so the clock is wrong. Choose another, or another rate in its settings.",
        "{microphone} keeps to its speed again.",
    ),
}
"""What is said when it begins, and when it is over."""
_WAITING_STEP = to_samples(5)  # a number that changes every second would be read out every second
_WIDEST_ROLE = len("facilitator")


class Terminal:
    """Shows a session; a context, because the bottom lines have to be taken away at the end.

    Args:
        console: where to; a pipe gets plain lines.
        show_words: whether the words themselves are shown.
        length: samples until the sound ends, where that is known.
    """

    def __init__(self, console: Console, *, show_words: bool = True, length: int | None = None) -> None:
        self.console = console
        self.show_words = show_words
        self.length = length
        self.view = View()
        self.note = ""  # for the facilitator, in the bottom lines: what the keys wait for
        self.sign = ""  # what has to be seen for as long as it is so
        self.behind_samples = 0  # how much sound waits to be understood
        self._second = -1
        self._live = Live(console=console, auto_refresh=False, transient=True) if console.is_terminal else None

    def __enter__(self) -> "Terminal":
        if self._live:
            self._live.start()
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None) -> None:
        if self._live:
            self._live.update(Text(), refresh=True)
            self._live.stop()

    def show(self, event: Event) -> None:
        """Take in an event, and print what it is worth."""
        self.view = see(self.view, event)
        line = self._line(event)
        if line is not None:
            self.print(line)

    def at(self, sample: int) -> None:
        """Bring the bottom lines up to this sample, once a second."""
        if self._live and sample // SAMPLE_RATE != self._second:
            self._second = sample // SAMPLE_RATE
            self._live.update(self._bottom(sample), refresh=True)

    @property
    def trouble(self) -> str:
        """What is wrong with the sound now, as a sentence; empty while nothing is."""
        if not self.view.troubles:
            return ""
        fault, seat = self.view.troubles[-1]
        whole = self.behind_samples // _WAITING_STEP * _WAITING_STEP
        waiting = f" Over {to_seconds(whole):.0f} s of sound wait." if whole and fault is Fault.BEHIND else ""
        return fault_line(fault, seat) + waiting

    def print(self, text: str | Text) -> None:
        """Print text as it is, above the bottom lines."""
        self.console.print(text, soft_wrap=True, markup=False)

    def show_hint(self, hint: Hint) -> None:
        """Show the facilitator a hint, and what it was seen from."""
        self.print(Text(f"{clock_face(hint.sample):>6}  hint: {hint.text} ({hint.seen})", "italic"))

    def print_summary(self, lines: Sequence[Line]) -> None:
        """Print the summary, section by section."""
        for section in dict.fromkeys(line.section for line in lines):
            self.print(Text.assemble("\n", (section, "bold")))
            for line in lines:
                if line.section == section:
                    self.print(f"  {line.text}")

    # --- lines ----------------------------------------------------------------------------------------------------------

    def _line(self, event: Event) -> Text | None:
        if isinstance(event, Understood):
            return self._turn(event)
        say = _LINES.get(type(event))
        text = say(event) if say else None
        if text is None:
            return None
        style = "bold" if isinstance(event, CueStarted) else "italic"
        return Text.assemble((f"{clock_face(event.sample):>6}  ", "dim"), (text, style))

    def _turn(self, event: Understood) -> Text | None:
        turn = self.view.turn
        if turn is None or turn.heard.unit != event.unit:  # a correction of an older turn: its own line says so
            return None
        role = turn.role.value if turn.role else "facilitator" if turn.seat is Seat.FACILITATOR else ""
        count = Count(len(turn.heard.words))
        words = turn.heard.text if self.show_words else f"({count} {count:word|words})"
        return Text.assemble(
            (f"{clock_face(turn.heard.start_sample):>6}  ", "dim"),
            (f"{turn.seat.value} {role:<{_WIDEST_ROLE}} ", SEAT_STYLES[turn.seat]),
            (f"{_since(turn):>7} {_seconds(turn.heard):>4}s  ", "dim"),
            words or "(no words)",
            (f"  -> {doing}" if (doing := _doing(event, self.show_words)) else "", "bold"),
        )

    def _bottom(self, sample: int) -> Table:
        view = self.view
        left = max(0, view.end_sample - sample)
        grid = Table.grid(padding=(0, 3))
        roles = Text("   ").join(Text(f"{seat.value} {role.value}", SEAT_STYLES[seat]) for seat, role in view.roles)
        grid.add_row(Text(f"{clock_face(left + SAMPLE_RATE - 1)} left", "bold"), _standing(view), roles)
        state = "calm break: cues are off; space goes on" if view.paused else view.saying and f"saying: {view.saying}"
        bar = ProgressBar(total=self.length, completed=sample, width=24) if self.length else ""
        grid.add_row(bar, Text(self.note or self.trouble or state or "h: keys", "dim"), Text(self.sign, "bold"))
        return grid


def _standing(view: View) -> Text:
    if view.phase is not Phase.BUILDING:
        return Text(view.phase.value)
    swap = "" if view.to_swap is None else f", swap in {view.to_swap}"
    return Text(f"step {view.step} of {view.steps}{swap}")


def _since(turn: TurnLine) -> str:
    return "" if turn.since_s is None else f"{turn.since_s:+.1f}s"


def _seconds(heard: Heard) -> str:
    return f"{to_seconds(heard.end_sample - heard.start_sample):.1f}"


def _doing(event: Understood, show_words: bool) -> str:
    if event.request:
        return f"asks for {_asked(event.request, show_words)}"
    if event.act is Act.OTHER:
        return ""
    kind = event.repair or event.prompt or event.praise
    return f"{event.act.value} ({kind.value})" if kind else event.act.value


def _asked(request: Request, show_words: bool) -> str:
    what = " ".join(value for _, value in request.attributes) if show_words else ""
    what = what or "a piece"
    if request.fits_after == 0:
        return f"{what}: nothing on the tray fits"
    fit = Count(request.fits_after)
    return f"{what}: {fit} {fit:piece fits|pieces fit}, of {request.fits_before}" + (" (open)" if request.is_open else "")


def _roles(event: RolesSet) -> str:
    return f"round {event.round}: " + ", ".join(f"{seat.value} {role.value}" for seat, role in event.roles)


def _cue(event: CueStarted) -> str:
    return f'says: "{event.text}"' + (" (over speech: nobody paused for 20 seconds)" if event.over_speech else "")


def _lost(event: Lost) -> str:
    return f"{to_seconds(event.end_sample - event.start_sample):.1f} s of sound lost: {event.why}"


def fault_line(fault: Fault, seat: Seat | None, over: bool = False) -> str:
    """What is wrong with the sound, or is no longer, as a sentence."""
    return FAULTS[fault][over].format(microphone=f"{seat}'s microphone" if seat else "The microphone")


_LINES: dict[type[Event], Callable[..., str]] = {
    PhaseBegan: lambda event: f"-- {event.phase.value} --",
    RolesSet: _roles,
    StepDone: lambda event: f"step {event.step} done" + ("" if event.unit is not None else " (key)"),
    StepUndone: lambda event: f"step {event.step} taken back",
    Passed: lambda event: f"{event.seat.value} passes the {event.role.value}'s role",
    Paused: lambda event: "calm break: the cues stop, the clock goes on",
    Resumed: lambda event: "the calm break is over",
    Corrected: lambda event: f"put right: {event.seat.value} spoke, not {event.was.value}",
    Tallied: lambda event: f"seen: {event.seat.value} {event.what}",
    TallyUndone: lambda event: f"not seen after all: {event.seat.value} {event.what}",
    Refused: lambda event: event.why,
    CueStarted: _cue,
    CueDropped: lambda event: f"not said: {event.cue.value} ({event.why})",
    Lost: _lost,
    Trouble: lambda event: fault_line(event.fault, event.seat, event.over),
    SessionClosed: lambda event: f"the session is over: {event.why.value}",
}
