"""The numbers of the demonstration, from its sound and from its truth: ``python -m tests.benchmarks.demo_numbers``.

*Told* is what the script says beside each line; *from the truth* is what the measures make of the true units and words; *from
the sound* is what they make of what was heard.
"""

import re
from collections import Counter
from collections.abc import Iterable
from typing import Any

from assistant.assembly import open_plan, open_session, open_texts
from assistant.commands.sessions import DEMO_PLAN, DEMO_SETTINGS
from assistant.core.club.session import Session
from assistant.core.measures.summary import Summary, summarise
from assistant.events import Event, Heard, Muted, Tick, Word
from assistant.samples import to_samples, to_seconds
from assistant.terms import Act, Closing, Repair, Seat
from tests.benchmarks.demo import travel, true_story


def true_events(story: dict[str, Any], muted: Iterable[Muted]) -> tuple[Session, list[Event]]:
    """A session that hears every true unit with its true words, the tool's own voice in the same places."""
    session = open_session(open_plan(DEMO_PLAN), DEMO_SETTINGS)
    ticks = [Tick(sample) for sample in range(0, story["length"], to_samples(1))]
    coming = sorted([*ticks, *map(_heard, range(len(story["segments"])), story["segments"])], key=lambda event: event.sample)
    events = [*session.open()]
    for event in coming:
        if isinstance(event, Heard):
            events.append(event)
        events += session.receive(event)
    return session, [*events, *muted, *session.close(story["length"], Closing.SOUND_ENDED)]


def _heard(unit: int, segment: dict[str, Any]) -> Heard:
    texts = re.findall(r"[a-z']+", segment["text"].lower())
    step = (segment["end"] - segment["start"]) // max(1, len(texts))
    words = tuple(Word(text, segment["start"] + at * step, segment["start"] + (at + 1) * step) for at, text in enumerate(texts))
    return Heard(segment["end"], unit, segment["start"], segment["end"], Seat(segment["seat"]), 0.0, words)


def told(story: dict[str, Any]) -> dict[str, Any]:
    """What the script says of itself. A line that names no quality of a piece, or mends, goes on with an earlier request."""
    begun = [one for one in story["segments"] if one["act"] == Act.REQUEST and one["attributes"] and not one["mends"]]
    repairs = Counter(one["repair"] for one in story["segments"] if one["repair"])
    return {
        "requests": len(begun),
        "open requests": sum(len(one["fits"]) > 1 for one in begun),
        **{f"repairs: {kind.value}": repairs[kind.value] for kind in Repair},
    }


def rows(summary: Summary) -> dict[str, Any]:
    """The numbers to compare."""
    gap = summary.talk.gaps.median_samples
    return {
        "requests": len(summary.finding.requests),
        "open requests": len(summary.finding.opened),
        **{f"repairs: {kind.value}": count for kind, count in summary.repairs.kinds.items()},
        **{f"turns of {one.share.seat}": one.share.turns for one in summary.talk.seats},
        "turns of nobody sure": summary.talk.unsure.turns,
        "median gap (s)": None if gap is None else round(to_seconds(round(gap)), 3),
        "direct prompts": summary.adult.direct,
        "indirect prompts": summary.adult.indirect,
        "praise that names": summary.adult.specific,
    }


def main() -> None:
    """Print the table."""
    measures, story = open_texts().measures, true_story()
    session, events = travel()
    _, truth = true_events(story, (event for event in events if isinstance(event, Muted)))
    true, heard = (rows(summarise(each, measures, session.plan, session.lexicon)) for each in (truth, events))
    written = told(story)
    print("| What | Told | From the truth | From the sound |\n|---|---|---|---|")
    for name in true:
        print(f"| {name} | {written.get(name, '')} | {true[name]} | {heard[name]} |")


if __name__ == "__main__":
    main()
