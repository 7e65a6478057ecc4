"""The session as it stands: a fold over the events, for whoever shows it.

What lives here: what a screen needs to know now. What must not: how it looks, or a rule of the club.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace

from assistant.core.club.rota import Roles, role_of
from assistant.events import (
    Corrected,
    CueAsked,
    CueEnded,
    CueStarted,
    Event,
    Heard,
    Lost,
    Marked,
    Paused,
    PhaseBegan,
    Refused,
    Resumed,
    RolesSet,
    SessionOpened,
    SpeechStarted,
    SpeechStopped,
    StepBegan,
    StepDone,
    StepUndone,
    Tallied,
    TallyUndone,
    Trouble,
    Understood,
)
from assistant.samples import to_seconds
from assistant.terms import Fault, Phase, Role, Seat

LAST_TURNS = 6  # as many as an adult takes in at a glance; chosen, not measured


@dataclass(frozen=True, slots=True)
class TurnLine:
    """A unit that was heard, and what it did. ``since_s``: from the end of the unit before to its start, below 0 in overlap."""

    heard: Heard
    seat: Seat
    role: Role | None
    since_s: float | None
    understood: Understood | None = None


@dataclass(frozen=True, slots=True)
class View:
    """What a screen shows. Made by :func:`see`, event by event, from ``View()``."""

    plan: str = ""
    seats: tuple[Seat, ...] = ()
    steps: int = 0
    end_sample: int = 0
    phase: Phase = Phase.SETTING_UP
    round: int = 0
    roles: Roles = ()
    step: int = 0
    to_swap: int | None = None
    paused: bool = False
    saying: str = ""
    cue: CueAsked | None = None
    """The last cue that this step or phase asked for: what a screen goes on showing when it has been said."""
    speaking: bool = False
    turns: tuple[TurnLine, ...] = ()
    """The last units that were heard, oldest first."""
    heard: Mapping[Seat, int] = field(default_factory=dict)
    """Units by seat, corrections applied."""
    lost_samples: int = 0
    troubles: tuple[tuple[Fault, Seat | None], ...] = ()
    """What is wrong with the sound now, and in whose microphone where each has one."""
    tallies: tuple[tuple[Seat, str], ...] = ()
    refused: str = ""
    """Why the last key could not be followed, empty when it was."""

    @property
    def turn(self) -> TurnLine | None:
        """The last unit that was heard."""
        return self.turns[-1] if self.turns else None

    def tallied(self, seat: Seat, what: str) -> int:
        """How often this was seen of this seat."""
        return self.tallies.count((seat, what))


def see(view: View, event: Event) -> View:
    """The view after one more event."""
    match event:
        case SessionOpened():
            return replace(view, plan=event.plan, seats=event.seats, steps=event.steps, end_sample=event.end_sample)
        case PhaseBegan():
            return replace(view, phase=event.phase, cue=None)
        case RolesSet():
            return replace(view, round=event.round, roles=event.roles)
        case StepBegan():
            return replace(view, step=event.step, to_swap=event.to_swap)
        case StepDone() | StepUndone():
            return replace(view, cue=None)
        case Paused() | Resumed():
            return replace(view, paused=isinstance(event, Paused), cue=None)
        case CueAsked():
            return replace(view, cue=event)
        case CueStarted() | CueEnded():
            return replace(view, saying=event.text if isinstance(event, CueStarted) else "")
        case Marked() | Refused():
            return replace(view, refused=event.why if isinstance(event, Refused) else "")
        case Tallied():
            return replace(view, tallies=(*view.tallies, (event.seat, event.what)))
        case TallyUndone():
            return replace(view, tallies=_without_last(view.tallies, (event.seat, event.what)))
    return _listen(view, event)


def _listen(view: View, event: Event) -> View:
    match event:
        case SpeechStarted() | SpeechStopped():
            return replace(view, speaking=isinstance(event, SpeechStarted))
        case Lost():
            return replace(view, lost_samples=view.lost_samples + event.end_sample - event.start_sample)
        case Trouble():
            others = tuple(trouble for trouble in view.troubles if trouble != (event.fault, event.seat))
            return replace(view, troubles=others if event.over else (*others, (event.fault, event.seat)))
        case Heard():
            turns = (*view.turns, _turn(view, event))[-LAST_TURNS:]
            return replace(view, turns=turns, heard=_count(view.heard, event.seat, +1))
        case Understood():
            return _put(view, event.unit, lambda turn: replace(turn, seat=event.seat, role=event.role, understood=event))
        case Corrected():
            heard = _count(_count(view.heard, event.was, -1), event.seat, +1)
            return replace(_put(view, event.unit, lambda turn: replace(turn, seat=event.seat)), heard=heard)
    return view


def _turn(view: View, heard: Heard) -> TurnLine:
    since = None if view.turn is None else to_seconds(heard.start_sample - view.turn.heard.end_sample)
    return TurnLine(heard, heard.seat, role_of(view.roles, heard.seat), since)


def _put(view: View, unit: int, change: Callable[[TurnLine], TurnLine]) -> View:
    return replace(view, turns=tuple(change(turn) if turn.heard.unit == unit else turn for turn in view.turns))


def _count(counts: Mapping[Seat, int], seat: Seat, more: int) -> Mapping[Seat, int]:
    return {**counts, seat: counts.get(seat, 0) + more}


def _without_last(tallies: tuple[tuple[Seat, str], ...], tally: tuple[Seat, str]) -> tuple[tuple[Seat, str], ...]:
    at = len(tallies) - 1 - tallies[::-1].index(tally)
    return tallies[:at] + tallies[at + 1 :]
