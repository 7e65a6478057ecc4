"""What the numbers of a session cost, for sessions of 1, 2, 4 and 8 hours: ``python -m tests.benchmarks.measures``.

The sessions are made up: a request, an answer or a repair, an adult now and then, twenty units a minute. The ratios to the hour
are what to look at; the seconds are those of one machine.
"""

from pathlib import Path
from time import process_time
from timeit import repeat

from assistant.core.measures.definitions import Measures, read_measures
from assistant.core.measures.sentences import in_words
from assistant.core.measures.summary import as_json, summarise
from assistant.core.plans.plan import Plan, read_plan
from assistant.core.words.lexicon import Lexicon, read_lexicon
from assistant.events import Event, Lost, Muted
from assistant.samples import to_samples
from assistant.terms import Loss, Praise, Prompt, Repair
from tests.told import Story, asked

SHARED = Path(__file__).parents[2] / "shared"
HOURS = (1, 2, 4, 8)
ROUND_S = 30.0  # of ten units
RUNS = 5


def made_up(hours: int) -> list[Event]:
    """A session of so many hours."""
    story = Story()
    for number in range(round(hours * 3600 / ROUND_S)):
        at, step = number * ROUND_S, number % 8 + 1
        first = asked(number, colour="red", before=8, after=2, kinds=2)
        whole = asked(number, colour="red", size="long", before=8, after=1, where="on top of the blue one")
        story.says("A", at + 0.5, at + 2.0, "um we need the red one please", first)
        story.says("B", at + 2.6, at + 3.4, "which one do you mean", repair=Repair.RESTRICTED_REQUEST)
        story.says("A", at + 4.1, at + 6.0, "the long one on top of the blue one", whole)
        story.says("?", at + 6.3, at + 6.6, "yes")
        story.says("B", at + 7.2, at + 8.0, "here it is")
        story.says("F", at + 9.0, at + 11.0, "i wonder where that one goes", prompt=Prompt.INDIRECT)
        story.says("C", at + 14.5, at + 16.0, "it goes on the left next to the square")
        story.says("A", at + 15.5, at + 17.0, "yes behind the green one")
        story.says("C", at + 22.0, at + 22.6, "done").done(step)
        story.says("F", at + 23.5, at + 25.0, "you waited until she had finished", praise=Praise.SPECIFIC)
        story.then(Muted(to_samples(at + 28), to_samples(at + 26), to_samples(at + 28)))
        if number % 40 == 0:
            story.then(Lost(to_samples(at + 29), to_samples(at + 28.5), to_samples(at + 29), Loss.BEHIND))
    return story.ends(hours * 3600)


def seconds(events: list[Event], measures: Measures, plan: Plan, lexicon: Lexicon) -> float:
    """Processor time, the least of a few runs, everything included: the numbers, the sentences and the plain data."""

    def run() -> None:
        summary = summarise(events, measures, plan, lexicon)
        in_words(summary, measures)
        as_json(summary)

    return min(repeat(run, timer=process_time, number=1, repeat=RUNS))


def main() -> None:
    """Print the table."""
    measures = read_measures((SHARED / "measures.toml").read_text(encoding="utf-8"))
    plan = read_plan((SHARED / "plans" / "little-boat.toml").read_text(encoding="utf-8"), "little-boat.toml")
    lexicon = read_lexicon((SHARED / "lexicon" / "en.toml").read_text(encoding="utf-8"), "en.toml").with_plan(plan)
    print("hours   units   seconds   to one hour")
    hour = 0.0
    for hours in HOURS:
        events = made_up(hours)
        took = seconds(events, measures, plan, lexicon)
        hour = hour or took
        print(f"{hours:5}   {hours * 1200:5}   {took:7.3f}   {took / hour:11.2f}")


if __name__ == "__main__":
    main()
