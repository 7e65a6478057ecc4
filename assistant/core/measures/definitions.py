"""The definitions of every number, read from ``shared/measures.toml``.

What lives here: the definitions as frozen values, and the page of the docs that they make. What must not: any number.
"""

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, fields
from typing import Any

from assistant.errors import SharedError


@dataclass(frozen=True, slots=True)
class Measure:
    """One number: what it is called, what it means, where it comes from, and what it cannot say."""

    key: str
    section: str
    name: str
    parent: str
    definition: str
    formula: str
    unit: str
    source: str
    rests_on: str
    cannot_say: str
    say: str
    nothing: str = ""
    unknown: str = ""
    shortest: int = 0
    why: str = ""


@dataclass(frozen=True, slots=True)
class Counting:
    """Which words count: hesitations do not, and a small word said again at once counts once."""

    hesitations: frozenset[str] = frozenset()
    small: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True)
class Measures:
    """All definitions by key, the sections they stand in, and the words: which count, and which make sentences."""

    by_key: Mapping[str, Measure]
    sections: Mapping[str, str]
    words: Mapping[str, str]
    counting: Counting
    short: Mapping[str, Any]

    def __getitem__(self, key: str) -> Measure:
        return self.by_key[key]


_TEXTS = {field.name for field in fields(Measure)} - {"key", "shortest"}
_NEEDED = _TEXTS - {"nothing", "unknown", "why"}


def read_measures(text: str, source: str = "shared/measures.toml") -> Measures:
    """The definitions that a TOML text holds.

    Raises:
        SharedError: something is missing or is not what it must be.
    """
    try:
        raw = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise SharedError(f"{source}: this is not TOML ({error}). Mend the line it names.") from error
    keys = ("sections", "words", "counting", "measure", "short")
    sections, words, counting, table, short = (_table(raw, key, source) for key in keys)
    by_key = {key: _measure(key, entry, sections, source) for key, entry in table.items()}
    lists = {field.name: frozenset(counting.get(field.name, ())) for field in fields(Counting)}
    return Measures(by_key, sections, words, Counting(**lists), short)


def _table(raw: Mapping[str, Any], key: str, source: str) -> dict[str, Any]:
    value = raw.get(key)
    if not isinstance(value, dict):
        raise SharedError(f"{source}: the table [{key}] is missing. Fetch the file again.")
    return value


def _measure(key: str, entry: Any, sections: Mapping[str, str], source: str) -> Measure:
    place = f"{source}, measure.{key}"
    if not isinstance(entry, dict) or entry.keys() - _TEXTS - {"shortest"}:
        raise SharedError(f"{place}: it knows {', '.join(sorted(_TEXTS))} and shortest. Take out what is not among them.")
    for name in sorted(_NEEDED):
        if not isinstance(entry.get(name), str):
            raise SharedError(f'{place}: {name} is missing. Write {name} = "...".')
    if entry["section"] not in sections:
        raise SharedError(f"{place}: there is no section {entry['section']!r}. It is one of {', '.join(sections)}.")
    return Measure(key=key, **entry)


# --- the page of the docs -----------------------------------------------------------------------------------------------

_HEAD = """\
# The numbers

Every number that Tray Turns shows, with its definition, its source, what it rests on and what it cannot say.
None of them is compared with a norm, and none says anything about what a child is worth.

This page is made from `shared/measures.toml` by `python docs/write_measures.py`. Change that file, not this one.
"""

_ROWS = {
    "definition": "Definition",
    "formula": "Formula",
    "unit": "Unit",
    "source": "Source",
    "rests_on": "Rests on",
    "cannot_say": "Cannot say",
}


def as_markdown(measures: Measures) -> str:
    """The definitions as a page of the docs."""
    parts = [_HEAD]
    for section, title in measures.sections.items():
        parts.append(f"## {title}\n")
        parts += [_entry(measure) for measure in measures.by_key.values() if measure.section == section]
    return "\n".join(parts)


def _entry(measure: Measure) -> str:
    rows = [f"- **{title}**: {getattr(measure, name)}" for name, title in _ROWS.items()]
    if measure.shortest:
        rows.append(f"- **Shortest sample**: {measure.shortest}; {measure.why}")
    return "\n".join([f"### {measure.name}\n", f"{measure.parent}\n", *rows, ""])
