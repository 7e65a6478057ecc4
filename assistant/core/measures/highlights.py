"""What went well, and what could be tried: a few named behaviours picked from a summary.

What lives here: the choice. What must not: the sentences (``shared/review/``), a verdict, or which child did more than another.
"""

from collections.abc import Iterator, Mapping
from typing import Any

from assistant.core.measures.finding import Verdict
from assistant.core.measures.spread import FEW
from assistant.core.measures.summary import Summary
from assistant.core.wording import counted
from assistant.samples import to_samples

MOST = 3
SHORT_WAIT = to_samples(3.0)  # three seconds or more is the usual advice (Rowe 1986, J. Teacher Educ. 37:43)

Said = tuple[str, Mapping[str, Any]]
"""The key of a sentence, and what it is filled with."""


def went_well(summary: Summary) -> tuple[Said, ...]:
    """Up to three behaviours that were there, the children's before the adult's."""
    return tuple((key, counted(filled)) for key, filled in _well(summary))[:MOST]


def _well(summary: Summary) -> Iterator[Said]:
    repairs, finding, waits, adult, building = (
        summary.repairs, summary.finding, summary.waits, summary.adult, summary.building
    )  # fmt: skip
    enough = sum(one.first is Verdict.ENOUGH for one in finding.requests)
    answered = waits.to_answer.count
    finished = building.steps_in_plan and building.steps_done >= building.steps_in_plan
    if repairs.solved:
        yield "made_clear", {"solved": repairs.solved, "count": repairs.told}
    if finding.cleared:
        yield "cleared", {"cleared": finding.cleared, "opened": len(finding.opened)}
    if enough:
        yield "enough", {"enough": enough, "count": len(finding.requests)}
    if answered > waits.helped:
        yield "alone", {"alone": answered - waits.helped, "answered": answered}
    if adult.indirect:
        yield "wondered", {"indirect": adult.indirect}
    if adult.specific:
        yield "named", {"specific": adult.specific}
    if building.swaps:
        yield "swapped", {"swaps": building.swaps}
    if building.steps_done:
        yield "finished" if finished else "steps", {"done": building.steps_done}


def to_try(summary: Summary) -> Said:
    """One thing that the adult could try."""
    key, filled = _try(summary)
    return key, counted(filled)


def _try(summary: Summary) -> Said:
    finding, adult, prompts = summary.finding, summary.adult, summary.waits.prompts
    left_open = len(finding.opened) - finding.cleared
    went_on = sum(prompt.gone_on_samples is not None and prompt.gone_on_samples < SHORT_WAIT for prompt in prompts)
    if left_open and not summary.repairs.repairs:
        return "open", {"open": left_open}
    if adult.indirect + adult.direct >= FEW and adult.direct > adult.indirect:
        return "direct", {"direct": adult.direct, "indirect": adult.indirect}
    if len(prompts) >= FEW and 2 * went_on >= len(prompts):
        return "wait", {"count": went_on, "prompts": len(prompts)}
    if adult.general + adult.specific >= FEW and adult.general > adult.specific:
        return "praise", {}
    if summary.building.steps_done and not summary.building.swaps:
        return "swap", {}
    return ("keep" if summary.building.steps_done else "little"), {}
