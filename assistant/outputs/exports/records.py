"""Events as plain records, one JSON object a line, and back again.

What lives here: what each level of consent leaves of an event, and reading it back. What must not: a path.

Below the level of words, words become their count, attributes their kinds, and free text (a cue, a tally, the title of a plan)
is left out unless it is one of our own sentences: free text can hold a name.
"""

import json
from collections.abc import Iterable, Iterator, Mapping, Set
from dataclasses import asdict, fields, is_dataclass
from enum import Enum
from math import isfinite
from types import NoneType
from typing import Any, NoReturn, get_args, get_origin, get_type_hints

from assistant import events as spine
from assistant.core.club.consent import Consent
from assistant.errors import SourceError
from assistant.events import Event, Lost, Request, Tick, Word
from assistant.samples import to_samples
from assistant.terms import Loss

KINDS: dict[str, type[Event]] = {
    name: value
    for name, value in vars(spine).items()
    if isinstance(value, type) and issubclass(value, Event) and value not in (Event, Tick)
}
"""Every event that is kept, by its name."""

FREE_TEXT = ("text", "what", "plan", "why")
HINTS: dict[Any, dict[str, Any]] = {
    kind: {field.name: get_type_hints(kind)[field.name] for field in fields(kind)} for kind in (*KINDS.values(), Request, Word)
}
"""The type of every field, looked up once."""

MOST = 1000
"""No utterance has so many words; a count above it is not one of ours."""

MOST_SAMPLES = to_samples(7 * 24 * 3600)
"""No recording is a week long, and what is drawn minute by minute must end."""

MOST_COUNTED = 1_000_000
"""More units than anybody says in a week, one a second."""


def as_record(event: Event, consent: Consent, ours: Set[str] = frozenset()) -> dict[str, Any]:
    """An event as plain values, as far as consent reaches.

    Args:
        ours: free text that may stay below the level of words, because it is our own: titles of our plans.
    """
    record = {"event": type(event).__name__} | asdict(event)
    if consent < Consent.WORDS:
        _forget_words(record, ours)
    return record


def _forget_words(record: dict[str, Any], ours: Set[str]) -> None:
    if "words" in record:
        record["words"] = len(record["words"])
    for name in FREE_TEXT:
        if name in record and not (isinstance(record[name], Enum) or record[name] in ours):
            record[name] = ""
    if request := record.get("request"):
        request["attributes"] = [kind for kind, _ in request["attributes"]]
        request["where"] = len(request["where"])


def at_level(events: Iterable[Event], consent: Consent, ours: Set[str] = frozenset()) -> list[Event]:
    """The same events with everything taken away that the consent does not reach."""
    if consent >= Consent.WORDS:
        return list(events)
    return [from_record(as_record(event, consent, ours)) for event in events]


def json_line(event: Event, consent: Consent, ours: Set[str] = frozenset()) -> str:
    """One event as one line."""
    return json.dumps(as_record(event, consent, ours), ensure_ascii=False) + "\n"


def json_lines(events: Iterable[Event], consent: Consent, ours: Set[str] = frozenset()) -> str:
    """A session as JSON Lines."""
    return "".join(json_line(event, consent, ours) for event in events)


def read_json_lines(lines: Iterable[str], name: str) -> Iterator[Event]:
    """The events of a file, as far as they were kept: words that were not are no words, text that was not is empty.

    Args:
        name: what to call the file when something in it is wrong.

    Raises:
        SourceError: a line holds no event, or one before the last; with its number.
    """
    reached = 0
    for number, line in enumerate(lines, start=1):
        if not line.strip():
            continue
        try:
            event = from_record(json.loads(line, parse_constant=_no_number))
        except (ValueError, RecursionError) as error:
            place = f"{name}, line {number},"
            raise SourceError(f"{place} does not hold an event ({error}). Was the file made with --events?") from error
        if event.sample < reached:
            raise SourceError(f"{name}, line {number}, goes back in time. Is it two files in one, or out of order?")
        reached = event.sample
        yield event


def without_a_broken_end(content: bytes) -> tuple[str, bool]:
    """The whole lines of a file of events, and whether it breaks off in its last one, as a kill or a full disk leaves it.

    Raises:
        UnicodeDecodeError: it is no text.
    """
    whole, newline, end = content.rpartition(b"\n")
    try:
        if whole.strip() and end.strip():
            json.loads(end)
    except ValueError:  # half a letter included
        return (whole + newline).decode("utf-8-sig"), True
    return content.decode("utf-8-sig"), False


def from_record(record: Mapping[str, Any]) -> Event:
    """The event of a record.

    Raises:
        ValueError: it holds none, and why.
    """
    if not isinstance(record, Mapping):
        raise ValueError("it is not an object")
    kind = KINDS.get(str(record.get("event")))
    if kind is None:
        raise ValueError(f"there is no event {record.get('event')!r}")
    values = {name: value for name, value in record.items() if name != "event"}
    if kind is Lost and values.get("why") == "":  # kept when this was still free text
        values["why"] = Loss.UNKNOWN
    event: Event = _build(kind, _remembered(values))
    if getattr(event, "start_sample", 0) > getattr(event, "end_sample", MOST_SAMPLES):
        raise ValueError("it ends before it starts")
    return event


def _remembered(values: dict[str, Any]) -> dict[str, Any]:
    """The record in the shape of its event again; what was forgotten is empty."""
    if isinstance(values.get("words"), int):
        values["words"] = []
    request = values.get("request")
    if isinstance(request, Mapping):
        attributes, where = request.get("attributes"), request.get("where")
        values["request"] = dict(request)
        if isinstance(attributes, list) and all(isinstance(kind, str) for kind in attributes):
            values["request"]["attributes"] = [[kind, ""] for kind in attributes]
        if type(where) is int and 0 <= where <= MOST:
            values["request"]["where"] = [""] * where
    return values


def _build(kind: type[Any], values: Any) -> Any:
    if not isinstance(values, Mapping):
        raise ValueError(f"{kind.__name__} is not an object")
    hints = HINTS[kind]
    if hints.keys() != values.keys():
        raise ValueError(f"{kind.__name__} has {', '.join(sorted(hints.keys() ^ values.keys()))} too much or too little")
    return kind(**{name: _value(hint, values[name], name) for name, hint in hints.items()})


def _value(hint: Any, value: Any, name: str) -> Any:
    if type(value) is hint:
        return _finite(value, name) if hint is float else _counted(value, name) if hint is int else value
    parts = get_args(hint)
    if NoneType in parts:
        return None if value is None else _value(next(part for part in parts if part is not NoneType), value, name)
    if get_origin(hint) is tuple:
        return _tuple(parts, value, name)
    if is_dataclass(hint):
        return _build(hint, value)  # type: ignore[arg-type]
    if issubclass(hint, Enum):
        return hint(value)
    if hint is float and type(value) is int:
        return _finite(value, name)
    raise ValueError(f"{name} cannot be {value!r}")


def _counted(value: int, name: str) -> int:
    if not 0 <= value <= (MOST_SAMPLES if "sample" in name else MOST_COUNTED):
        raise ValueError(f"{name} cannot be {value!r:.30}")
    return value


def _finite(value: float, name: str) -> float:
    try:
        if isfinite(value):
            return float(value)
    except OverflowError:
        pass
    raise ValueError(f"{name} cannot be {value!r:.30}")


def _tuple(parts: tuple[Any, ...], value: Any, name: str) -> tuple[Any, ...]:
    if not isinstance(value, list | tuple):
        raise ValueError(f"{name} is not a list")
    if len(parts) == 2 and parts[1] is Ellipsis:
        return tuple(_value(parts[0], one, name) for one in value)
    if len(parts) != len(value):
        raise ValueError(f"{name} has not {len(parts)} parts")
    return tuple(_value(part, one, name) for part, one in zip(parts, value, strict=True))


def _no_number(text: str) -> NoReturn:
    raise ValueError(f"{text} is no number")
