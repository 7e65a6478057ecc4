"""The script of the demonstration, read: who says what, when, and what it does.

What lives here: the way from ``script.txt`` to frozen values. What must not: sound, or where anything ends up on the time line.
The script's own first lines explain how it is written.
"""

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path

from assistant.core.plans.plan import Plan, read_plan
from assistant.terms import Act, Cue, Praise, Prompt, Repair, Role, Seat

FOLDER = Path(__file__).parent
PLANS = FOLDER.parent / "shared" / "plans"


@dataclass(frozen=True, slots=True)
class Does:
    """What an utterance does: the truth that the tool is measured against."""

    act: Act = Act.OTHER
    attributes: tuple[tuple[str, str], ...] = ()
    where: str = ""
    repair: Repair | None = None
    mends: bool = False
    prompt: Prompt | None = None
    praise: Praise | None = None


@dataclass(frozen=True, slots=True)
class Line:
    """An utterance. ``pause_s`` counts from the end of all speech before; below zero it overlaps."""

    seat: Seat
    pause_s: float
    does: Does
    text: str


@dataclass(frozen=True, slots=True)
class Knocks:
    """Hard pieces knocking together, ``pause_s`` after the end of all speech before."""

    pause_s: float
    count: int


@dataclass(frozen=True, slots=True)
class Silence:
    """The tool speaks here: nobody else does."""

    pause_s: float
    cue: Cue
    length_s: float


@dataclass(frozen=True, slots=True)
class Until:
    """Silence up to this time on the clock."""

    time_s: float


@dataclass(frozen=True, slots=True)
class StepBegins:
    """From here on this step is built; 0 is none."""

    number: int


@dataclass(frozen=True, slots=True)
class RolesAre:
    """Who has which role from here on."""

    round: int
    roles: tuple[tuple[Seat, Role], ...]


Entry = Line | Knocks | Silence | Until | StepBegins | RolesAre


@dataclass(frozen=True, slots=True)
class Scenario:
    """The whole script."""

    plan_name: str
    plan: Plan
    length_s: int
    set_up_s: int
    clear_away_s: int
    swap_every: int
    notice_min: int
    voices: tuple[Line, ...]
    entries: tuple[Entry, ...]


class ScriptError(ValueError):
    """A line of the script cannot be read; the text says which and why."""


def read_scenario(path: Path = FOLDER / "script.txt") -> Scenario:
    """The scenario that a script file describes.

    Raises:
        ScriptError: naming the first line that cannot be read.
    """
    settings: dict[str, str] = {}
    parts: dict[str, list[Entry]] = {"voices": [], "session": []}
    part = "session"
    values: Mapping[str, str] = {}
    for number, line in _lines(path.read_text(encoding="utf-8")):
        try:
            if line in ("-- voices", "-- set up"):
                part = "voices" if line == "-- voices" else "session"
            elif line.startswith("--"):
                parts[part].append(_heading(line.removeprefix("--").strip()))
            elif "|" in line:
                values = values or _kinds(_plan(settings["plan"]))
                parts[part].append(_row([cell.strip() for cell in line.split("|")], values))
            else:
                name, _, value = line.partition(":")
                settings[name] = value.strip()
        except (KeyError, ValueError) as error:
            raise ScriptError(f"{path.name}, line {number}: {line!r} cannot be read ({error}).") from error
    return Scenario(
        plan_name=settings["plan"],
        plan=_plan(settings["plan"]),
        length_s=_clock(settings["length"]),
        set_up_s=_clock(settings["set up"]),
        clear_away_s=_clock(settings["clear away"]),
        swap_every=int(settings["swap every"]),
        notice_min=int(settings["notice"]),
        voices=tuple(line for line in parts["voices"] if isinstance(line, Line)),
        entries=tuple(parts["session"]),
    )


def _lines(text: str) -> Iterator[tuple[int, str]]:
    for number, line in enumerate(text.splitlines(), start=1):
        if line.strip() and not line.startswith("#"):
            yield number, line.strip()


def _plan(name: str) -> Plan:
    path = PLANS / f"{name}.toml"
    return read_plan(path.read_text(encoding="utf-8"), path.name)


def _kinds(plan: Plan) -> dict[str, str]:
    """The plan's words with their kinds: ``{"red": "colour", "long": "size"}``."""
    return {value: kind for piece in plan.pieces.values() for kind, value in piece.attributes.items()}


def _clock(text: str) -> int:
    minutes, seconds = text.split(":")
    return int(minutes) * 60 + int(seconds)


def _heading(text: str) -> Entry:
    if match := re.fullmatch(r"step (\d+)", text):
        return StepBegins(int(match[1]))
    if match := re.fullmatch(r"until (\d+:\d\d)", text):
        return Until(_clock(match[1]))
    if match := re.fullmatch(r"round (\d+): (.+)", text):
        pairs = (pair.split() for pair in match[2].split(", "))
        return RolesAre(int(match[1]), tuple((Seat(seat), Role(role)) for seat, role in pairs))
    raise ValueError("a heading is 'step N', 'until M:SS' or 'round N: A engineer, ...'")


def _row(cells: list[str], kinds: Mapping[str, str]) -> Entry:
    who, pause, does, words = cells
    if who == "knocks":
        return Knocks(float(pause), int(does))
    if who == "tool":
        return Silence(float(pause), Cue(does), float(words))
    return Line(Seat(who), float(pause), _does(does, kinds), words)


def _does(text: str, kinds: Mapping[str, str]) -> Does:
    """``"request red; where on top; mends"`` as a value."""
    act, attributes, where, mends = Act.OTHER, "", "", False
    repair: Repair | None = None
    prompt: Prompt | None = None
    praise: Praise | None = None
    for clause in text.split("; "):
        first, _, rest = clause.partition(" ")
        if clause == "mends":
            mends = True
        elif first == "where":
            act, where = Act.REQUEST, rest
        elif first == "request":
            act, attributes = Act.REQUEST, rest
        elif first == "repair":
            act = Act.REPAIR
            repair = next(kind for kind in Repair if rest.startswith(kind))
            attributes = rest.removeprefix(repair).strip()
        elif first == "prompt":
            act, prompt = Act.PROMPT, Prompt(rest)
        elif first == "praise":
            act, praise = Act.PRAISE, Praise(rest)
        else:
            act = Act(clause)
    return Does(act, tuple((kinds[word], word) for word in attributes.split()), where, repair, mends, prompt, praise)
