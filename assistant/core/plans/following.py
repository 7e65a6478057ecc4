"""Which plan next: one thing harder at a time, and never a leap.

What lives here: what the last sessions showed, as far as it matters for that, and the choice from a library with its reasons.
What must not: a verdict on a child. A session shows how a model went on one day, and nothing else is concluded from it.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Any

from assistant.core.plans.difficulty import Demand, Difficulty

FINISHED = 0.99  # share of the steps; a model is finished or not
MOST_ENOUGH = 0.7  # share of requests that were enough in the end; chosen by us
FEWEST_REQUESTS = 5  # fewer say too little
MOST_SUGGESTED = 3


class Move(StrEnum):
    """Where to go from the last session."""

    FIRST = "first"  # there was none
    AGAIN = "again"  # not finished: no more of anything
    STEADY = "steady"  # finished, but many requests stayed open: pieces told apart no harder
    FURTHER = "further"  # finished, and most requests enough: one thing harder
    UNSURE = "unsure"  # finished, and too few requests to say


@dataclass(frozen=True, slots=True)
class Shown:
    """What one session showed. ``requests`` were heard, ``enough`` of them fitted one kind of piece in the end."""

    plan: str
    steps_done: int
    steps: int
    requests: int
    enough: int

    @property
    def move(self) -> Move:
        """Where to go from here."""
        if self.steps_done < self.steps * FINISHED:
            return Move.AGAIN
        if self.requests < FEWEST_REQUESTS:
            return Move.UNSURE
        return Move.FURTHER if self.enough / self.requests >= MOST_ENOUGH else Move.STEADY


@dataclass(frozen=True, slots=True)
class Candidate:
    """A plan of the library."""

    name: str
    title: str
    activity: str
    children: tuple[int, ...]
    difficulty: Difficulty


@dataclass(frozen=True, slots=True)
class Suggestion:
    """A plan to take next, beside the last one; ``last`` is None when there was none."""

    plan: Candidate
    last: Candidate | None = None

    @property
    def harder(self) -> tuple[Demand, ...]:
        """What it asks more of than the last one."""
        return tuple(demand for demand, rise in self._rises() if rise > 0)

    @property
    def easier(self) -> tuple[Demand, ...]:
        """What it asks less of."""
        return tuple(demand for demand, rise in self._rises() if rise < 0)

    @property
    def new_activity(self) -> bool:
        """Whether it is another material."""
        return self.last is not None and self.plan.activity != self.last.activity

    @property
    def leaps(self) -> bool:
        """Whether something goes from little to much at once."""
        return any(rise > 1 for _, rise in self._rises())

    def reasons(self, texts: Mapping[str, Mapping[str, str]]) -> list[str]:
        """How it differs, in sentences. ``texts`` is ``shared/grades``."""
        if self.last is None:
            return []
        demands = {key: ", ".join(texts["demand"][demand] for demand in getattr(self, key)) for key in ("harder", "easier")}
        sentences = [texts["next"][key].format(demands=named) for key, named in demands.items() if named]
        if self.new_activity:
            sentences.append(texts["next"]["new_activity"].format(activity=self.plan.activity))
        return sentences or [texts["next"]["alike"]]

    def _rises(self) -> list[tuple[Demand, int]]:
        if self.last is None:
            return []
        now, before = self.plan.difficulty.levels, self.last.difficulty.levels
        return [(demand, now[demand] - before[demand]) for demand in Demand if demand in now and demand in before]


def next_plans(library: Sequence[Candidate], children: int, sessions: Sequence[Shown]) -> tuple[Move, tuple[Suggestion, ...]]:
    """Up to three plans to take next, the nearest first, and why it is these.

    Args:
        sessions: the last one last; plans by title. Plans that were finished before are left out.
    """
    last = _last(library, sessions)
    move = sessions[-1].move if sessions else Move.FIRST
    finished = {shown.plan for shown in sessions if shown.move is not Move.AGAIN}
    open_to = [plan for plan in library if children in plan.children and plan.title not in finished]
    if last is None:
        easiest = sorted(open_to, key=lambda plan: (_sum(plan.difficulty), plan.difficulty.steps, plan.name))
        return move, tuple(Suggestion(plan) for plan in easiest[:MOST_SUGGESTED])
    fitting = [suggestion for plan in open_to if _fits(move, suggestion := Suggestion(plan, last))]
    return move, tuple(sorted(fitting, key=lambda suggestion: _distance(suggestion, last, move))[:MOST_SUGGESTED])


def shown_in(records: Iterable[Mapping[str, Any]]) -> Shown:
    """What a session showed, from its events as plain records; the timeline level of keeping is enough."""
    plan, steps, done = "", 0, set[int]()
    kinds: dict[int, int] = {}
    for record in records:
        match record.get("event"):
            case "SessionOpened":
                plan, steps = str(record["plan"]), int(record["steps"])
            case "StepDone":
                done.add(int(record["step"]))
            case "StepUndone":
                done.discard(int(record["step"]))
            case "Understood" if request := record.get("request"):
                kinds[int(request["number"])] = int(request["kinds_after"])
    return Shown(plan, len(done), steps, len(kinds), sum(kind == 1 for kind in kinds.values()))


def _last(library: Sequence[Candidate], sessions: Sequence[Shown]) -> Candidate | None:
    """The last session's plan, None when there was none or it is not in the library."""
    return next((plan for plan in library if sessions and plan.title == sessions[-1].plan), None)


def _fits(move: Move, suggestion: Suggestion) -> bool:
    if move is Move.AGAIN:
        return not suggestion.harder
    if suggestion.plan is suggestion.last or suggestion.leaps or len(suggestion.harder) > 1:
        return False
    return move is not Move.STEADY or Demand.CHOICE not in suggestion.harder


def _distance(suggestion: Suggestion, last: Candidate, move: Move) -> tuple[int, int, int, str]:
    """How far a suggestion is from what the move asks for: one thing harder and none easier, or neither."""
    wanted = 1 if move is Move.FURTHER else 0
    off = abs(len(suggestion.harder) - wanted) + len(suggestion.easier)
    steps = abs(suggestion.plan.difficulty.steps - last.difficulty.steps)
    return off, int(suggestion.new_activity), steps, suggestion.plan.name


def _sum(difficulty: Difficulty) -> int:
    return sum(difficulty.levels.values())
