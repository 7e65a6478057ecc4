"""How varied a sequence of words is.

What lives here: indices of lexical diversity, each from a plain sequence of words. What must not: whose words, or whether the
sample is long enough to be shown.
"""

from collections import Counter
from collections.abc import Iterable, Sequence
from math import exp, lgamma

MATTR_WINDOW = 25
"""Words in a window of MATTR. So short because a child's words in one role of one session are few; chosen, not measured.
Values from other windows cannot be compared with it."""

MTLD_FACTOR = 0.72
"""The type-token ratio at which a factor of MTLD is complete (McCarthy & Jarvis 2010)."""

HDD_DRAWS = 42
"""Words in a draw of HD-D (McCarthy & Jarvis 2007)."""


def ttr(words: Sequence[str]) -> float | None:
    """Type-token ratio: different words over words. None of none."""
    return len(set(words)) / len(words) if words else None


def mattr(words: Sequence[str], window: int = MATTR_WINDOW) -> float | None:
    """Moving-average type-token ratio (Covington & McFall 2010, J. Quantitative Linguistics 17:94-100): the mean of the ratio
    over every window of so many words. None when there are fewer words than that.
    """
    if len(words) < window:
        return None
    inside = Counter(words[:window])
    types = len(inside)
    for leaving, entering in zip(words, words[window:], strict=False):
        inside[entering] += 1
        inside[leaving] -= 1
        if not inside[leaving]:
            del inside[leaving]
        types += len(inside)
    return types / window / (len(words) - window + 1)


def mtld(words: Sequence[str]) -> float | None:
    """Measure of textual lexical diversity (McCarthy & Jarvis 2010, Behavior Research Methods 42:381-392): the mean length of
    a stretch of words whose type-token ratio stays above 0.72, forwards and backwards.

    A stretch is complete when its ratio reaches 0.72, however short it is; the rest counts as the part of a stretch that it is.
    None when no word comes twice: no stretch ends, and nothing can be said about its length.
    """
    if len(set(words)) == len(words):
        return None
    return (len(words) / _factors(words) + len(words) / _factors(reversed(words))) / 2


def _factors(words: Iterable[str]) -> float:
    factors, ratio = 0.0, 1.0
    count, types = 0, set[str]()
    for word in words:
        count += 1
        types.add(word)
        ratio = len(types) / count
        if ratio <= MTLD_FACTOR:
            factors, ratio = factors + 1, 1.0
            count, types = 0, set()
    return factors + (1 - ratio) / (1 - MTLD_FACTOR)


def hdd(words: Sequence[str], draws: int = HDD_DRAWS) -> float | None:
    """HD-D (McCarthy & Jarvis 2007, Language Testing 24:459-488): the type-token ratio to be expected of a draw of so many of
    the words, from the hypergeometric distribution. None when there are fewer words than that.
    """
    total = len(words)
    if total < draws:
        return None
    return sum(1 - _missed(total, count, draws) for count in Counter(words).values()) / draws


def _missed(total: int, count: int, draws: int) -> float:
    """The probability that a draw holds none of ``count`` words out of ``total``."""
    if total - count < draws:
        return 0.0
    return exp(_log_choose(total - count, draws) - _log_choose(total, draws))


def _log_choose(total: int, chosen: int) -> float:
    return lgamma(total + 1) - lgamma(chosen + 1) - lgamma(total - chosen + 1)
