"""How long people waited for one another.

What lives here: waits of requests, of turns and of the adult's prompts. What must not: which wait is long enough, or anything
about a child: findings on how fast autistic children answer conflict, and slower is not worse.

A wait that holds a muted or lost span, or speech of somebody unsure where it matters who it was, is left out; of requests it is
counted how many those are.
"""

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import chain, islice, pairwise
from typing import ClassVar

from assistant.core.measures.asking import Asked
from assistant.core.measures.record import Record
from assistant.core.measures.spans import Holes, Span
from assistant.core.measures.spread import Spread
from assistant.core.measures.turns import Floor, Stretch, Turn, Unit
from assistant.samples import to_samples
from assistant.terms import CHILDREN, Seat

GOES_ON = to_samples(1.0)
"""An adult who goes on within this time, not with another prompt, is still saying the same prompt. Chosen: Rowe 1986 found
teachers to wait a second or less as a rule, so a shorter silence is no offer of the floor."""


@dataclass(frozen=True, slots=True)
class Answer:
    """What came after a request: ``sample`` is where the answer begins. ``helped``: the adult spoke before it."""

    asked: Asked
    seat: Seat
    sample: int
    helped: bool

    @property
    def wait_samples(self) -> int:
        """From the end of the last contribution before it; negative when it began earlier."""
        return self.sample - self.asked.end_before(self.sample)


@dataclass(frozen=True, slots=True)
class OwnWait:
    """How long a seat waited from the end of each of its turns to the start of its next."""

    seat: Seat
    waits: Spread


@dataclass(frozen=True, slots=True)
class PromptWait:
    """The adult's waits after one prompt (Rowe 1986): None where there was nothing to measure.

    ``first_samples``: until anybody spoke, be it the adult again. ``second_samples``: from the end of a child's answer until
    the adult spoke, if nobody else spoke before. ``next_word_samples``: until the adult's next word, answered or not.
    """

    answered_by: Seat | None
    first_samples: int | None
    second_samples: int | None
    next_word_samples: int | None

    @property
    def gone_on_samples(self) -> int | None:
        """The first wait, where it was the adult who ended it."""
        return self.first_samples if self.answered_by is None else None


@dataclass(frozen=True, slots=True)
class Waits:
    """Every wait of a session. ``helped`` counts the answers before which the adult spoke."""

    to_answer: Spread
    unanswered: int
    answers_left_out: int
    helped: int
    to_action: Spread
    actions_left_out: int
    own: tuple[OwnWait, ...]
    prompts: tuple[PromptWait, ...]

    derived: ClassVar[tuple[str, ...]] = ("prompts_answered", "first", "second", "next_word")

    @property
    def prompts_answered(self) -> int:
        """Prompts after which a child spoke first."""
        return sum(prompt.answered_by is not None for prompt in self.prompts)

    @property
    def first(self) -> Spread:
        """Rowe's first wait time."""
        return Spread.of(prompt.first_samples for prompt in self.prompts if prompt.first_samples is not None)

    @property
    def second(self) -> Spread:
        """Rowe's second wait time."""
        return Spread.of(prompt.second_samples for prompt in self.prompts if prompt.second_samples is not None)

    @property
    def next_word(self) -> Spread:
        """From a prompt to the adult's next word."""
        return Spread.of(prompt.next_word_samples for prompt in self.prompts if prompt.next_word_samples is not None)


def waits_of(record: Record, floor: Floor, requests: Sequence[Asked]) -> Waits:
    """The waits of a whole session."""
    answers, actions = answers_of(record, floor, requests), list(_to_actions(record, floor, requests))
    found = [answer for answer in answers if isinstance(answer, Answer)]
    return Waits(
        to_answer=Spread.of(answer.wait_samples for answer in found),
        unanswered=answers.count(None),
        answers_left_out=answers.count(Seat.UNSURE),
        helped=sum(answer.helped for answer in found),
        to_action=Spread.of(wait for wait in actions if wait is not None),
        actions_left_out=actions.count(None),
        own=tuple(OwnWait(seat, Spread.of(_own(seat, floor))) for seat in record.children),
        prompts=tuple(prompt for stretch in floor.stretches for prompt in _prompts(stretch)),
    )


# --- requests -----------------------------------------------------------------------------------------------------------


def answers_of(record: Record, floor: Floor, requests: Sequence[Asked]) -> list[Answer | Seat | None]:
    """The answer to each request: the next turn of another child, before the next request.

    UNSURE stands where it cannot be told who answered or when, None where nobody did. Speech wholly inside the request is not
    yet an answer.
    """
    units, holes = floor.units, Holes(floor.unheard)
    starts = [unit.span.start_sample for unit in units]
    return [
        _answer(asked, units[bisect_right(starts, asked.start_sample) : bisect_left(starts, until)], holes, until)
        for asked, until in _with_ends(requests, record)
    ]


def _with_ends(requests: Sequence[Asked], record: Record) -> Iterator[tuple[Asked, int]]:
    """Each request with the sample at which the next one begins."""
    starts = [asked.start_sample for asked in requests]
    return zip(requests, [*starts[1:], record.span.end_sample], strict=False)


def _answer(asked: Asked, units: Iterable[Unit], holes: Holes, until: int) -> Answer | Seat | None:
    helped = False
    for unit in units:
        start, asked_until = unit.span.start_sample, asked.end_before(unit.span.start_sample)
        if unit.span.end_sample <= asked_until or unit.seat is asked.seat:
            continue
        if unit.seat is Seat.UNSURE or holes.within(Span(asked_until, start)):
            return Seat.UNSURE
        if unit.seat in CHILDREN:
            return Answer(asked, unit.seat, start, helped)
        helped = True
    waited = Span(asked.end_before(max(until, asked.start_sample + 1)), until)  # two requests may begin at once
    return Seat.UNSURE if holes.within(waited) else None


def _to_actions(record: Record, floor: Floor, requests: Sequence[Asked]) -> Iterator[int | None]:
    """From the end of each request to its step done; None where another request came first, or not all was heard."""
    holes, done_samples = Holes(floor.unheard), {step.number: step.done_sample for step in record.steps}
    for asked, until in _with_ends(requests, record):
        done = done_samples.get(asked.step) if asked.step else None
        wait = Span(asked.end_before(done), done) if done and asked.start_sample < done <= until else None
        yield None if wait is None or holes.within(wait) else wait.end_sample - wait.start_sample


# --- turns --------------------------------------------------------------------------------------------------------------


def _own(seat: Seat, floor: Floor) -> Iterator[int]:
    """From own turn to own turn; not past somebody unsure, who may have been this seat."""
    for stretch in floor.stretches:
        own = [turn for turn in stretch.turns if turn.seat in (seat, Seat.UNSURE)]
        for before, after in pairwise(own):
            if before.seat is after.seat is seat:
                yield after.span.start_sample - before.span.end_sample


# --- prompts ------------------------------------------------------------------------------------------------------------


def _prompts(stretch: Stretch) -> Iterator[PromptWait]:
    units = stretch.units
    turn_of = {id(unit): at for at, turn in enumerate(stretch.turns) for unit in turn.units}
    for at, unit in enumerate(units):
        if _is_prompt(unit):
            last = _end_of_prompt(units, at)
            end = units[last].span.end_sample
            later = (other for other in islice(units, last + 1, None) if other.span.end_sample > end)
            following = next(later, None)
            adult = _next_of_adult(chain([following] if following else [], later))
            second = _second(stretch.turns, turn_of[id(following)]) if following else None
            yield _prompt_wait(end, following, second, adult)


def _prompt_wait(end: int, following: Unit | None, second: int | None, adult: Unit | None) -> PromptWait:
    is_answered = following is not None and following.seat in CHILDREN
    is_clear = following is not None and following.seat is not Seat.UNSURE
    return PromptWait(
        answered_by=following.seat if following and is_answered else None,
        first_samples=following.span.start_sample - end if following and is_clear else None,
        second_samples=second if is_answered else None,
        next_word_samples=adult.span.start_sample - end if adult else None,
    )


def _next_of_adult(later: Iterable[Unit]) -> Unit | None:
    """The adult's next unit; None where somebody unsure, who may have been the adult, spoke before it."""
    found = next((unit for unit in later if unit.seat in (Seat.FACILITATOR, Seat.UNSURE)), None)
    return found if found and _is_adult(found) else None


def _end_of_prompt(units: Sequence[Unit], at: int) -> int:
    """Where the unit stands with which this prompt ends: the adult may go on with it after a short silence."""
    while at + 1 < len(units) and _goes_on(units[at], units[at + 1]):
        at += 1
    return at


def _goes_on(said: Unit, following: Unit) -> bool:
    silence = following.span.start_sample - said.span.end_sample
    return _is_adult(following) and not _is_prompt(following) and silence < GOES_ON


def _second(turns: Sequence[Turn], at: int) -> int | None:
    """From the end of this turn to the adult's, if the adult is the next to take the floor."""
    following = next((turn for turn in islice(turns, at + 1, None) if not turn.inside), None)
    if following is None or following.seat is not Seat.FACILITATOR:
        return None
    return following.span.start_sample - turns[at].span.end_sample


def _is_prompt(unit: Unit) -> bool:
    return _is_adult(unit) and any(one.meaning and one.meaning.prompt for one in unit.utterances)


def _is_adult(unit: Unit) -> bool:
    return unit.seat is Seat.FACILITATOR
