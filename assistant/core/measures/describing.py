"""The shortest words that tell one thing from others.

What lives here: the incremental algorithm of Dale & Reiter 1995 (Cognitive Science 19:233-263), and bits. What must not: what
somebody really said.
"""

from collections.abc import Mapping, Sequence
from math import log2

Thing = Mapping[str, str]
"""Attribute to value, at the level that people use for it ("dog", not "chihuahua")."""


def shortest(
    target: Thing, others: Sequence[Thing], preference: Sequence[str], noun: str | None = None
) -> tuple[str, ...] | None:
    """The attributes to name so that nothing but the target fits, in the order in which they were chosen.

    Attributes are tried in the order of preference; one is taken when it rules out something that is still in the running. It
    is never given back, so that the result may hold one more than the fewest possible: people do the same.

    Args:
        target: the thing to name.
        others: what else is there; things that are the same in every way are not told apart and should be left out.
        preference: attributes, the one that people name first first.
        noun: the attribute that is always said, because a phrase needs it ("block"); it is added if nothing chose it.

    Returns:
        The attributes, or None when no words tell the target from all others.
    """
    chosen, left = [], list(others)
    for attribute in preference:
        remaining = [other for other in left if other.get(attribute) == target.get(attribute)]
        if attribute in target and len(remaining) < len(left):
            chosen.append(attribute)
            left = remaining
    if left:
        return None
    return (*chosen, noun) if noun in target and noun not in chosen and noun is not None else tuple(chosen)


def bits(before: int, after: int) -> float | None:
    """How much was told by what was said: log2 of how many fitted before over how many fit after (Shannon 1948).

    None when nothing fits: then nothing was found out about what is there.
    """
    return log2(before / after) if after else None
