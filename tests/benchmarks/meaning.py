"""How well utterances are understood when their words are right: ``python -m tests.benchmarks.meaning``.

Prints one table for the half that the rules were made on and one for the half that was only counted.
"""

from assistant.terms import Act
from tests.utterances import GROUPS, HALVES, Score, boat, every_way, lines, talk, understood


def main() -> None:
    """Prints the tables."""
    lexicon = boat()
    for half in HALVES:
        print(f"{half}")
        for group in GROUPS:
            table = lines(half, group)
            right = sum(line.is_right(understood(line.says, line.by, line.is_open, lexicon)) for line in table)
            print(f"  {group:10s} {right:3d} of {len(table):3d}")
        score = Score()
        for line in lines(half, "requests"):
            score.add(line.attributes, understood(line.says, line.by, line.is_open, lexicon).attributes)
        print(f"  attribute words of requests: F1 {score.f1:.3f}")
        wrong = (Act.REQUEST, Act.STEP_DONE)
        taken = sum(any(meaning.act in wrong for meaning in every_way(says, lexicon)) for says in talk(half))
        print(f"  other talk taken for a request or an end of a step: {taken} of {len(talk(half))}")


if __name__ == "__main__":
    main()
