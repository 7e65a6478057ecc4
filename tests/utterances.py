"""The utterances in ``samples/utterances.toml``, and whether each is understood.

Used by ``test_meaning.py``, and by ``benchmarks/meaning.py`` to print the figures.
"""

import tomllib
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from assistant.core.plans.plan import read_plan
from assistant.core.words.lexicon import Lexicon, Pair, read_lexicon
from assistant.core.words.meaning import Meaning, understand
from assistant.devices.shelf import plan_text, shared_text
from assistant.terms import Act, Role

HALVES = ("tuning", "held_out")
GROUPS = ("requests", "repairs", "steps", "others", "adult")
ROLES = {"engineer": Role.ENGINEER, "builder": Role.BUILDER, "supplier": Role.SUPPLIER}
TABLE = tomllib.loads((Path(__file__).parent / "samples" / "utterances.toml").read_text(encoding="utf-8"))


@dataclass(frozen=True, slots=True)
class Line:
    """One line of the table; ``kind`` is the kind of repair, prompt or praise, empty where it has none."""

    says: str
    by: str
    is_open: bool
    act: Act
    attributes: tuple[Pair, ...]
    quantity: int
    where: str
    kind: str

    def is_right(self, heard: Meaning) -> bool:
        """Whether an utterance was understood as the line says. What a line does not state is not looked at."""
        kinds = (heard.repair, heard.prompt, heard.praise)
        asked = heard.attributes == self.attributes and heard.quantity == self.quantity
        placed = heard.act is not Act.REQUEST or " ".join(heard.where) == self.where
        return heard.act is self.act and asked and placed and (not self.kind or self.kind in kinds)


def boat() -> Lexicon:
    """The lexicon with the words of the little boat."""
    return read_lexicon(shared_text("lexicon/en.toml"), "en.toml").with_plan(read_plan(*plan_text("little-boat")))


def lines(half: str, group: str) -> list[Line]:
    """The lines of one group in one half."""
    usual_act = {"requests": "request", "repairs": "repair"}
    return [
        Line(
            says=row["says"],
            by=row.get("by", "facilitator" if group == "adult" else "engineer"),
            is_open=row.get("open", group == "repairs"),
            act=Act(row.get("act", usual_act.get(group))),
            attributes=pairs(row.get("means", "")),
            quantity=row.get("quantity", 1),
            where=row.get("where", ""),
            kind=row.get("kind", ""),
        )
        for row in TABLE[half][group]
    ]


def talk(half: str) -> list[str]:
    """Children's talk about anything else."""
    return list(TABLE[half]["talk"])


def pairs(text: str) -> tuple[Pair, ...]:
    """``"colour red, size long"`` as attributes."""
    return tuple((kind, value) for kind, _, value in (pair.partition(" ") for pair in text.split(", ") if pair))


def understood(says: str, by: str, is_open: bool, lexicon: Lexicon) -> Meaning:
    """What it means when somebody in this role says so."""
    role = ROLES.get(by)
    return understand(
        says.split(),
        role=role,
        is_facilitator=by == "facilitator",
        may_ask=role in (Role.ENGINEER, Role.BUILDER),
        request_is_open=is_open,
        lexicon=lexicon,
    )


def every_way(says: str, lexicon: Lexicon) -> Iterator[Meaning]:
    """What it means from every child, with and without an open request."""
    for by in (*ROLES, "unsure"):
        for is_open in (False, True):
            yield understood(says, by, is_open, lexicon)


@dataclass(slots=True)
class Score:
    """How many attribute words were right, missed, and made up."""

    right: int = 0
    missed: int = 0
    made_up: int = 0

    def add(self, truth: tuple[Pair, ...], heard: tuple[Pair, ...]) -> None:
        """Counts one utterance."""
        self.right += len(set(truth) & set(heard))
        self.missed += len(set(truth) - set(heard))
        self.made_up += len(set(heard) - set(truth))

    @property
    def f1(self) -> float:
        """The harmonic mean of precision and recall; 1 when there was nothing to find and nothing was found."""
        total = 2 * self.right + self.missed + self.made_up
        return 2 * self.right / total if total else 1.0
