"""The table at one step: what still lies on the tray, and what is built.

What lives here: what the plan tells about a request made at that step. What must not: when the step was.
"""

from collections import Counter
from dataclasses import dataclass, replace

from assistant.core.measures.describing import shortest
from assistant.core.plans.model import Piece, Plan
from assistant.core.words.lexicon import Label, Lexicon
from assistant.core.words.tray import Tray
from assistant.events import Request


@dataclass(frozen=True, slots=True)
class Table:
    """What lies on the tray and what is built while a step is being built."""

    plan: Plan
    lexicon: Lexicon | None
    tray: Tray
    built: Tray
    wanted: tuple[Piece, ...]

    @classmethod
    def at(cls, plan: Plan | None, lexicon: Lexicon | None, step: int | None) -> "Table | None":
        """The table at a step, None where it cannot be known."""
        if plan is None or step is None or not 1 <= step <= len(plan.steps):
            return None
        whole = Tray.of(plan, lexicon)
        used = [piece for done in plan.steps[: step - 1] for piece in done.put]
        built = replace(whole, counts=Counter(piece.key for piece in used))
        return cls(plan, lexicon, whole.without(used), built, plan.steps[step - 1].put)

    def piece_meant(self, request: Request) -> Piece | None:
        """The one kind that fits, or what the step needs if that is among those that fit."""
        keys = self.tray.fitting(request.attributes).keys
        wanted = [piece.key for piece in self.wanted if piece.key in keys]
        meant = keys if len(keys) == 1 else wanted
        return self.plan.pieces[meant[0]] if meant else None

    def shortest(self, piece: Piece) -> tuple[str, ...] | None:
        """The attributes that the incremental algorithm would name."""
        others = [kind.attributes for key, kind in self.plan.pieces.items() if self.tray.counts.get(key) and key != piece.key]
        return shortest(piece.attributes, others, self.plan.preference, _noun(piece))

    def names_more(self, request: Request) -> bool:
        """Whether one kind would fit with a word less. The noun is no spare word: a phrase needs one."""
        piece = self.piece_meant(request)
        spare = [pair for pair in request.attributes if piece and pair[0] != _noun(piece)]
        return any(self.tray.fitting(set(request.attributes) - {pair}).kinds == 1 for pair in spare)

    def landmarks(self, request: Request) -> int | None:
        """How many kinds among what is built fit the landmark ("next to the blue one"); None where none was named."""
        if self.lexicon is None:
            return None
        pairs = [token.pair for token in self.lexicon.scan(request.where, {Label.ATTRIBUTE}) if token.pair]
        return self.built.fitting(pairs).kinds if pairs else None


def _noun(piece: Piece) -> str | None:
    """The attribute that is said last: attributes stand in the order in which a person would say them."""
    return next(reversed(tuple(piece.attributes)), None)
