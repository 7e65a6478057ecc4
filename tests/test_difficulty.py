"""How much a plan asks for, and which comes next."""

import tomllib
from itertools import pairwise
from math import log2
from pathlib import Path
from typing import Any

import pytest

from assistant.core.measures.describing import shortest
from assistant.core.plans.difficulty import Demand, Difficulty, Grade, Level, difficulty_of
from assistant.core.plans.following import Candidate, Move, Shown, Suggestion, next_plans, shown_in
from assistant.core.plans.model import Piece, Plan, Step
from assistant.core.plans.plan import read_plan
from assistant.core.words.lexicon import read_lexicon

SHARED = Path(__file__).parent.parent / "shared"
LEXICON = read_lexicon((SHARED / "lexicon" / "en.toml").read_text(encoding="utf-8"), "lexicon")
TEXTS = tomllib.loads((SHARED / "grades" / "en.toml").read_text(encoding="utf-8"))
PLANS = {
    path.stem: read_plan(path.read_text(encoding="utf-8"), path.stem) for path in sorted((SHARED / "plans").glob("*.toml"))
}
LIBRARY = [
    Candidate(name, plan.title, plan.activity, plan.children, difficulty_of(plan, LEXICON.with_plan(plan)))
    for name, plan in PLANS.items()
]


def of(name: str) -> Difficulty:
    return next(candidate.difficulty for candidate in LIBRARY if candidate.name == name)


def plan_of(*steps: list[dict[str, str]]) -> Plan:
    pieces = {"-".join(sorted(said.values())): Piece("-".join(sorted(said.values())), said) for step in steps for said in step}
    put = [Step(n, "c", tuple(pieces["-".join(sorted(said.values()))] for said in step)) for n, step in enumerate(steps, 1)]
    return Plan("t", "blocks", "a", (2,), ("colour", "size"), pieces, tuple(put))


def test_bits_are_those_of_shannon_as_the_tray_empties() -> None:
    """Derived, Shannon 1948: one of four is 2 bits, one of three log2 3, one of two 1, the last one 0."""
    colours = ("red", "blue", "green", "white")
    plan = plan_of(*[[{"colour": colour}] for colour in colours])

    assert difficulty_of(plan, LEXICON).bits == pytest.approx((2 + log2(3) + 1 + 0) / 4)


def test_two_that_are_the_same_need_a_bit_less() -> None:
    plan = plan_of([{"colour": "red"}], [{"colour": "red"}], [{"colour": "blue"}])

    assert difficulty_of(plan, LEXICON).bits == pytest.approx((log2(3 / 2) + log2(2) + 0) / 3)


def test_words_are_those_of_the_incremental_algorithm() -> None:
    """Dale & Reiter 1995 on a tray: the red one needs its size as long as there are two red ones, and not after."""
    plan = plan_of(
        [{"colour": "red", "size": "big"}], [{"colour": "red", "size": "small"}], [{"colour": "blue", "size": "small"}]
    )

    assert difficulty_of(plan, LEXICON).words == pytest.approx((2 + 1 + 0) / 3)


def test_the_algorithm_names_each_piece_of_the_boat_s_full_tray() -> None:
    """Dale & Reiter 1995, section 4.4: attributes in the order of preference, each taken when it rules something out."""
    boat = PLANS["little-boat"]
    named = {
        key: shortest(piece.attributes, [p.attributes for k, p in boat.pieces.items() if k != key], boat.preference)
        for key, piece in boat.pieces.items()
    }

    assert named == {
        "long-blue": ("colour", "size"),
        "short-blue": ("colour", "size"),
        "long-red": ("colour", "size"),
        "short-red": ("colour", "size"),
        "yellow-square": ("colour",),
        "green-square": ("colour",),
        "white-triangle": ("colour",),
        "blue-triangle": ("colour", "size"),
    }


@pytest.mark.parametrize("name", PLANS)
def test_every_piece_of_every_plan_can_be_told_apart(name: str) -> None:
    plan = PLANS[name]
    for key, piece in plan.pieces.items():
        assert (
            shortest(piece.attributes, [p.attributes for k, p in plan.pieces.items() if k != key], plan.preference) is not None
        )


def test_the_library_spreads_over_the_grades_for_two_and_for_three() -> None:
    for children in (2, 3):
        grades = [candidate.difficulty.grade for candidate in LIBRARY if children in candidate.children]
        assert all(grades.count(grade) >= 2 for grade in Grade)


def test_the_library_is_what_the_issue_asks_for() -> None:
    activities = {candidate.activity for candidate in LIBRARY}

    assert len(LIBRARY) >= 15
    assert {"blocks", "beads", "cooking", "chunky blocks"} < activities
    assert any(plan.children == (2,) for plan in PLANS.values()) and any(plan.children == (3,) for plan in PLANS.values())
    lengths = [len(plan.steps) / len(plan.components) for plan in PLANS.values()]
    assert min(lengths) <= 2 and max(lengths) >= 4
    assert any(step.care for plan in PLANS.values() for step in plan.steps)


def test_the_first_model_is_the_tower_of_same_size_blocks() -> None:
    """Common practice, no source: the first models are very simple, a tower of same-size pieces in several colours."""
    assert of("four-block-tower").grade is Grade.FIRST
    assert set(of("four-block-tower").levels.values()) == {Level.LITTLE}
    move, suggestions = next_plans(LIBRARY, 3, [])
    assert move is Move.FIRST and "four-block-tower" in [suggestion.plan.name for suggestion in suggestions]


def test_a_grade_comes_with_a_sentence_for_each_demand() -> None:
    reasons = of("little-boat").reasons(TEXTS["reason"])

    assert len(reasons) == 5 and all(reason.endswith(".") for reason in reasons)
    assert reasons[0] == "Of middle length: 8 steps with 8 pieces."
    assert len(of("fruit-yoghurt").reasons(TEXTS["reason"])) == 4  # nobody measured: nothing is said about hands


@pytest.mark.parametrize(
    ("done", "requests", "enough", "move"),
    [
        (8, 8, 8, Move.FURTHER),
        (8, 10, 7, Move.FURTHER),
        (8, 10, 6, Move.STEADY),
        (7, 8, 8, Move.AGAIN),
        (8, 4, 4, Move.UNSURE),
    ],
)
def test_where_to_go_from_a_session(done: int, requests: int, enough: int, move: Move) -> None:
    assert Shown("Little boat", done, 8, requests, enough).move is move


@pytest.mark.parametrize("candidate", LIBRARY, ids=lambda candidate: candidate.name)
def test_no_suggestion_is_a_leap(candidate: Candidate) -> None:
    for children in candidate.children:
        for shown in (
            Shown(candidate.title, 9, 9, 9, 9),
            Shown(candidate.title, 9, 9, 9, 1),
            Shown(candidate.title, 1, 9, 9, 9),
        ):
            move, suggestions = next_plans(LIBRARY, children, [shown])
            for suggestion in suggestions:
                assert children in suggestion.plan.children
                assert len(suggestion.harder) <= (0 if move is Move.AGAIN else 1)
                assert move is not Move.STEADY or Demand.CHOICE not in suggestion.harder
                assert suggestion.plan.title != candidate.title or move is Move.AGAIN
                assert suggestion.reasons(TEXTS) and not suggestion.leaps


def test_an_unfinished_model_may_be_gone_on_with() -> None:
    _, suggestions = next_plans(LIBRARY, 3, [Shown("Four-tower fort", 12, 25, 12, 12)])

    assert "four-tower-fort" in [suggestion.plan.name for suggestion in suggestions]


def test_what_was_finished_before_does_not_come_again() -> None:
    sessions = [Shown(title, 9, 9, 9, 9) for title in ("Four-block tower", "Little stairs", "Chunky wall")]
    _, suggestions = next_plans(LIBRARY, 3, sessions)

    assert suggestions and not {suggestion.plan.title for suggestion in suggestions} & {shown.plan for shown in sessions}


def test_going_from_suggestion_to_suggestion_gets_somewhere() -> None:
    sessions: list[Shown] = []
    for _ in range(8):
        _, suggestions = next_plans(LIBRARY, 3, sessions)
        if not suggestions:
            break
        sessions.append(Shown(suggestions[0].plan.title, 9, 9, 9, 9))
    by_title = {candidate.title: candidate for candidate in LIBRARY}
    way = [Suggestion(by_title[after.plan], by_title[before.plan]) for before, after in pairwise(sessions)]

    assert len(sessions) == 8
    assert all(len(step.harder) <= 1 and not step.leaps for step in way)
    assert way[-1].plan.difficulty.grade in (Grade.FURTHER, Grade.PRACTISED)


def test_what_a_session_showed_is_read_from_its_kept_events() -> None:
    records: list[dict[str, Any]] = [
        {"event": "SessionOpened", "plan": "Little boat", "steps": 8},
        {"event": "StepDone", "step": 1},
        {"event": "StepDone", "step": 2},
        {"event": "StepUndone", "step": 2},
        {"event": "Understood", "request": {"number": 1, "kinds_after": 3}},
        {"event": "Understood", "request": {"number": 1, "kinds_after": 1}},
        {"event": "Understood", "request": {"number": 2, "kinds_after": 2}},
        {"event": "Understood", "request": None},
        {"event": "Heard"},
    ]

    assert shown_in(records) == Shown("Little boat", 1, 8, 2, 1)
