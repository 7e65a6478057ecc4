"""A plan: the model that the children build together, step by step.

What lives here: the plan as frozen values, and the way from TOML text to them with every problem found on the way. What must
not: a path or a file; the text and what to call its source are handed in.

The format (version 1)::

    version = 1
    title = "Two-colour tower"
    activity = "blocks"                    # blocks, beads, cooking, chunky blocks, or the family's own word
    children = [2, 3]                      # for how many children
    about = "One sentence for the parent."
    preference = ["colour", "size"]        # the attributes, the one that is best named first

    [piece.red-brick]                      # a kind of piece; the key is ours, nobody says it
    attributes = { size = "long", colour = "red", shape = "block" }   # in the order a person would say them
    mm = [80, 40, 20]                      # length, width, height

    [[step]]
    component = "tower"
    put = [{ piece = "red-brick" }]        # new pieces of this step
    where = "flat on the board"

The tray is the sum of the steps: only the pieces that are needed lie on it.
"""

import tomllib
from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from itertools import pairwise
from typing import Any

from assistant.errors import PlanError

FORMAT_VERSION = 1


@dataclass(frozen=True, slots=True)
class Piece:
    """A kind of piece. ``mm`` is length, width, height in millimetres, None where the family did not say."""

    key: str
    attributes: Mapping[str, str]
    mm: tuple[float, float, float] | None = None

    @property
    def name(self) -> str:
        """As a person would say it: ``"long red block"``."""
        return " ".join(self.attributes.values())


@dataclass(frozen=True, slots=True)
class Step:
    """One step: the pieces that are new in it, and where they go. ``number`` counts from 1."""

    number: int
    component: str
    put: tuple[Piece, ...]
    where: str = ""
    hint: str = ""


@dataclass(frozen=True, slots=True)
class Plan:
    """A goal model."""

    title: str
    activity: str
    about: str
    children: tuple[int, ...]
    preference: tuple[str, ...]
    pieces: Mapping[str, Piece]
    steps: tuple[Step, ...]
    words: Mapping[str, Mapping[str, tuple[str, ...]]] = field(default_factory=dict)
    """The plan's own words: attribute, then value, then the words for it, ``{"shape": {"arch": ("arch", "bridge")}}``."""

    @property
    def components(self) -> tuple[str, ...]:
        """The components in their order."""
        return tuple(dict.fromkeys(step.component for step in self.steps))

    def tray(self) -> Counter[str]:
        """How many of each kind of piece the whole model needs, by key."""
        return Counter(piece.key for step in self.steps for piece in step.put)

    def ends_component(self, step: int) -> bool:
        """Whether this step (from 1) is the last of its component."""
        return step == len(self.steps) or self.steps[step].component != self.steps[step - 1].component


def read_plan(text: str, source: str) -> Plan:
    """The plan that a TOML text describes.

    Args:
        text: the whole file.
        source: what to call it in a problem, usually the file's name.

    Raises:
        PlanError: with one sentence for every problem found, not only the first.
    """
    try:
        raw = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise PlanError((f"{source}: this is not TOML ({error}). Mend the line it names.",)) from error
    reader = _Reader(raw, source)
    plan = reader.plan()
    if reader.problems:
        raise PlanError(tuple(reader.problems))
    return plan


_TOP = {"version", "title", "activity", "about", "children", "preference", "piece", "step", "words"}
_PIECE = {"attributes", "mm"}
_STEP = {"component", "put", "where", "hint"}


class _Reader:
    """Reads a plan leniently and writes down everything that is wrong with it."""

    def __init__(self, raw: dict[str, Any], source: str) -> None:
        self.raw = raw
        self.source = source
        self.problems: list[str] = []

    def plan(self) -> Plan:
        self._version()
        self._unknown(self.raw, _TOP, "the top of the file")
        preference = self._strings(self.raw.get("preference", []), "preference")
        pieces = {key: self._piece(key, table) for key, table in self._table("piece").items()}
        steps = tuple(self._step(number, table, pieces) for number, table in enumerate(self._list("step"), start=1))
        plan = Plan(
            title=self._text(self.raw, "title", "the top of the file"),
            activity=self._text(self.raw, "activity", "the top of the file"),
            about=self._text(self.raw, "about", "the top of the file"),
            children=self._children(),
            preference=preference,
            pieces=pieces,
            steps=steps,
            words=self._words(),
        )
        self._whole(plan)
        return plan

    def _say(self, place: str, what: str) -> None:
        self.problems.append(f"{self.source}, {place}: {what}")

    def _version(self) -> None:
        version = self.raw.get("version")
        if version != FORMAT_VERSION:
            self._say("version", f"it says {version!r}. This program reads version {FORMAT_VERSION}: write that.")

    def _unknown(self, table: Mapping[str, Any], known: set[str], place: str) -> None:
        for key in table.keys() - known:
            self._say(place, f"{key!r} is not a word of the plan format. It knows {', '.join(sorted(known))}.")

    def _text(self, table: Mapping[str, Any], key: str, place: str, *, needed: bool = True) -> str:
        value = table.get(key, "")
        if not isinstance(value, str):
            self._say(place, f"{key} must be text in quotes, not {value!r}.")
            return ""
        if needed and not value.strip():
            self._say(place, f'{key} is missing. Write {key} = "...".')
        return value.strip()

    def _strings(self, value: Any, place: str) -> tuple[str, ...]:
        if isinstance(value, list) and all(isinstance(item, str) for item in value):
            return tuple(value)
        self._say(place, f'it must be a list of words, ["colour", "size"], not {value!r}.')
        return ()

    def _table(self, key: str) -> dict[str, Any]:
        value = self.raw.get(key, {})
        if isinstance(value, dict):
            return value
        self._say(key, f"it must be a table, [{key}.some-name], not {value!r}.")
        return {}

    def _list(self, key: str) -> list[Any]:
        value = self.raw.get(key, [])
        if isinstance(value, list):
            return value
        self._say(key, f"it must be written as [[{key}]], once for each.")
        return []

    def _children(self) -> tuple[int, ...]:
        value = self.raw.get("children")
        if isinstance(value, list) and value and all(child in (2, 3) for child in value):
            return tuple(value)
        self._say("children", f"it says {value!r}; a club has two or three children. Write children = [2, 3].")
        return ()

    def _piece(self, key: str, table: Any) -> Piece:
        place = f"piece {key!r}"
        if not isinstance(table, dict):
            self._say(place, f"it must be a table with attributes, not {table!r}.")
            return Piece(key, {})
        self._unknown(table, _PIECE, place)
        attributes = table.get("attributes")
        if not isinstance(attributes, dict) or not attributes or not all(isinstance(v, str) for v in attributes.values()):
            self._say(place, 'attributes are missing. Write attributes = { colour = "red", shape = "block" }.')
            attributes = {}
        return Piece(key, attributes, self._mm(table.get("mm"), place))

    def _mm(self, value: Any, place: str) -> tuple[float, float, float] | None:
        if value is None:
            return None
        if isinstance(value, list) and len(value) == 3 and all(_is_length(side) for side in value):
            return (float(value[0]), float(value[1]), float(value[2]))
        self._say(place, f"mm must be three lengths over 0 in millimetres, [80, 40, 20], not {value!r}.")
        return None

    def _step(self, number: int, table: Any, pieces: Mapping[str, Piece]) -> Step:
        place = f"step {number}"
        if not isinstance(table, dict):
            self._say(place, f"it must be a table under [[step]], not {table!r}.")
            return Step(number, "", ())
        self._unknown(table, _STEP, place)
        return Step(
            number,
            self._text(table, "component", place),
            tuple(self._put(table.get("put"), place, pieces)),
            self._text(table, "where", place, needed=False),
            self._text(table, "hint", place, needed=False),
        )

    def _put(self, value: Any, place: str, pieces: Mapping[str, Piece]) -> Iterator[Piece]:
        if not isinstance(value, list) or not value:
            self._say(place, 'it puts no piece. Write put = [{ piece = "..." }].')
            return
        for item in value:
            key = item.get("piece") if isinstance(item, dict) else None
            if not isinstance(key, str):
                self._say(place, f'each piece is written {{ piece = "..." }}, not {item!r}.')
            elif key not in pieces:
                self._say(place, f"there is no piece {key!r}. The plan has {', '.join(sorted(pieces)) or 'none'}.")
            else:
                yield pieces[key]

    def _words(self) -> dict[str, dict[str, tuple[str, ...]]]:
        words: dict[str, dict[str, tuple[str, ...]]] = {}
        for attribute, values in self._table("words").items():
            if isinstance(values, dict):
                words[attribute] = {value: self._strings(said, f"words.{attribute}.{value}") for value, said in values.items()}
            else:
                self._say(f"words.{attribute}", 'it must be a table, value = ["word", "other word"].')
        return words

    def _whole(self, plan: Plan) -> None:
        """What only the whole plan shows."""
        if not plan.steps:
            self._say("step", "there is none. Write at least one [[step]].")
        used = plan.tray()
        for key, piece in plan.pieces.items():
            if not used[key]:
                self._say(f"piece {key!r}", "no step uses it. Only needed pieces lie on the tray: use it or take it out.")
            for attribute in piece.attributes.keys() - set(plan.preference):
                self._say(f"piece {key!r}", f"its attribute {attribute!r} is not in preference. Add it there.")
        self._alike(plan)
        self._scattered(plan)

    def _alike(self, plan: Plan) -> None:
        seen: dict[frozenset[tuple[str, str]], str] = {}
        for key, piece in plan.pieces.items():
            twin = seen.setdefault(frozenset(piece.attributes.items()), key)
            if twin != key:
                self._say(f"piece {key!r}", f"no word tells it from piece {twin!r}. Give one of them another attribute.")

    def _scattered(self, plan: Plan) -> None:
        begun: set[str] = set()
        for before, step in pairwise((None, *plan.steps)):
            assert step is not None
            if before is None or before.component != step.component:
                if step.component in begun:
                    self._say(f"step {step.number}", f"component {step.component!r} was left before. Keep its steps together.")
                begun.add(step.component)


def _is_length(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool) and value > 0
