"""What is decided before a session starts, and cannot be changed after.

What lives here: the choices and whether they go together. What must not: how they were asked for.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from enum import StrEnum
from math import ceil
from unicodedata import normalize

from assistant.core.plans.plan import Plan
from assistant.errors import SettingsError
from assistant.samples import to_samples
from assistant.terms import CHILDREN, Seat

LONGEST_MIN = 90  # common practice, no source: 30 to 60 minutes; more than 90 is a slip of the finger


class SwapBy(StrEnum):
    """What makes the roles swap."""

    STEPS = "steps"
    MINUTES = "minutes"
    COMPONENT = "component"


@dataclass(frozen=True, slots=True)
class SwapRule:
    """Swap every so many steps, every so many minutes (at the end of the step then going on), or after each component."""

    by: SwapBy = SwapBy.STEPS
    every: int = 3

    @classmethod
    def from_text(cls, text: str) -> "SwapRule":
        """The rule that ``"3"``, ``"10min"`` or ``"component"`` stands for.

        Raises:
            SettingsError: it is none of the three.
        """
        said = text.strip().lower().replace(" ", "")
        if said == "component":
            return cls(SwapBy.COMPONENT, 1)
        number = said.removesuffix("min").removesuffix("steps")
        if not number.isdecimal() or int(number) == 0:
            raise SettingsError(f"--swap {text!r} is no swap rule. Write a number of steps (3), minutes (10min), or component.")
        return cls(SwapBy.MINUTES if said.endswith("min") else SwapBy.STEPS, int(number))

    def rounds(self, plan: Plan) -> int | None:
        """How often the whole of a plan gives out roles, the first time included; None where time decides."""
        steps = len(plan.steps)
        if self.by is SwapBy.MINUTES:
            return None
        return sum(map(plan.ends_component, range(1, steps + 1))) if self.by is SwapBy.COMPONENT else ceil(steps / self.every)


@dataclass(frozen=True, slots=True)
class Settings:
    """The children, the swaps and the times. Set-up and clear-away lie inside ``length_s``, which nothing extends."""

    children: int = 3
    swap: SwapRule = SwapRule()
    length_s: float = 45 * 60
    set_up_s: float = 5 * 60
    clear_away_s: float = 5 * 60
    notice_min: int = 5  # "five minutes left"
    names: Mapping[Seat, str] = field(default_factory=dict)
    """Names for the cues to say. They live in memory only; a seat without one is called by its letter."""

    @property
    def seats(self) -> tuple[Seat, ...]:
        """The children's seats, in their order."""
        return CHILDREN[: self.children]

    @property
    def length_samples(self) -> int:
        """Where the session ends."""
        return to_samples(self.length_s)

    @property
    def set_up_samples(self) -> int:
        """Where set-up ends at the latest."""
        return to_samples(self.set_up_s)

    @property
    def clear_away_sample(self) -> int:
        """Where clear-away begins."""
        return to_samples(self.length_s - self.clear_away_s)

    @property
    def notice_is_of_building(self) -> bool:
        """Whether the notice counts to clear-away: where that is as long as the notice, it would come too late to warn."""
        return self.clear_away_s >= self.notice_min * 60

    def name(self, seat: Seat) -> str:
        """What a cue calls this seat."""
        return self.names.get(seat, seat.value)

    def check(self, plan: Plan) -> None:
        """See whether these settings go together, and with this plan.

        Raises:
            SettingsError: with one sentence for the first thing that does not.
        """
        if self.children not in (2, 3):
            raise SettingsError(f"A club has two or three children, not {self.children}. Choose --children 2 or 3.")
        if self.children not in plan.children:
            fits = " or ".join(str(number) for number in plan.children)
            raise SettingsError(f"The plan {plan.title!r} is for {fits} children, not {self.children}. Choose another plan.")
        if min(self.set_up_s, self.clear_away_s) < 0:
            raise SettingsError("Set-up and clear-away cannot be shorter than nothing. Choose 0 minutes or more.")
        if self.set_up_s + self.clear_away_s >= self.length_s:
            raise SettingsError("Set-up and clear-away fill the whole session. Make it longer, or make them shorter.")
        check_names(self.names, self.seats)


def check_names(names: Mapping[Seat, str], seats: Sequence[Seat]) -> None:
    """See whether these names are for children who play, and call no two of them the same.

    Args:
        seats: the children's; one without a name is called by its letter.

    Raises:
        SettingsError: with one sentence for what is wrong.
    """
    if strangers := names.keys() - set(seats):
        raise SettingsError(f"There is no child at seat {min(strangers)}. Names are for {', '.join(seats)}.")
    called: set[str] = set()
    for name in (names.get(seat, seat.value) for seat in seats):
        if (folded := normalize("NFKC", name).casefold()) in called:
            raise SettingsError(f"Two children are called {name!r}. Add a letter to one of them.")
        called.add(folded)


def names_from(text: str) -> dict[Seat, str]:
    """The names in ``"A=Ada,B=Bo"``, by seat.

    Raises:
        SettingsError: it is not written like that, or gives two children one name.
    """
    names: dict[Seat, str] = {}
    for pair in filter(None, (part.strip() for part in text.split(","))):
        letter, _, name = pair.partition("=")
        if letter.strip().upper() not in CHILDREN or not name.strip():
            raise SettingsError(f"--names {pair!r} cannot be read. Write a seat and a name, A=Ada,B=Bo.")
        seat, name = Seat(letter.strip().upper()), name.strip()
        if seat in names:
            raise SettingsError(f"--names names seat {seat} twice. Each child has one name.")
        names[seat] = name
    check_names(names, tuple(names))
    return names
