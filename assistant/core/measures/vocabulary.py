"""The words of the children, above all of the one who describes.

What lives here: which words count, and how many and how varied they are. What must not: a norm, or a word itself: a summary
holds numbers only, so that it can be kept where words may not.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from assistant.core.measures.definitions import Counting, Measures
from assistant.core.measures.lexical import hdd, mattr, mtld, ttr
from assistant.core.measures.record import Record
from assistant.core.measures.spans import Span
from assistant.core.measures.turns import Unit
from assistant.terms import Role, Seat

Known = Mapping[Seat, frozenset[str]]
"""The words of each seat in earlier sessions."""

_Firsts = dict[Seat, dict[str, Span]]
"""For each child its words, and the unit in which it first said each."""


@dataclass(frozen=True, slots=True)
class Sample:
    """The words of one seat in one role. An index is None where the sample is shorter than the shortest it is shown for."""

    seat: Seat
    role: Role | None
    describes: bool
    units: int  # with at least one word
    words: int
    ndw: int | None
    ttr: float | None
    mattr: float | None
    mtld: float | None
    hdd: float | None
    mlu: float | None


@dataclass(frozen=True, slots=True)
class Taken:
    """Words of one seat over all its roles: those that are new (None without earlier sessions), and those borrowed."""

    seat: Seat
    words: int
    new: int | None
    borrowed: int


@dataclass(frozen=True, slots=True)
class Vocabulary:
    """The children's words in numbers."""

    samples: tuple[Sample, ...]
    taken: tuple[Taken, ...]


def vocabulary_of(record: Record, units: Sequence[Unit], measures: Measures, known: Known | None = None) -> Vocabulary:
    """The children's words of a whole session.

    Args:
        units: of the whole session, in order.
        measures: the shortest samples, and which words count.
        known: the words of earlier sessions, None when none were kept.
    """
    said: dict[tuple[Seat, Role | None], list[tuple[str, ...]]] = {}
    for unit in units:
        words = tuple(counted(unit.words, measures.counting))
        if words:
            said.setdefault((unit.seat, unit.role), []).append(words)
    children, firsts = len(record.children), _firsts(record.children, units, measures.counting)
    keys = [(seat, role) for seat in record.children for role in (*Role, None) if (seat, role) in said]
    return Vocabulary(
        samples=tuple(_sample(seat, role, said[seat, role], children, measures) for seat, role in keys),
        taken=tuple(_taken(seat, firsts, measures.counting, known) for seat in record.children),
    )


def counted(words: Iterable[str], counting: Counting) -> Iterator[str]:
    """The words that count (Brown 1973 p. 54): no hesitations, and a stutter once."""
    before = ""
    for word in words:
        if word in counting.hesitations:
            continue
        if word != before or word not in counting.small:
            yield word
        before = word


def _sample(seat: Seat, role: Role | None, said: Sequence[tuple[str, ...]], children: int, measures: Measures) -> Sample:
    words = [word for unit in said for word in unit]

    def shown(key: str, value: float | None, size: int = len(words)) -> float | None:
        return value if size >= measures[key].shortest else None

    return Sample(
        seat=seat,
        role=role,
        describes=role is (Role.BUILDER if children == 2 else Role.ENGINEER),
        units=len(said),
        words=len(words),
        ndw=len(set(words)) if len(words) >= measures["ndw"].shortest else None,
        ttr=shown("ttr", ttr(words)),
        mattr=shown("mattr", mattr(words)),
        mtld=shown("mtld", mtld(words)),
        hdd=shown("hdd", hdd(words)),
        mlu=shown("mlu", len(words) / len(said), len(said)),
    )


def _taken(seat: Seat, firsts: _Firsts, counting: Counting, known: Known | None) -> Taken:
    own = firsts[seat]
    others = [words for other, words in firsts.items() if other is not seat]
    borrowed = [
        word
        for word, span in own.items()
        if word not in counting.small and any(words[word].end_sample <= span.start_sample for words in others if word in words)
    ]
    new = None if known is None else len(own.keys() - known.get(seat, frozenset()))
    return Taken(seat, len(own), new, len(borrowed))


def _firsts(children: Iterable[Seat], units: Iterable[Unit], counting: Counting) -> _Firsts:
    firsts: _Firsts = {seat: {} for seat in children}
    for unit in units:
        for word in counted(unit.words, counting) if unit.seat in firsts else ():
            firsts[unit.seat].setdefault(word, unit.span)
    return firsts
