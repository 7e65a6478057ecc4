"""How much a plan asks for, with the reasons.

What lives here: what can be counted in a plan, and a grade that follows from it. What must not: a child. The bounds between
little, more and much are ours: they were set so that the library spreads over the grades, and no norm lies behind them.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from enum import IntEnum, StrEnum
from math import log2

from assistant.core.measures.describing import shortest
from assistant.core.measures.table import Table
from assistant.core.plans.model import Plan, Step
from assistant.core.wording import counted
from assistant.core.words.lexicon import Label, Lexicon

PLACE_LABELS = frozenset({Label.PLACE, Label.PLACE_OF_TWO, Label.SPOT, Label.ORIENTATION})


class Demand(StrEnum):
    """What a plan can ask more or less of."""

    LENGTH = "length"
    CHOICE = "choice"  # words that it takes to name a piece among those on the tray
    WHERE = "where"  # different words for places, and ways to turn a piece
    HANDS = "hands"
    AT_ONCE = "at_once"  # several pieces in one step


class Level(IntEnum):
    """How much it asks."""

    LITTLE = 0
    MORE = 1
    MUCH = 2


class Grade(StrEnum):
    """The whole plan, in words that ``shared/grades`` spells out."""

    FIRST = "first"
    SECOND = "second"
    FURTHER = "further"
    PRACTISED = "practised"


@dataclass(frozen=True, slots=True)
class Difficulty:
    """What was counted.

    ``bits`` is the mean of log2(pieces on the tray / pieces that will do), over all pieces in the order of the steps; ``words``
    the mean number of attributes that the incremental algorithm needs to tell them apart. ``places`` counts the different words
    for places and for ways to turn a piece, ``several`` the steps that put more than one piece. ``narrowest_mm`` is what
    fingers close around: the middle one of the three sides of the smallest piece, None where no size is known.
    """

    steps: int
    pieces: int
    kinds: int
    bits: float
    words: float
    places: int
    several: int
    narrowest_mm: float | None

    @property
    def levels(self) -> dict[Demand, Level]:
        """How much it asks of each thing; hands are left out where no size is known."""
        levels = {
            Demand.LENGTH: _level(self.steps, 6, 10),
            Demand.CHOICE: _level(self.words, 1.0, 1.6),
            Demand.WHERE: _level(self.places, 10, 15),
            Demand.AT_ONCE: _level(self.several / self.steps, 0.15, 0.5),
        }
        if self.narrowest_mm is not None:
            levels[Demand.HANDS] = _level(-self.narrowest_mm, -30, -20)
        return levels

    @property
    def grade(self) -> Grade:
        """The grade that follows: by how much is much, and how much is more than little."""
        levels = list(self.levels.values())
        much, more = levels.count(Level.MUCH), levels.count(Level.MORE)
        if much >= 2 or (much and more >= 2):
            return Grade.PRACTISED
        if much or more >= 3:
            return Grade.FURTHER
        return Grade.SECOND if more else Grade.FIRST

    def reasons(self, texts: Mapping[str, Mapping[str, str]]) -> list[str]:
        """A sentence for each thing it asks for.

        Args:
            texts: the table ``reason`` of ``shared/grades``.
        """
        filled = {
            "steps": self.steps,
            "pieces": self.pieces,
            "words": f"{self.words:.1f}",
            "bits": f"{self.bits:.1f}",
            "places": self.places,
            "several": self.several,
            "narrowest": f"{self.narrowest_mm or 0:g}",
        }
        return [texts[demand][level.name.lower()].format(**counted(filled)) for demand, level in self.levels.items()]


def difficulty_of(plan: Plan, lexicon: Lexicon) -> Difficulty:
    """What a plan asks for.

    Args:
        lexicon: with the plan's words in it.
    """
    told = [pair for step in plan.steps for pair in _told(plan, lexicon, step)]
    sizes = [sorted(piece.mm)[1] for piece in plan.pieces.values() if piece.mm and not piece.tool]
    return Difficulty(
        steps=len(plan.steps),
        pieces=sum(plan.tray().values()),
        kinds=len(plan.pieces),
        bits=sum(bits for bits, _ in told) / len(told),
        words=sum(words for _, words in told) / len(told),
        places=len({word for step in plan.steps for word in _place_words(step, lexicon)}),
        several=sum(len(step.put) > 1 for step in plan.steps),
        narrowest_mm=min(sizes, default=None),
    )


def _told(plan: Plan, lexicon: Lexicon, step: Step) -> list[tuple[float, int]]:
    """For each piece of a step: the bits it takes to name it, and the attributes that the incremental algorithm needs."""
    table = Table.at(plan, lexicon, step.number)
    assert table is not None
    left = {key: count for key, count in table.tray.counts.items() if count}
    others = {piece.key: [plan.pieces[key].attributes for key in left if key != piece.key] for piece in step.put}
    return [
        (log2(table.tray.count / left[piece.key]), len(shortest(piece.attributes, others[piece.key], plan.preference) or ()))
        for piece in step.put
    ]


def _place_words(step: Step, lexicon: Lexicon) -> set[str]:
    words = tuple(step.where.lower().replace(",", "").split())
    return {" ".join(token.words) for token in lexicon.scan(words, PLACE_LABELS) if token.labels & PLACE_LABELS}


def _level(value: float, little: float, more: float) -> Level:
    return Level.LITTLE if value <= little else Level.MORE if value <= more else Level.MUCH
