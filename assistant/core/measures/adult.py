"""What the adult said: prompts, praise, rules, and answers that were a child's to give.

What lives here: counts. What must not: advice; that is for the hints.
"""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import islice

from assistant.core.measures.asking import names_piece
from assistant.core.measures.record import Record, Utterance
from assistant.core.measures.repairs import Mending, Repairs
from assistant.core.measures.talk import Talk
from assistant.core.words.lexicon import Lexicon
from assistant.terms import CHILDREN, Act, Praise, Prompt, Seat


@dataclass(frozen=True, slots=True)
class RulePointed:
    """How often a seat pointed to a rule."""

    seat: Seat
    times: int


@dataclass(frozen=True, slots=True)
class Adult:
    """The adult's talk. ``answered_own`` and ``mended_for`` are None where the words are not known."""

    indirect: int
    direct: int
    specific: int
    general: int
    rules: tuple[RulePointed, ...]
    talk_samples: int
    all_talk_samples: int
    answered_own: int | None
    """Prompts after which the adult said what a piece is like before anybody else spoke."""
    mended_for: int | None
    """Times that a child was asked back about a request, and the adult was the first to say what the piece is like."""


def adult_of(record: Record, talk: Talk, repairs: Repairs, lexicon: Lexicon | None = None) -> Adult:
    """The adult's talk of a whole session; all seats' for pointing to a rule."""
    said = [one for one in record.utterances if one.seat is Seat.FACILITATOR and one.meaning]
    prompts = Counter(one.meaning.prompt for one in said if one.meaning)
    praise = Counter(one.meaning.praise for one in said if one.meaning)
    pointed = Counter(one.seat for one in record.utterances if one.meaning and one.meaning.act is Act.RULE)
    return Adult(
        indirect=prompts[Prompt.INDIRECT],
        direct=prompts[Prompt.DIRECT],
        specific=praise[Praise.SPECIFIC],
        general=praise[Praise.GENERAL],
        rules=tuple(RulePointed(*pair) for pair in sorted(pointed.items())),
        talk_samples=talk.share_of(Seat.FACILITATOR).talk_samples,
        all_talk_samples=sum(one.share.talk_samples for one in talk.seats),
        answered_own=_answered_own(record.utterances, lexicon) if lexicon else None,
        mended_for=sum(map(_is_mended_for_child, repairs.repairs)) if lexicon else None,
    )


def _is_mended_for_child(repair: Mending) -> bool:
    """Whether a child was asked back about a request, and the adult said what the piece is like."""
    return repair.mended is Seat.FACILITATOR and repair.asked in CHILDREN and repair.request is not None


def _answered_own(utterances: Sequence[Utterance], lexicon: Lexicon) -> int:
    prompts = (at for at, one in enumerate(utterances) if one.seat is Seat.FACILITATOR and one.meaning and one.meaning.prompt)
    return sum(_is_answered_by_adult(utterances, at, lexicon) for at in prompts)


def _is_answered_by_adult(utterances: Sequence[Utterance], at: int, lexicon: Lexicon) -> bool:
    """Whether, before anybody else spoke or the next prompt, the adult said what a piece is like."""
    for later in islice(utterances, at + 1, None):
        if later.seat is not Seat.FACILITATOR or (later.meaning and later.meaning.prompt):
            return False
        if names_piece(later, lexicon):
            return True
    return False
