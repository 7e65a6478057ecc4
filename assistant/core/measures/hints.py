"""Quiet hints for the adult: events in, hints out.

What lives here: when a hint that is due is given. What must not: what is worth one (``hint_rules``), or its words
(``shared/hints``).

At most one a minute, only while the children build and the session is not paused; a kind of hint that was put away stays away
for ten minutes. A hint that finds its minute taken lapses, unless what it is about goes on: then it waits.
"""

import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from heapq import heappop, heappush
from itertools import count

from assistant.core.measures.hint_rules import Due, HintKind, Rule, all_rules, told
from assistant.errors import SharedError
from assistant.events import Event, Heard, Paused, PhaseBegan, Resumed, SessionOpened, Understood
from assistant.samples import to_samples
from assistant.terms import Phase, Seat

APART = to_samples(60.0)
"""Between one hint and the next."""

AWAY = to_samples(600.0)
"""How long a kind of hint that was put away stays away. Chosen, not measured."""


@dataclass(frozen=True, slots=True)
class Hint:
    """One hint: what the adult could do, and what it was seen from."""

    sample: int
    kind: HintKind
    text: str
    seen: str


@dataclass(frozen=True, slots=True)
class HintTexts:
    """The words of the hints, by kind, and the words by which a quarrel is known."""

    text: Mapping[HintKind, str]
    seen: Mapping[HintKind, str]
    quarrel: tuple[str, ...]


def read_hints(text: str, source: str = "shared/hints") -> HintTexts:
    """The words of the hints from a TOML text.

    Raises:
        SharedError: a hint has no words, or it is not TOML.
    """
    try:
        raw = tomllib.loads(text)
        tables = {kind: raw[kind.value] for kind in HintKind}
        return HintTexts(
            {kind: str(table["text"]) for kind, table in tables.items()},
            {kind: str(table["seen"]) for kind, table in tables.items()},
            tuple(raw["words"]["quarrel"]),
        )
    except tomllib.TOMLDecodeError as error:
        raise SharedError(f"{source}: this is not TOML ({error}). Mend the line it names.") from error
    except (KeyError, TypeError) as error:
        raise SharedError(f"{source}: {error} is missing. Each hint has a text and what it was seen from.") from error


class Hinter:
    """Follows a session and gives hints. The same events give the same hints, however often the clock ticks between.

    Args:
        texts: the words.
        names: what to call the seats; a seat without a name is called by its letter.
    """

    def __init__(self, texts: HintTexts, names: Mapping[Seat, str] | None = None) -> None:
        self._texts = texts
        self.names = names or {}
        self._rules: tuple[Rule, ...] = ()
        self._due: list[tuple[int, int, Due]] = []
        self._order = count()
        self._heard: dict[int, Heard] = {}
        self._building = False
        self._paused = False
        self._free_from = 0
        self._away: dict[HintKind, int] = {}

    def receive(self, event: Event) -> tuple[Hint, ...]:
        """The hints that fall due up to this event, and with it."""
        hints = [*self._until(event.sample)]
        for due in self._see(event):
            heappush(self._due, (due.sample, next(self._order), due))
        return (*hints, *self._until(event.sample))

    def dismiss(self, hint: Hint, sample: int) -> None:
        """The adult put a hint away: that kind stays away for ten minutes."""
        self._away[hint.kind] = sample + AWAY

    def _see(self, event: Event) -> Iterator[Due]:
        match event:
            case SessionOpened():
                self._rules = all_rules(event.seats, self._texts.quarrel)
            case PhaseBegan():
                self._building = event.phase is Phase.BUILDING
            case Paused() | Resumed():
                self._paused = isinstance(event, Paused)
            case Heard():
                self._heard[event.unit] = event
            case Understood() if event.unit in self._heard:  # once for each unit: a correction says it again
                heard = replace(self._heard.pop(event.unit), seat=event.seat)
                for rule in self._rules:
                    yield from rule.said(heard, event)
                return
        for rule in self._rules:
            yield from rule.happened(event)

    def _until(self, sample: int) -> Iterator[Hint]:
        while self._due and self._due[0][0] <= sample:
            _, _, due = heappop(self._due)
            if not due.holds():
                continue
            may_from = max(self._free_from, self._away.get(due.kind, 0))
            if due.sample >= may_from and self._building and not self._paused:
                self._free_from = due.sample + APART
                yield self._hint(due)
            elif due.patient and due.sample < may_from:
                heappush(self._due, (may_from, next(self._order), replace(due, sample=may_from)))

    def _hint(self, due: Due) -> Hint:
        facts = told(due.facts, lambda seat: self.names.get(seat, seat.value))
        text, seen = self._texts.text[due.kind], self._texts.seen[due.kind]
        return Hint(due.sample, due.kind, text.format_map(facts), seen.format_map(facts))
