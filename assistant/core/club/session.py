"""The session: plan, roles, swaps and clock, as a state machine. Events go in, events come out.

What lives here: what follows from what. What must not: a clock, a device, a thread, or when a cue finds its gap
(:mod:`assistant.core.club.cuedesk`). Time is the sample of the event that came in.

A phase leads to the next by this table and no other way; the clock alone moves the last two, and nothing moves it back::

    setting up ──BEGIN──► building ──MODEL_DONE──► admiring
                             ▲ ◄─────STEP_BACK────────┘
    setting up, building, admiring ──CLEAR──► clearing away
    every phase ──END──► over (with no time to clear away, from building at once)
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from enum import Enum, auto

from assistant.core.club.rota import Roles, after_pass, describer, next_round, role_of
from assistant.core.club.script import Script
from assistant.core.club.settings import Settings, SwapBy
from assistant.core.plans.plan import Plan, Step
from assistant.core.words.lexicon import Lexicon
from assistant.core.words.meaning import Meaning, understand
from assistant.core.words.tray import Tray, merge
from assistant.errors import OutOfTurnError
from assistant.events import (
    Corrected,
    CueAsked,
    Event,
    Heard,
    Marked,
    Passed,
    Paused,
    PhaseBegan,
    Request,
    Resumed,
    RolesSet,
    SessionClosed,
    SessionOpened,
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
from assistant.samples import to_samples, to_seconds
from assistant.terms import Act, Closing, Cue, Mark, Phase, Role, Seat

DONE_AFTER = to_samples(8.0)
"""A spoken "done" counts when something was asked for in this step, or this long after the step began. Two children saying
"done" for the same piece are common; the second one must not finish the next step. Chosen, not measured."""


class Move(Enum):
    """What moves a session from one phase to the next."""

    BEGIN = auto()
    MODEL_DONE = auto()
    STEP_BACK = auto()
    CLEAR = auto()
    END = auto()


PHASES: dict[tuple[Phase, Move], Phase] = {
    (Phase.SETTING_UP, Move.BEGIN): Phase.BUILDING,
    (Phase.BUILDING, Move.MODEL_DONE): Phase.ADMIRING,
    (Phase.ADMIRING, Move.STEP_BACK): Phase.BUILDING,
    (Phase.SETTING_UP, Move.CLEAR): Phase.CLEARING,
    (Phase.BUILDING, Move.CLEAR): Phase.CLEARING,
    (Phase.ADMIRING, Move.CLEAR): Phase.CLEARING,
    (Phase.SETTING_UP, Move.END): Phase.OVER,
    (Phase.BUILDING, Move.END): Phase.OVER,
    (Phase.ADMIRING, Move.END): Phase.OVER,
    (Phase.CLEARING, Move.END): Phase.OVER,
}

_MODEL_IS_OUT = frozenset({Phase.BUILDING, Phase.ADMIRING})


@dataclass(frozen=True, slots=True)
class State:
    """All that a session knows of the building, at one moment. Frozen, so that a step back is the state of before."""

    tray: Tray
    rounds: tuple[Roles, ...]
    step: int = 0  # the current one, from 1; one more than the plan has when the model is finished
    in_round: int = 0  # steps done in this round
    step_began: int = 0  # sample
    round_began: int = 0  # sample
    swap_is_due: bool = False  # the minutes of this round are up; the roles swap at the end of the step
    asking: Request | None = None  # the last request of this step

    @property
    def roles(self) -> Roles:
        """Who has which role now."""
        return self.rounds[-1]


@dataclass(frozen=True, slots=True)
class _Said:
    """An utterance and the state it fell into, kept so that a corrected speaker is understood as if heard right at once."""

    heard: Heard
    state: State


class Session:
    """One session of one plan.

    Args:
        plan: the model.
        settings: checked against the plan already (:meth:`Settings.check`).
        script: the wording of the cues.
        lexicon: with the plan's own words in it.
    """

    def __init__(self, plan: Plan, settings: Settings, script: Script, lexicon: Lexicon) -> None:
        self.plan = plan
        self.settings = settings
        self.script = script
        self.lexicon = lexicon
        self.phase = Phase.SETTING_UP
        self.paused = False
        self.state = State(Tray.of(plan, lexicon), (next_round(settings.seats, ()),))
        self._before: list[State] = []  # the states that a step back returns to
        self._said: dict[int, _Said] = {}
        self._requests = 0
        self._tallies: list[tuple[Seat, str]] = []
        self._notice_is_due = settings.notice_min > 0

    @property
    def is_over(self) -> bool:
        """Whether the session has closed."""
        return self.phase is Phase.OVER

    def open(self, sample: int = 0) -> tuple[Event, ...]:
        """The events with which the session begins. Its length is fixed from here on."""
        settings = self.settings
        opened = SessionOpened(sample, self.plan.title, settings.seats, len(self.plan.steps), settings.length_samples)
        roles = RolesSet(sample, 1, self.state.roles)
        if settings.set_up_samples:
            return (opened, PhaseBegan(sample, self.phase), roles)
        return (opened, roles, *self._move(sample, Move.BEGIN))

    def receive(self, event: Event) -> tuple[Event, ...]:
        """What follows from an event. Events that a session has no use for are passed over.

        Raises:
            OutOfTurnError: the event cannot happen now; the session is as it was.
        """
        if self.is_over:
            return ()
        match event:
            case Tick():
                return tuple(self._tick(event))
            case Heard():
                return tuple(self._heard(event))
            case Marked():
                return tuple(_MARKS[event.mark](self, event))
        return ()

    def close(self, sample: int, why: Closing) -> tuple[Event, ...]:
        """Close the session before its time: the facilitator stopped it, or the recording is over."""
        if self.is_over:
            return ()
        self.phase = PHASES[self.phase, Move.END]
        return (PhaseBegan(sample, self.phase), SessionClosed(sample, why))

    # --- the clock ------------------------------------------------------------------------------------------------------

    def _tick(self, event: Tick) -> Iterator[Event]:
        sample, settings = event.sample, self.settings
        if self.phase is Phase.SETTING_UP and sample >= settings.set_up_samples:
            yield from self._move(sample, Move.BEGIN)
        if self._notice_is_due and self.phase in _MODEL_IS_OUT and self._minutes_left(sample) <= settings.notice_min:
            self._notice_is_due = False
            yield from self._say_time_left(sample)
        if settings.clear_away_s and self.phase is not Phase.CLEARING and sample >= settings.clear_away_sample:
            yield from self._move(sample, Move.CLEAR)
        if sample >= settings.length_samples:
            yield from self._move(sample, Move.END)
        elif self.phase is Phase.BUILDING and not self.paused:
            yield from self._minutes(sample)

    def _say_time_left(self, sample: int) -> Iterator[Event]:
        """The notice; fewer minutes than usual where building began late, or a pause was in the way."""
        minutes = round(self._minutes_left(sample))
        if minutes:
            yield TimeLeft(sample, minutes)
            yield CueAsked(sample, Cue.TIME_LEFT, self.script.time_left(minutes, to_build=self.settings.notice_is_of_building))

    def _minutes_left(self, sample: int) -> float:
        settings = self.settings
        end = settings.clear_away_sample if settings.notice_is_of_building else settings.length_samples
        return to_seconds(end - sample) / 60

    def _minutes(self, sample: int) -> Iterator[Event]:
        rule = self.settings.swap
        if rule.by is not SwapBy.MINUTES or self.state.swap_is_due:
            return
        if sample - self.state.round_began >= to_samples(rule.every * 60) and self.state.step < len(self.plan.steps):
            self.state = replace(self.state, swap_is_due=True)
            yield from self._announce(sample, None)

    # --- phases ---------------------------------------------------------------------------------------------------------

    def _move(self, sample: int, move: Move) -> Iterator[Event]:
        before, self.phase = self.phase, self._next_phase(move)
        yield PhaseBegan(sample, self.phase)
        if move is Move.BEGIN:
            self.state = replace(self.state, step=1, round_began=sample)
            yield from self._open_round(sample, Cue.BEGIN)
            yield from self._begin_step(sample, 1)
        elif move is Move.MODEL_DONE:
            yield CueAsked(sample, Cue.MODEL_DONE, self.script.plain(Cue.MODEL_DONE))
        elif move is Move.CLEAR:
            yield CueAsked(sample, Cue.CLEAR_AWAY, self.script.plain(Cue.CLEAR_AWAY))
        elif move is Move.END:
            yield CueAsked(sample, Cue.END, self.script.end(building_stops=before in _MODEL_IS_OUT))
            yield SessionClosed(sample, Closing.ON_TIME)

    def _next_phase(self, move: Move) -> Phase:
        try:
            return PHASES[self.phase, move]
        except KeyError:
            raise OutOfTurnError(f"That cannot be done now: the club is at {self.phase.value}.") from None

    # --- steps and swaps ------------------------------------------------------------------------------------------------

    def _begin_step(self, sample: int, step: int) -> Iterator[Event]:
        self.state = replace(self.state, step=step, step_began=sample, asking=None)
        to_swap = self._steps_to_swap()
        yield StepBegan(sample, step, to_swap)
        if self.state.in_round and to_swap is not None and to_swap == self._announced_at():
            yield from self._announce(sample, to_swap)

    def _steps_to_swap(self) -> int | None:
        """Steps still to build before the swap, the current one included; None if none comes, or time decides."""
        rule, state, last = self.settings.swap, self.state, len(self.plan.steps)
        if rule.by is SwapBy.MINUTES:
            return None
        left = self._left_in_component() if rule.by is SwapBy.COMPONENT else max(1, rule.every - state.in_round)
        return left if state.step + left - 1 < last else None

    def _left_in_component(self) -> int:
        step = self.state.step
        return next(later for later in range(step, len(self.plan.steps) + 1) if self.plan.ends_component(later)) - step + 1

    def _announced_at(self) -> int:
        """How many steps ahead a swap is announced: two, or one where a round is so short that two would be its start."""
        return 2 if self.state.in_round + (self._steps_to_swap() or 0) > 2 else 1

    def _open_round(self, sample: int, cue: Cue) -> Iterator[Event]:
        """Who does what now; and that this step is the only one of the round, because nothing else will announce the swap."""
        text = self.script.with_roles(cue, self.state.roles, self.settings)
        if self._steps_to_swap() == 1:
            yield SwapAnnounced(sample, 1)
            text = f"{text} {self.script.swap_soon(1)}"
        yield CueAsked(sample, cue, text)

    def _announce(self, sample: int, steps: int | None) -> Iterator[Event]:
        yield SwapAnnounced(sample, steps)
        yield CueAsked(sample, Cue.SWAP_SOON, self.script.swap_soon(steps))

    def _step_done(self, sample: int, unit: int | None) -> Iterator[Event]:
        self._only_while_building()
        state = self.state
        done = self._current(state)
        swaps = state.swap_is_due or self._steps_to_swap() == 1
        self._before.append(state)
        tray, step = state.tray.without(done.put), done.number + 1
        self.state = replace(state, tray=tray, step=step, in_round=state.in_round + 1, asking=None)
        yield StepDone(sample, done.number, unit)
        if done.number == len(self.plan.steps):
            yield from self._move(sample, Move.MODEL_DONE)
            return
        if swaps:
            yield from self._swap(sample)
        yield from self._begin_step(sample, step)

    def _step_back(self, sample: int) -> Iterator[Event]:
        if self.phase not in _MODEL_IS_OUT or not self._before:
            raise OutOfTurnError("There is no step to go back to.")
        if self.phase is Phase.ADMIRING:
            yield from self._move(sample, Move.STEP_BACK)
        roles, self.state = self.state.roles, self._before.pop()
        yield StepUndone(sample, self.state.step)
        if self.state.roles != roles:
            yield RolesSet(sample, len(self.state.rounds), self.state.roles)
            yield from self._say_roles(sample)
        yield StepBegan(sample, self.state.step, self._steps_to_swap())

    def _swap(self, sample: int) -> Iterator[Event]:
        rounds = (*self.state.rounds, next_round(self.settings.seats, self.state.rounds))
        self.state = replace(self.state, rounds=rounds, in_round=0, round_began=sample, swap_is_due=False)
        yield RolesSet(sample, len(rounds), self.state.roles)
        yield from self._open_round(sample, Cue.SWAP)

    def _swap_now(self, sample: int) -> Iterator[Event]:
        self._only_while_building()
        yield from self._swap(sample)
        yield StepBegan(sample, self.state.step, self._steps_to_swap())

    def _pass(self, sample: int, seat: Seat | None) -> Iterator[Event]:
        self._only_while_building()
        role = role_of(self.state.roles, seat) if seat else None
        if seat is None or role is None:
            raise OutOfTurnError(f"Only a child can pass its role: {', '.join(self.settings.seats)}.")
        roles = after_pass(self.state.roles, seat)
        self.state = replace(self.state, rounds=(*self.state.rounds[:-1], roles))
        yield Passed(sample, seat, role)
        yield RolesSet(sample, len(self.state.rounds), roles)
        yield CueAsked(sample, Cue.PASS, self.script.with_roles(Cue.PASS, roles, self.settings, seat))

    def _say_roles(self, sample: int) -> Iterator[Event]:
        yield CueAsked(sample, Cue.ROLES, self.script.with_roles(Cue.ROLES, self.state.roles, self.settings))

    def _only_while_building(self) -> None:
        if self.phase is not Phase.BUILDING:
            raise OutOfTurnError(f"That cannot be done now: the club is at {self.phase.value}.")

    # --- the facilitator's keys -----------------------------------------------------------------------------------------

    def _pause(self, event: Marked) -> Iterator[Event]:
        if not self.paused:
            self.paused = True
            yield Paused(event.sample)

    def _resume(self, event: Marked) -> Iterator[Event]:
        if self.paused:
            self.paused = False
            yield Resumed(event.sample)
            yield from self._say_again(event.sample)

    def _say_again(self, sample: int) -> Iterator[Event]:
        """Where the club is now, and all that was announced and is still true: what said so may have fallen into the pause."""
        if self.phase is Phase.BUILDING:
            yield from self._say_roles(sample)
            if self._swap_is_near():
                yield CueAsked(sample, Cue.SWAP_SOON, self.script.swap_soon(self._steps_to_swap()))
        elif self.phase is Phase.ADMIRING:
            yield CueAsked(sample, Cue.MODEL_DONE, self.script.plain(Cue.MODEL_DONE))
        elif self.phase is Phase.CLEARING:
            yield CueAsked(sample, Cue.CLEAR_AWAY, self.script.plain(Cue.CLEAR_AWAY))
        if self.phase in _MODEL_IS_OUT and not self._notice_is_due and self.settings.notice_min:
            yield from self._say_time_left(sample)

    def _swap_is_near(self) -> bool:
        left = self._steps_to_swap()
        return self.state.swap_is_due or (left is not None and left <= self._announced_at())

    def _who(self, event: Marked) -> Iterator[Event]:
        said = self._said.get(event.unit) if event.unit is not None else None
        if said is None or event.seat is None:
            raise OutOfTurnError("There is no such turn to put right.")
        heard = replace(said.heard, seat=event.seat)
        self._said[heard.unit] = _Said(heard, said.state)
        yield Corrected(event.sample, heard.unit, said.heard.seat, event.seat)
        yield self._understood(event.sample, heard, said.state)

    def _tally(self, event: Marked) -> Iterator[Event]:
        if event.seat is None or not event.what:
            raise OutOfTurnError("A tally needs a seat and what was seen.")
        self._tallies.append((event.seat, event.what))
        yield Tallied(event.sample, event.seat, event.what)

    def _tally_back(self, event: Marked) -> Iterator[Event]:
        if event.seat is None or (event.seat, event.what) not in self._tallies:
            raise OutOfTurnError("There is no such tally to take back.")
        self._tallies.remove((event.seat, event.what))
        yield TallyUndone(event.sample, event.seat, event.what)

    # --- what was heard -------------------------------------------------------------------------------------------------

    def _heard(self, heard: Heard) -> Iterator[Event]:
        state = self.state
        self._said[heard.unit] = _Said(heard, state)
        understood = self._understood(heard.sample, heard, state)
        yield understood
        if self.phase is not Phase.BUILDING or self.paused:
            return
        if understood.act is Act.STEP_DONE and self._done_counts(heard):
            yield from self._step_done(heard.sample, heard.unit)
        elif understood.act is Act.PASS and understood.role:
            yield from self._pass(heard.sample, heard.seat)
        if understood.request:  # of this step or, "done, now the red one", of the next
            self.state = replace(self.state, asking=understood.request)

    def _done_counts(self, heard: Heard) -> bool:
        return self.state.asking is not None or heard.start_sample - self.state.step_began >= DONE_AFTER

    def _understood(self, sample: int, heard: Heard, state: State) -> Understood:
        role = role_of(state.roles, heard.seat)
        describes = heard.seat is describer(state.roles)
        meaning = understand(
            tuple(word.text for word in heard.words),
            role=role,
            is_facilitator=heard.seat is Seat.FACILITATOR,
            may_ask=role is Role.BUILDER or describes,
            request_is_open=state.asking is not None,
            lexicon=self.lexicon,
            describes=describes,
        )
        request = self._request(meaning, state)
        return Understood(
            sample, heard.unit, heard.seat, role, meaning.act, request, meaning.repair, meaning.prompt, meaning.praise
        )

    def _request(self, meaning: Meaning, state: State) -> Request | None:
        if meaning.act is Act.STEP_DONE and meaning.attributes:
            return self._new_request(meaning, state.tray.without(self._current(state).put))
        if meaning.act is not Act.REQUEST:
            return None
        return self._continued(meaning, state) or self._new_request(meaning, state.tray)

    def _continued(self, meaning: Meaning, state: State) -> Request | None:
        """One more contribution to the last request of the step: it was open, or the step has but one piece to ask for."""
        earlier = state.asking
        if earlier is None or not (earlier.is_open or len(self._current(state).put) == 1):
            return None
        attributes = merge(earlier.attributes, meaning.attributes)
        fit = state.tray.fitting(attributes)
        if not fit.pieces:
            return None
        where = meaning.where or earlier.where
        return replace(earlier, attributes=attributes, where=where, fits_after=fit.pieces, kinds_after=fit.kinds)

    def _new_request(self, meaning: Meaning, tray: Tray) -> Request:
        self._requests += 1
        fit = tray.fitting(meaning.attributes)
        quantity = meaning.quantity or 1
        return Request(self._requests, meaning.attributes, quantity, meaning.where, tray.count, fit.pieces, fit.kinds)

    def _current(self, state: State) -> Step:
        """The step being built; before the first and after the last, the one beside it."""
        return self.plan.steps[min(max(state.step, 1), len(self.plan.steps)) - 1]


_MARKS: dict[Mark, Callable[[Session, Marked], Iterator[Event]]] = {
    Mark.BEGIN: lambda session, event: session._move(event.sample, Move.BEGIN),
    Mark.STEP_DONE: lambda session, event: session._step_done(event.sample, None),
    Mark.STEP_BACK: lambda session, event: session._step_back(event.sample),
    Mark.SWAP_NOW: lambda session, event: session._swap_now(event.sample),
    Mark.SAY_ROLES: lambda session, event: session._say_roles(event.sample),
    Mark.PASS: lambda session, event: session._pass(event.sample, event.seat),
    Mark.PAUSE: Session._pause,
    Mark.RESUME: Session._resume,
    Mark.WHO: Session._who,
    Mark.TALLY: Session._tally,
    Mark.TALLY_BACK: Session._tally_back,
    Mark.CLEAR_AWAY: lambda session, event: session._move(event.sample, Move.CLEAR),
    Mark.STOP: lambda session, event: iter(session.close(event.sample, Closing.STOPPED)),
    Mark.WITHDRAW: lambda session, event: iter(()),  # the club goes on; who keeps anything sees the mark
}
