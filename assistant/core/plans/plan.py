"""A plan: the model that the children build together, step by step.

What lives here: the way from TOML text to a :class:`~assistant.core.plans.model.Plan`, with every problem found on the way.
What must not: a path or a file; the text and what to call its source are handed in. The format (version 1) is told in
``docs/plans.md``. The shortest plan::

    version = 1
    title = "Two-colour tower"
    activity = "blocks"
    children = [2, 3]
    about = "One sentence for the parent."
    preference = ["colour", "shape"]

    [piece.red]
    attributes = { colour = "red", shape = "block" }

    [[step]]
    component = "tower"
    put = [{ piece = "red" }]
    where = "flat on the board"

The tray is the sum of the steps: only the pieces that are needed lie on it.
"""

import re
import tomllib
import unicodedata
from collections.abc import Container, Iterator, Mapping
from difflib import get_close_matches
from enum import StrEnum
from math import isfinite
from typing import Any, TypeVar

from assistant.core.plans.building import TURNS, Form, Lies, Place
from assistant.core.plans.checks import plan_problems
from assistant.core.plans.model import FORM_OF_SHAPE, Care, Fit, Piece, Plan, Step
from assistant.errors import PlanError

__all__ = ["FORMAT_VERSION", "Piece", "Plan", "Step", "read_plan"]

FORMAT_VERSION = 1
MOST_AT_ONCE = 50  # pieces of a kind in one put; a larger count is a slip of the finger
FURTHEST = 1000  # cells from the corner of the board

_TOP = set("version title activity about children preference piece step words fit grid pattern colours".split())
_PIECE = {"attributes", "mm", "form", "unit", "tool"}
_STEP = {"component", "put", "where", "hint", "use", "adult", "photo"}
_PUT = {"piece", "at", "lies", "turn", "count", "amount"}

LONGEST_TITLE = 80  # letters: two lines on a card of the set-up page, on a sheet and in the terminal; chosen
LONGEST_TEXT = 400  # letters: what a parent reads out in half a minute; chosen
LONGEST_PHOTO = 255  # characters; no file system of today has longer names
_BLANKS = str.maketrans("\n\r\t", "   ")
_HEX = re.compile("#[0-9A-Fa-f]{6}")
_Choice = TypeVar("_Choice", bound=StrEnum)


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
    except RecursionError as error:
        raise PlanError((f"{source}: its brackets are nested too deeply for a plan. Take the extra ones out.",)) from error
    if any(unicodedata.category(letter) == "Cc" for letter in _letters(raw)):
        raise PlanError((f"{source}: a text in it holds a control character, such as \\u001b. Take it out.",))
    reader = _Reader(raw, source)
    plan = reader.plan()
    if reader.problems:
        raise PlanError(tuple(reader.problems))
    return plan


def _letters(value: Any) -> Iterator[str]:
    """Each character of each text in a plan, without line breaks and tabs, which become spaces."""
    waiting = [value]  # no recursion: a key with a thousand dots nests as deeply
    while waiting:
        value = waiting.pop()
        if isinstance(value, str):
            yield from value.translate(_BLANKS)
        elif isinstance(value, dict):
            waiting += [*value, *value.values()]
        elif isinstance(value, list):
            waiting += value


class _Reader:
    """Reads a plan leniently and writes down everything that is wrong with it."""

    def __init__(self, raw: dict[str, Any], source: str) -> None:
        self.raw = raw
        self.source = source
        self.problems: list[str] = []

    def plan(self) -> Plan:
        top = "the top of the file"
        self._version()
        self._unknown(self.raw, _TOP, top)
        grid_mm = self._length(self.raw, "grid", top)
        pieces = {key: self._piece(key, table) for key, table in self._table("piece").items()}
        steps = tuple(self._step(number, table, pieces, grid_mm) for number, table in enumerate(self._list("step"), start=1))
        plan = Plan(
            title=self._text(self.raw, "title", top, longest=LONGEST_TITLE),
            activity=self._text(self.raw, "activity", top, longest=LONGEST_TITLE),
            about=self._text(self.raw, "about", top),
            children=self._children(),
            preference=self._strings(self.raw.get("preference", []), "preference"),
            pieces=pieces,
            steps=steps,
            words=self._words(),
            fit=self._choice(self.raw, "fit", Fit, top) or Fit.STACK,
            grid_mm=grid_mm,
            pattern=tuple(piece.key for piece in self._named(self.raw, "pattern", pieces, top)),
            colours=self._colours(),
        )
        unread = {key for key in pieces if any(f", piece {key!r}: " in problem for problem in self.problems)}
        for place, what in plan_problems(plan, unread):
            self._say(place, what)
        return plan

    def _say(self, place: str, what: str) -> None:
        self.problems.append(f"{self.source}, {place}: {what}")

    # --- values -----------------------------------------------------------------------------------------------------------

    def _unknown(self, table: Mapping[str, Any], known: set[str], place: str) -> None:
        for key in sorted(table.keys() - known):
            near = get_close_matches(key, known, n=1)
            advice = f"Did you mean {near[0]!r}?" if near else f"It knows {', '.join(sorted(known))}."
            self._say(place, f"{key!r} is not a word of the plan format. {advice}")

    def _text(self, table: Mapping[str, Any], key: str, place: str, *, needed: bool = True, longest: int = LONGEST_TEXT) -> str:
        value = table.get(key, "")
        if not isinstance(value, str):
            self._say(place, f"{key} must be text in quotes, not {value!r}.")
            return ""
        if needed and not value.strip():
            self._say(place, f'{key} is missing. Write {key} = "...".')
        text = " ".join(value.split())
        if len(text) > longest:
            self._say(place, f"{key} has {len(text)} letters. There is place for {longest}. Make it shorter.")
        return text

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

    def _choice(self, table: Mapping[str, Any], key: str, choices: type[_Choice], place: str) -> _Choice | None:
        value = table.get(key)
        if value is None or value in list(choices):
            return None if value is None else choices(value)
        self._say(place, f"{key} says {value!r}. It can be {_either(choices)}.")
        return None

    def _length(self, table: Mapping[str, Any], key: str, place: str) -> float | None:
        value = table.get(key)
        if value is None or _is_length(value):
            return value
        self._say(place, f"{key} must be a number over 0, not {value!r}.")
        return None

    def _whole(self, table: Mapping[str, Any], key: str, default: int, allowed: Container[int], said: str, place: str) -> int:
        value = table.get(key, default)
        if _is_whole(value) and value in allowed:
            return int(value)
        self._say(place, f"{key} must be {said}, not {value!r}.")
        return default

    # --- the top of the file ----------------------------------------------------------------------------------------------

    def _version(self) -> None:
        version = self.raw.get("version")
        if not _is_whole(version) or version != FORMAT_VERSION:
            said = "it is missing" if version is None else f"it says {version!r}"
            self._say("version", f"{said}. This program reads version {FORMAT_VERSION}: write version = {FORMAT_VERSION}.")

    def _children(self) -> tuple[int, ...]:
        value = self.raw.get("children")
        if isinstance(value, list) and value and all(_is_whole(child) and child in (2, 3) for child in value):
            return tuple(sorted(set(value)))
        said = "it is missing" if value is None else f"it says {value!r}"
        self._say("children", f"{said}; a club has two or three children. Write children = [2, 3].")
        return ()

    def _words(self) -> dict[str, dict[str, tuple[str, ...]]]:
        words: dict[str, dict[str, tuple[str, ...]]] = {}
        for attribute, values in self._table("words").items():
            if isinstance(values, dict):
                words[attribute] = {value: self._strings(said, f"words.{attribute}.{value}") for value, said in values.items()}
            else:
                self._say(f"words.{attribute}", 'it must be a table, value = ["word", "other word"].')
        return words

    def _colours(self) -> dict[str, str]:
        colours = self._table("colours")
        for name, value in colours.items():
            if not isinstance(value, str) or not _HEX.fullmatch(value):
                self._say(f"colours.{name}", f'it must be written as "#009E73", not {value!r}.')
        return {name: value for name, value in colours.items() if isinstance(value, str) and _HEX.fullmatch(value)}

    # --- pieces -----------------------------------------------------------------------------------------------------------

    def _piece(self, key: str, table: Any) -> Piece:
        place = f"piece {key!r}"
        if not isinstance(table, dict):
            self._say(place, f"it must be a table with attributes, not {table!r}.")
            return Piece(key, {})
        self._unknown(table, _PIECE, place)
        attributes = self._attributes(table.get("attributes"), place)
        form = self._choice(table, "form", Form, place)
        return Piece(
            key,
            attributes,
            self._mm(table.get("mm"), place),
            form or FORM_OF_SHAPE.get(attributes.get("shape", ""), Form.BOX),
            self._unit(table.get("unit"), place),
            self._flag(table, "tool", place),
        )

    def _attributes(self, value: Any, place: str) -> dict[str, str]:
        if isinstance(value, dict) and value and all(isinstance(said, str) and said.strip() for said in value.values()):
            return {attribute: " ".join(said.split()) for attribute, said in value.items()}
        self._say(place, 'attributes are missing. Write attributes = { colour = "red", shape = "block" }.')
        return {}

    def _mm(self, value: Any, place: str) -> tuple[float, float, float] | None:
        if value is None:
            return None
        if isinstance(value, list) and len(value) == 3 and all(_is_length(side) for side in value):
            return (float(value[0]), float(value[1]), float(value[2]))
        self._say(place, f"mm must be three lengths over 0 in millimetres, [80, 40, 20], not {value!r}.")
        return None

    def _unit(self, value: Any, place: str) -> tuple[str, str] | None:
        if value is None:
            return None
        if isinstance(value, str) and value.strip():
            return value, f"{value}s"
        if isinstance(value, list) and len(value) == 2 and all(isinstance(said, str) and said.strip() for said in value):
            return value[0], value[1]
        self._say(place, f'unit must be a word, "spoon", or one word and its plural, ["pinch", "pinches"], not {value!r}.')
        return None

    def _flag(self, table: Mapping[str, Any], key: str, place: str) -> bool:
        value = table.get(key, False)
        if not isinstance(value, bool):
            self._say(place, f"{key} must be true or false, not {value!r}.")
        return value is True

    # --- steps ------------------------------------------------------------------------------------------------------------

    def _step(self, number: int, table: Any, pieces: Mapping[str, Piece], grid_mm: float | None) -> Step:
        place = f"step {number}"
        if not isinstance(table, dict):
            self._say(place, f"it must be a table under [[step]], not {table!r}.")
            return Step(number, "", ())
        self._unknown(table, _STEP, place)
        put = list(self._put(table, place, pieces, grid_mm))
        places = tuple(where for _, where, _ in put if where)
        amounts = tuple(amount for _, _, amount in put)
        return Step(
            number,
            self._text(table, "component", place, longest=LONGEST_TITLE),
            tuple(piece for piece, _, _ in put),
            self._text(table, "where", place, needed=False),
            self._text(table, "hint", place, needed=False),
            places,
            amounts if any(amounts) else (),
            tuple(self._named(table, "use", pieces, place)),
            self._choice(table, "adult", Care, place),
            self._photo(table, place),
        )

    def _put(
        self, table: Mapping[str, Any], place: str, pieces: Mapping[str, Piece], grid_mm: float | None
    ) -> Iterator[tuple[Piece, Place | None, float | None]]:
        """Each piece that a step puts, with its place on the grid and its amount, where it has them."""
        value = table.get("put", [])
        if not isinstance(value, list) or not (value or table.get("use")):
            self._say(place, 'it puts no piece. Write put = [{ piece = "..." }].')
            return
        for item in value:
            if not isinstance(item, dict) or not isinstance(item.get("piece"), str):
                self._say(place, f'each piece is written {{ piece = "..." }}, not {item!r}.')
                continue
            self._unknown(item, _PUT, place)
            where = self._place(item, place, grid_mm)
            amount = self._length(item, "amount", place) or (1.0 if "amount" in item else None)
            for _ in range(self._count(item, place, grid_mm)):
                yield from ((piece, where, amount) for piece in self._known(item["piece"], pieces, place))

    def _place(self, item: Mapping[str, Any], place: str, grid_mm: float | None) -> Place | None:
        named = f"{place}, piece {item['piece']!r}"
        if grid_mm is None:
            for key in ("at", "lies", "turn"):
                if key in item and "grid" not in self.raw:
                    self._say(named, f"{key} needs a grid. Write grid = 20 (millimetres) at the top, or take {key} out.")
            return None
        at = item.get("at")
        lies = self._choice(item, "lies", Lies, named) or Lies.FLAT
        turn = self._whole(item, "turn", 0, TURNS, "0, 90, 180 or 270 degrees", named)
        if isinstance(at, list) and len(at) == 3 and all(_is_whole(cell) and abs(cell) <= FURTHEST for cell in at):
            return Place((at[0], at[1], at[2]), lies, turn)
        said = "is missing" if at is None else f"says {at!r}"
        self._say(named, f"at {said}. Write at = [0, 0, 0]: cells to the right, to the back, and up, at most {FURTHEST}.")
        return None

    def _count(self, item: Mapping[str, Any], place: str, grid_mm: float | None) -> int:
        named = f"{place}, piece {item['piece']!r}"
        count = self._whole(item, "count", 1, range(1, MOST_AT_ONCE + 1), f"a number from 1 to {MOST_AT_ONCE}", named)
        if grid_mm is not None and count > 1:
            self._say(named, "on a grid each piece has its own place. Write it once for each, with its own at.")
            return 1
        return count

    def _named(self, table: Mapping[str, Any], key: str, pieces: Mapping[str, Piece], place: str) -> Iterator[Piece]:
        """The pieces that a list of keys names."""
        value = table.get(key, [])
        if not isinstance(value, list) or not all(isinstance(item, str) for item in value):
            self._say(place, f'{key} must be a list of pieces, ["red", "blue"], not {value!r}.')
            return
        for item in value:
            yield from self._known(item, pieces, place)

    def _known(self, key: str, pieces: Mapping[str, Piece], place: str) -> Iterator[Piece]:
        if key in pieces:
            yield pieces[key]
        else:
            self._say(place, f"there is no piece {key!r}. The plan has {', '.join(sorted(pieces)) or 'none'}.")

    def _photo(self, table: Mapping[str, Any], place: str) -> str:
        photo = self._text(table, "photo", place, needed=False, longest=LONGEST_PHOTO)
        if photo and (photo.startswith(("/", "\\", "~")) or ".." in photo or ":" in photo):
            self._say(place, f'photo {photo!r} must lie beside the plan or in a folder there: photo = "photos/step-1.jpg".')
        return photo


def _is_length(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool) and isfinite(value) and value > 0


def _is_whole(value: Any) -> bool:
    return isinstance(value, int) and not isinstance(value, bool)


def _either(choices: type[StrEnum]) -> str:
    names = [f'"{choice}"' for choice in choices]
    return f"{', '.join(names[:-1])} or {names[-1]}"
