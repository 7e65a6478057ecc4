"""The session as it stands: a fold over the events, for whoever shows it.

What lives here: what a screen needs to know now. What must not: how it looks, or a rule of the club.
"""

from dataclasses import dataclass, replace

from assistant.core.club.rota import Roles, role_of
from assistant.events import (
    Corrected,
    CueEnded,
    CueStarted,
    Event,
    Heard,
    Paused,
    PhaseBegan,
    Resumed,
    RolesSet,
    SessionOpened,
    StepBegan,
    Understood,
)
from assistant.samples import to_seconds
from assistant.terms import Phase, Role, Seat


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
    turn: TurnLine | None = None
    """The last unit that was heard."""


def see(view: View, event: Event) -> View:
    """The view after one more event."""
    match event:
        case SessionOpened():
            return replace(view, plan=event.plan, seats=event.seats, steps=event.steps, end_sample=event.end_sample)
        case PhaseBegan():
            return replace(view, phase=event.phase)
        case RolesSet():
            return replace(view, round=event.round, roles=event.roles)
        case StepBegan():
            return replace(view, step=event.step, to_swap=event.to_swap)
        case Paused() | Resumed():
            return replace(view, paused=isinstance(event, Paused))
        case CueStarted() | CueEnded():
            return replace(view, saying=event.text if isinstance(event, CueStarted) else "")
        case Heard():
            return replace(view, turn=_turn(view, event))
        case Understood() if view.turn and view.turn.heard.unit == event.unit:
            return replace(view, turn=replace(view.turn, seat=event.seat, role=event.role, understood=event))
        case Corrected() if view.turn and view.turn.heard.unit == event.unit:
            return replace(view, turn=replace(view.turn, seat=event.seat))
    return view


def _turn(view: View, heard: Heard) -> TurnLine:
    since = None if view.turn is None else to_seconds(heard.start_sample - view.turn.heard.end_sample)
    return TurnLine(heard, heard.seat, role_of(view.roles, heard.seat), since)
