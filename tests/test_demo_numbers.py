"""The numbers of the demonstration's true units and words, beside what its script says of itself."""

from collections import Counter

import pytest

from assistant.core.measures.summary import Summary, summarise
from tests.benchmarks.demo import true_story
from tests.benchmarks.demo_numbers import rows, told, true_events


@pytest.fixture(scope="module")
def summary() -> Summary:
    session, events = true_events(true_story(), ())
    return summarise(events, plan=session.plan, lexicon=session.lexicon)


def test_requests_and_repairs_are_those_of_the_script(summary: Summary) -> None:
    written = told(true_story())
    assert {name: number for name, number in rows(summary).items() if name in written} == written


def test_every_repair_was_mended_by_the_one_who_asked(summary: Summary) -> None:
    asked_by = {one.number: one.seat for one in summary.finding.requests}
    assert all(one.request and one.mended is asked_by[one.request] and one.solved for one in summary.repairs.repairs)


def test_turns_are_those_of_the_script(summary: Summary) -> None:
    """A person who speaks twice in a row has two lines in the script, and one turn."""
    seats = [turn["seat"] for turn in true_story()["turns"]]
    in_a_row = [seat for seat, before in zip(seats, [None, *seats], strict=False) if seat != before]
    assert {one.share.seat.value: one.share.turns for one in summary.talk.seats} == Counter(in_a_row)
