"""Plans with something wrong: every sample says all its problems, in sentences."""

import re
from pathlib import Path

import pytest

from assistant.core.plans.plan import read_plan
from assistant.errors import PlanError

SAMPLES = sorted((Path(__file__).parent / "samples" / "plans").glob("*.toml"))


def problems_of(text: str, source: str) -> list[str]:
    with pytest.raises(PlanError) as caught:
        read_plan(text, source)
    return list(caught.value.problems)


@pytest.mark.parametrize("sample", SAMPLES, ids=lambda path: path.stem)
def test_a_broken_plan_says_all_its_problems(sample: Path) -> None:
    problems = problems_of(sample.read_text(encoding="utf-8"), sample.stem)

    without_parser_words = [re.sub(r"not TOML \(.*\)\.", "not TOML (...).", problem) for problem in problems]
    assert without_parser_words == sample.with_suffix(".txt").read_text(encoding="utf-8").splitlines()


@pytest.mark.parametrize("sample", SAMPLES, ids=lambda path: path.stem)
def test_each_problem_is_a_sentence_with_its_place(sample: Path) -> None:
    for problem in problems_of(sample.read_text(encoding="utf-8"), sample.stem):
        assert problem.startswith(sample.stem)
        assert problem.endswith(("?", ".", '"..."', "}].")) and len(problem) < 300


def test_there_are_thirty() -> None:
    assert len(SAMPLES) >= 30


def test_brackets_without_end_are_one_sentence() -> None:
    assert len(problems_of("version = " + "[" * 5000, "nested")) == 1
