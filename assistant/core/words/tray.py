"""The tray: which pieces still lie on it, and which of them fit what was said.

What lives here: counting and fitting. What must not: how the words were understood; attributes come in as kind and value.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace

from assistant.core.plans.plan import Piece, Plan
from assistant.core.words.lexicon import Lexicon, Pair
from assistant.errors import OutOfTurnError


@dataclass(frozen=True, slots=True)
class Fitting:
    """The pieces that fit: how many, and the keys of their kinds in the order of the plan."""

    pieces: int
    keys: tuple[str, ...]

    @property
    def kinds(self) -> int:
        """How many kinds of piece they are; either of two that are the same in every way will do."""
        return len(self.keys)


@dataclass(frozen=True, slots=True)
class Tray:
    """The pieces that lie on the tray, by key. A tray is never changed: taking a piece gives another tray."""

    kinds: Mapping[str, Piece]
    counts: Mapping[str, int]
    stands_for: Mapping[str, tuple[str, ...]] = field(default_factory=dict)

    @classmethod
    def of(cls, plan: Plan, lexicon: Lexicon | None = None) -> "Tray":
        """All the pieces of a plan. With a lexicon, a word may stand for its neighbours ("little" for short)."""
        return cls(plan.pieces, plan.tray(), lexicon.stands_for if lexicon else {})

    @property
    def count(self) -> int:
        """How many pieces there are."""
        return sum(self.counts.values())

    def without(self, pieces: Iterable[Piece]) -> "Tray":
        """The tray once these are built in.

        Raises:
            OutOfTurnError: one of them does not lie on the tray; the tray is as it was.
        """
        counts = {**self.counts}
        for piece in pieces:
            if not counts.get(piece.key):
                raise OutOfTurnError(f"No {piece.name} lies on the tray any more. Take the last step back.")
            counts[piece.key] -= 1
        return replace(self, counts=counts)

    def fitting(self, attributes: Iterable[Pair]) -> Fitting:
        """The pieces that are all that was said.

        Two values of one kind mean either. A kind that no piece has narrows nothing. Words are taken at their own meaning
        first; only when nothing is exactly that may they stand for their neighbours: "the little red one" means the short
        red block as long as no red piece is small.
        """
        said: dict[str, set[str]] = {}
        for kind, value in attributes:
            said.setdefault(kind, set()).add(value)
        said = {kind: values for kind, values in said.items() if self._tells(kind)}
        fits = self._those(said) or self._those({kind: self._near(values) for kind, values in said.items()})
        return Fitting(sum(self.counts[key] for key in fits), fits)

    def _tells(self, kind: str) -> bool:
        return any(kind in piece.attributes for piece in self.kinds.values())

    def _those(self, said: Mapping[str, set[str]]) -> tuple[str, ...]:
        return tuple(
            key
            for key, piece in self.kinds.items()
            if self.counts.get(key) and all(piece.attributes.get(kind) in values for kind, values in said.items())
        )

    def _near(self, values: set[str]) -> set[str]:
        return values.union(*(self.stands_for.get(value, ()) for value in values))


def merge(earlier: tuple[Pair, ...], new: tuple[Pair, ...]) -> tuple[Pair, ...]:
    """Two contributions to one request as one: a new value of a kind replaces the old, everything else stays."""
    kinds = {kind for kind, _ in new}
    return (*(pair for pair in earlier if pair[0] not in kinds), *new)
