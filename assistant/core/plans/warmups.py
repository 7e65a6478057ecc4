"""Warm-ups: short spoken activities for skills that come before building together.

What lives here: their texts, and the cues of a run in their order. What must not: a voice, keys.
"""

import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields
from itertools import cycle, islice

from assistant.errors import SharedError


@dataclass(frozen=True, slots=True)
class Warmup:
    """One activity. ``steps`` are for the adult; the cues are said aloud; ``seen`` names what may be tallied."""

    title: str
    skill: str
    needs: str
    steps: tuple[str, ...]
    begin: str
    turn: str
    end: str
    seen: str
    turns: int

    def cues(self, names: Sequence[str]) -> list[str]:
        """What is said, from the first cue to the last; the children take turns in the order of their names."""
        turns = [self.turn.format(seat=name) for name in islice(cycle(names), self.turns)]
        return [self.begin, *turns, self.end]


def read_warmups(text: str) -> dict[str, Warmup]:
    """The warm-ups by key, from the TOML text of ``shared/warmups``.

    Raises:
        SharedError: it is not TOML, or one lacks something.
    """
    try:
        tables = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise SharedError(f"shared/warmups: this is not TOML ({error}). Mend the line it names.") from error
    return {key: _warmup(key, table) for key, table in tables.items()}


def _warmup(key: str, table: Mapping[str, object]) -> Warmup:
    kinds = {field.name: {"steps": list, "turns": int}.get(field.name, str) for field in fields(Warmup)}
    for name, kind in kinds.items():
        if not isinstance(table.get(name), kind):
            raise SharedError(f"shared/warmups: [{key}] lacks {name}, or it is not written as in the others. Write it.")
    values: dict[str, object] = {name: table[name] for name in kinds}
    return Warmup(**values | {"steps": tuple(map(str, values["steps"]))})  # type: ignore[arg-type, call-overload]
