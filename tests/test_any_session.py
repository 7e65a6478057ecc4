"""What must hold of the numbers of any session whatever."""

import json
from collections.abc import Iterable
from dataclasses import replace
from pathlib import Path
from typing import Any

from hypothesis import assume, given, settings
from hypothesis import strategies as st

from assistant.core.measures.definitions import read_measures
from assistant.core.measures.record import read_record
from assistant.core.measures.sentences import in_words
from assistant.core.measures.spans import Span
from assistant.core.measures.summary import as_json, summarise
from assistant.core.measures.turns import floor_of
from assistant.events import Event, Heard, Lost, Muted, RolesSet, SessionClosed, SessionOpened, StepBegan, StepDone, Understood
from assistant.terms import Act, Closing, Loss, Prompt, Repair, Role, Seat
from tests.told import MS, asked, heard

MEASURES = read_measures((Path(__file__).parents[1] / "shared" / "measures.toml").read_text(encoding="utf-8"))
WORDS = st.lists(st.sampled_from("the a um red blue long short block which one on top".split()), max_size=6).map(" ".join)
SEATS = (Seat.A, Seat.B, Seat.C, Seat.FACILITATOR, Seat.UNSURE)
STEP = 10 * MS  # 10 ms: a grid, so that things meet


@st.composite
def spans(draw: st.DrawFn, most: int, furthest: int = 3000) -> list[Span]:
    """Some spans one after another, none touching the next."""
    edges = sorted(draw(st.lists(st.integers(0, furthest), max_size=2 * most, unique=True)))
    return [Span(start * STEP, end * STEP) for start, end in zip(edges[::2], edges[1::2], strict=False)]


def meaning(draw: st.DrawFn, seat: Seat, number: int) -> dict[str, Any]:
    """Something that a session could make of an utterance."""
    if seat is Seat.FACILITATOR:
        return {"act": Act.PROMPT, "prompt": draw(st.sampled_from([*Prompt]))} if draw(st.booleans()) else {"act": Act.OTHER}
    choice = draw(st.integers(0, 3))
    if choice == 0:
        after = draw(st.integers(0, 3))
        return {"act": Act.REQUEST, "request": asked(number // 2, colour="red", after=after, kinds=after)}
    return {"act": Act.REPAIR, "repair": draw(st.sampled_from([*Repair]))} if choice == 1 else {"act": Act.OTHER}


@st.composite
def sessions(draw: st.DrawFn) -> list[Event]:
    """A session of up to half a minute: five voices, muted and lost spans, requests, repairs, prompts, steps."""
    said = sorted((span, seat) for seat in SEATS for span in draw(spans(most=4)))
    roles = tuple(zip((Seat.A, Seat.B, Seat.C), (Role.ENGINEER, Role.SUPPLIER, Role.BUILDER), strict=True))
    events: list[Event] = [SessionOpened(0, "Any", (Seat.A, Seat.B, Seat.C), 9, 3000 * STEP), RolesSet(0, 1, roles)]
    events.append(StepBegan(0, 1, None))
    for number, (span, seat) in enumerate(said, start=1):
        events.append(heard(number, seat, span, draw(WORDS)))
        events.append(Understood(span.end_sample, number, seat, dict(roles).get(seat), **meaning(draw, seat, number)))
        if number % 5 == 0:
            events += [StepDone(span.end_sample, number // 5, number), StepBegan(span.end_sample, number // 5 + 1, None)]
    events += [Muted(span.end_sample, span.start_sample, span.end_sample) for span in draw(spans(most=2))]
    events += [Lost(span.end_sample, span.start_sample, span.end_sample, Loss.OVERFLOW) for span in draw(spans(most=2))]
    return [*events, SessionClosed(3000 * STEP, Closing.ON_TIME)]


def numbers(events: Iterable[Event]) -> Any:
    return as_json(summarise(events, MEASURES))


@settings(max_examples=300)
@given(sessions())
def test_the_parts_of_the_time_add_up_to_the_whole(events: list[Event]) -> None:
    record = read_record(events)
    time = summarise(events).talk.time
    assert time.whole_samples == record.span.length
    assert min(time.speech_samples, time.gap_samples, time.pause_samples, time.edge_samples, time.lost_samples) >= 0
    assert sum(stretch.span.length for stretch in floor_of(record).stretches) == time.heard_samples


@given(sessions())
def test_shares_add_up(events: list[Event]) -> None:
    talk = summarise(events).talk
    for presence in talk.seats:
        in_roles = [share for share in talk.by_role if share.seat is presence.share.seat]
        if presence.share.seat is not Seat.FACILITATOR:
            assert sum(share.talk_samples for share in in_roles) == presence.share.talk_samples
            assert sum(share.turns for share in in_roles) == presence.share.turns
    turns = sum(presence.share.turns for presence in talk.seats) + talk.unsure.turns
    assert turns == len(floor_of(read_record(events)).turns)


@given(sessions(), st.integers(1, 2999))
def test_a_recording_cut_in_two_and_joined_gives_the_same_numbers(events: list[Event], at: int) -> None:
    """Every unit, muted and lost span that the cut goes through comes back as two that touch. What a unit was taken for
    cannot be cut, so that the numbers that rest on it are not compared."""
    whole, joined = numbers(events), numbers(_cut(events, at * STEP))
    assert (joined["talk"], joined["vocabulary"]) == (whole["talk"], whole["vocabulary"])


@given(sessions(), sessions())
def test_two_sessions_with_a_loss_between_are_their_numbers_added(first: list[Event], second: list[Event]) -> None:
    """Components can be added; that is why they are kept."""
    end = 3000 * STEP
    unheard = [event for event in (*first, *second) if isinstance(event, Muted | Lost)]
    assume(not any(event.start_sample == 0 or event.end_sample == end for event in unheard))  # it would join the loss between
    loss = [Lost(2 * end, end, 2 * end, Loss.AWAY)]
    both = [*first[:-1], *loss, *(_later(event, 2 * end) for event in second[1:])]
    one, other, together = (summarise(events).talk for events in (first, second, both))
    assert together.time.speech_samples == one.time.speech_samples + other.time.speech_samples
    assert together.time.edge_samples == one.time.edge_samples + other.time.edge_samples
    for name in ("gaps", "pauses", "overlaps_between", "overlaps_within", "lapses"):
        values = [getattr(talk, name).values_samples for talk in (one, other, together)]
        assert values[0] + values[1] == values[2]
    for mine, theirs, ours in zip(one.seats, other.seats, together.seats, strict=True):
        assert ours.share.turns == mine.share.turns + theirs.share.turns


def _later(event: Event, by: int) -> Event:
    """The same, so many samples later."""
    moved = replace(event, sample=event.sample + by)
    if isinstance(moved, Heard):
        moved = replace(moved, unit=moved.unit + 100)
    if isinstance(moved, Heard | Muted | Lost):
        moved = replace(moved, start_sample=moved.start_sample + by, end_sample=moved.end_sample + by)
    return moved


def _cut(events: Iterable[Event], at: int) -> list[Event]:
    """The events as two files would give them. The second part of a unit has the words that begin after the cut."""
    result: list[Event] = []
    for event in events:
        if not isinstance(event, Heard | Muted | Lost) or not event.start_sample < at < event.end_sample:
            result.append(event)
        elif isinstance(event, Heard):
            first = tuple(word for word in event.words if word.start_sample < at)
            result.append(replace(event, end_sample=at, words=first))
            result.append(replace(event, unit=1000 + event.unit, start_sample=at, words=event.words[len(first) :]))
        else:
            result += [replace(event, end_sample=at), replace(event, start_sample=at)]
    return result


@given(sessions(), st.permutations([Seat.A, Seat.B, Seat.C]))
def test_renaming_the_children_changes_only_their_letters(events: list[Event], letters: list[Seat]) -> None:
    units = floor_of(read_record(events)).units
    assume(len({unit.span for unit in units}) == len(units))  # of two that are one span, the letter decides which is first
    renaming = dict(zip((Seat.A, Seat.B, Seat.C), letters, strict=True))
    renamed = json.dumps(numbers([_renamed(event, renaming) for event in events]))
    back = {new.value: old.value for old, new in renaming.items()}
    assert _in_any_order(json.loads(renamed, object_hook=lambda table: _letters(table, back))) == _in_any_order(numbers(events))


def _renamed(event: Event, letters: dict[Seat, Seat]) -> Event:
    if isinstance(event, Heard | Understood):
        return replace(event, seat=letters.get(event.seat, event.seat))
    if isinstance(event, RolesSet):
        return replace(event, roles=tuple((letters[seat], role) for seat, role in event.roles))
    return event


def _letters(table: dict[str, Any], letters: dict[str, str]) -> dict[str, Any]:
    named = ("seat", "before", "after", "began", "asked", "mended", "answered_by")
    return {key: letters.get(value, value) if key in named and value else value for key, value in table.items()}


def _in_any_order(value: Any) -> Any:
    """With the lists of seats sorted, and times left in their order."""
    if isinstance(value, dict):
        return {key: _in_any_order(item) for key, item in value.items()}
    if isinstance(value, list):
        items = [_in_any_order(item) for item in value]
        return sorted(items, key=json.dumps) if all(isinstance(item, dict) for item in items) else sorted(items, key=str)
    return round(value, 9) if isinstance(value, float) else value  # the order of adding up shows in the last digits


@given(sessions())
def test_every_session_can_be_told_in_words_and_in_json(events: list[Event]) -> None:
    summary = summarise(events, MEASURES)
    assert all(line.text and "{" not in line.text and "None" not in line.text for line in in_words(summary, MEASURES))
    json.dumps(as_json(summary), allow_nan=False)


@given(sessions(), st.integers(0, 60))
def test_a_session_still_going_on_has_numbers_too(events: list[Event], until: int) -> None:
    json.dumps(numbers(events[:until]), allow_nan=False)
