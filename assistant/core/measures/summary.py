"""All numbers of a session as one value, folded from its events.

What lives here: the value, and its components as plain data. What must not: sentences (see ``sentences``), or definitions (see
``measures``).
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, fields, is_dataclass
from enum import Enum
from typing import Any

from assistant.core.measures.adult import Adult, adult_of
from assistant.core.measures.asking import requests_of
from assistant.core.measures.definitions import Measures
from assistant.core.measures.finding import Finding, finding_of
from assistant.core.measures.record import Record, read_record
from assistant.core.measures.repairs import Repairs, repairs_of
from assistant.core.measures.talk import Talk, talk_of
from assistant.core.measures.turns import floor_of
from assistant.core.measures.vocabulary import Known, Vocabulary, vocabulary_of
from assistant.core.measures.waits import Waits, waits_of
from assistant.core.plans.model import Plan
from assistant.core.words.lexicon import Lexicon
from assistant.events import Event
from assistant.samples import SAMPLE_RATE
from assistant.terms import Seat


@dataclass(frozen=True, slots=True)
class Tally:
    """How often the adult saw something of a seat."""

    seat: Seat
    what: str
    times: int


@dataclass(frozen=True, slots=True)
class Building:
    """What was built, and how the roles went round."""

    plan: str
    steps_done: int
    steps_in_plan: int
    swaps: int
    passes: int
    corrections: int
    tallies: tuple[Tally, ...]


@dataclass(frozen=True, slots=True)
class Summary:
    """The numbers of one session. Nothing in it names a person or repeats a word."""

    children: tuple[Seat, ...]
    building: Building
    talk: Talk
    finding: Finding
    vocabulary: Vocabulary | None
    repairs: Repairs
    waits: Waits
    adult: Adult


def summarise(
    events: Iterable[Event],
    measures: Measures | None = None,
    plan: Plan | None = None,
    lexicon: Lexicon | None = None,
    known: Known | None = None,
) -> Summary:
    """The numbers of a session, over or still going on.

    Args:
        events: in the order in which they happened.
        measures: the definitions; without them there is no vocabulary, because they say which words count.
        plan: without it nothing is said about words that were not needed.
        lexicon: with the plan's words in it; without it nothing is said about landmarks and about answering for a child.
        known: each child's words of earlier sessions; without them nothing is said about new words.
    """
    record = read_record(events)
    floor, requests = floor_of(record), requests_of(record)
    talk = talk_of(record, floor)
    repairs = repairs_of(record, requests, talk.time.heard_samples, lexicon)
    return Summary(
        children=record.children,
        building=_building(record),
        talk=talk,
        finding=finding_of(requests, plan, lexicon),
        vocabulary=vocabulary_of(record, floor.units, measures, known) if measures else None,
        repairs=repairs,
        waits=waits_of(record, floor, requests),
        adult=adult_of(record, talk, repairs, lexicon),
    )


def _building(record: Record) -> Building:
    seen = [(tally.seat, tally.what) for tally in record.tallies]
    return Building(
        plan=record.plan,
        steps_done=len(record.steps),
        steps_in_plan=record.steps_in_plan,
        swaps=record.swaps,
        passes=record.passes,
        corrections=record.corrections,
        tallies=tuple(Tally(*one, seen.count(one)) for one in dict.fromkeys(seen)),
    )


def as_json(value: Any) -> Any:
    """A summary, or any part of one, as dicts, lists, numbers and texts, with every component and what is derived from them.

    Samples become seconds, and ``..._samples`` is renamed ``..._s``.
    """
    if is_dataclass(value) and not isinstance(value, type):
        names = (*(field.name for field in fields(value)), *getattr(value, "derived", ()))
        return {name.replace("_samples", "_s"): _part(name, getattr(value, name)) for name in names}
    if isinstance(value, Mapping):
        return {as_json(key): as_json(item) for key, item in value.items()}
    if isinstance(value, list | tuple | frozenset):
        return [as_json(item) for item in value]
    return value.value if isinstance(value, Enum) else value


def _part(name: str, value: Any) -> Any:
    return _in_seconds(value) if name.endswith("_samples") else as_json(value)


def _in_seconds(value: Any) -> Any:
    if isinstance(value, tuple):
        return [_in_seconds(item) for item in value]
    return None if value is None else value / SAMPLE_RATE
