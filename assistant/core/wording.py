"""Numbers that know their word: one step, two steps.

What lives here: the choice between the word for one and the word for any other number. What must not: the words.
"""

from collections.abc import Mapping


class Count(int):
    """A number that chooses a word when it is formatted: ``"{done} {done:step was|steps were} built"``."""

    def __format__(self, form: str) -> str:
        return _word(self, form) if "|" in form else super().__format__(form)


class Amount(float):
    """The same for a number that need not be whole, shown no longer than it is: ``"{minutes} {minutes:minute|minutes}"``."""

    def __format__(self, form: str) -> str:
        return _word(self, form) if "|" in form else super().__format__(form or "g")


def _word(number: float, form: str) -> str:
    one, _, other = form.partition("|")
    return one if number == 1 else other


def counted(filled: Mapping[str, object]) -> dict[str, object]:
    """What a sentence is filled with, its whole numbers able to choose their words."""
    return {key: Count(value) if isinstance(value, int) else value for key, value in filled.items()}
