"""Requests, each with all that was said to make it clear.

What lives here: gathering contributions into requests. What must not: whether they were enough; that is ``finding``.

"The red one", "which one?", "the long one" is one request with two contributions: they share a number.
"""

from dataclasses import dataclass

from assistant.core.measures.record import Record, Utterance
from assistant.core.words.lexicon import Label, Lexicon
from assistant.events import Request
from assistant.terms import Act, Role, Seat


@dataclass(frozen=True, slots=True)
class Asked:
    """One request: the utterances that made it, in order, and what had been asked for after each."""

    contributions: tuple[Utterance, ...]
    requests: tuple[Request, ...]

    @property
    def number(self) -> int:
        """Its number in the session."""
        return self.requests[0].number

    @property
    def seat(self) -> Seat:
        """Who asked."""
        return self.contributions[0].seat

    @property
    def role(self) -> Role | None:
        """In which role."""
        return self.contributions[0].role

    @property
    def step(self) -> int | None:
        """The step that it belongs to: "done, now the red one" belongs to the step after the one that is done."""
        begun = self.contributions[0]
        is_next = begun.meaning is not None and begun.meaning.act is Act.STEP_DONE
        return begun.step + is_next if begun.step is not None else None

    @property
    def start_sample(self) -> int:
        """Where the first contribution begins."""
        return self.contributions[0].span.start_sample

    @property
    def first(self) -> Request:
        """What the first contribution asked for, by itself."""
        return self.requests[0]

    @property
    def whole(self) -> Request:
        """What was asked for in the end."""
        return self.requests[-1]

    def end_before(self, sample: int) -> int:
        """Where the last contribution that began before ``sample`` ends."""
        return max(one.span.end_sample for one in self.contributions if one.span.start_sample < sample)


def requests_of(record: Record) -> tuple[Asked, ...]:
    """Every request of a session, in order of its first contribution."""
    gathered: dict[int, list[tuple[Utterance, Request]]] = {}
    for utterance in record.utterances:
        if utterance.meaning and utterance.meaning.request:
            request = utterance.meaning.request
            gathered.setdefault(request.number, []).append((utterance, request))
    return tuple(Asked(*zip(*pairs, strict=True)) for pairs in gathered.values())


def names_piece(utterance: Utterance, lexicon: Lexicon | None) -> bool:
    """Whether somebody says what a piece is like, whoever it is; without a lexicon, only where it was taken for a request."""
    if utterance.meaning and utterance.meaning.request:
        return True
    if lexicon is None:
        return False
    return any(token.pair for token in lexicon.scan(lexicon.normalise(utterance.texts), {Label.ATTRIBUTE}))
