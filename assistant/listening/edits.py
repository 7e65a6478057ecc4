"""How far two sequences are apart: what it costs to turn the one into the other."""

from collections.abc import Callable, Sequence
from typing import TypeVar

Item = TypeVar("Item")


def _differ(one: object, other: object) -> float:
    return float(one != other)


def _one(item: object) -> float:
    return 1.0


def edits(
    one: Sequence[Item],
    other: Sequence[Item],
    exchange: Callable[[Item, Item], float] = _differ,
    missing: Callable[[Item], float] = _one,
) -> float:
    """The cheapest way to exchange, lose and add items (Levenshtein's distance, 1966).

    Args:
        one: from this
        other: to this; it is the same the other way round, where ``exchange`` is.
        exchange: what it costs to have one item for another.
        missing: what it costs to lose or to add an item.
    """
    row = [0.0]
    for item in other:
        row.append(row[-1] + missing(item))
    for item in one:
        before, row = row, [row[0] + missing(item)]
        for at, against in enumerate(other):
            row.append(min(row[-1] + missing(against), before[at + 1] + missing(item), before[at] + exchange(item, against)))
    return row[-1]
