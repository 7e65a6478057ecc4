"""Before anything is kept, in the terminal: everybody is asked, in words from ``shared/consent/``.

What lives here: printing a question, and asking again where an answer is none. What must not: who is asked next
(:mod:`assistant.core.club.asking`), what the answers add up to, or writing them down.
"""

from collections.abc import Callable, Sequence

from rich.console import Console

from assistant.core.club.asking import Question, Terms, asking, read_questions
from assistant.core.club.consent import Consent, Ledger, Receipt, ask_order
from assistant.terms import Seat

__all__ = ["Asking", "Terms", "ask_everybody", "synthetic"]

Asking = Callable[[str], str]
"""Puts a question and gives back the answer; an ``EOFError`` is nobody there, and so a no."""


def ask_everybody(seats: Sequence[Seat], terms: Terms, texts: str, console: Console, ask: Asking = input) -> Ledger:
    """Ask each guardian, the adult, and then each child; stop at the first no, because any no wins.

    Args:
        texts: ``shared/consent/<language>.toml``.
    """
    questions, told = read_questions(texts), tuple[str, ...]()
    asked = asking(seats, terms)
    while asked.now:
        if told != questions.told(asked):
            told = questions.told(asked)
            console.print("\n".join(told), soft_wrap=True)
        asked = asked.answered(_answer(questions.question(asked), questions.again, console, ask), questions.version)
    console.print(questions.result(asked), soft_wrap=True)
    return asked.ledger


def synthetic(seats: Sequence[Seat], terms: Terms, texts: str) -> Ledger:
    """The ledger of a session in which every voice is synthetic: nobody has to be asked."""
    version = read_questions(texts).version
    return Ledger(tuple(seats), tuple(Receipt(*one, terms.most, terms.day, version, terms.until) for one in ask_order(seats)))


def _answer(question: Question, again: str, console: Console, ask: Asking) -> Consent:
    console.print("\n".join(question.lines), soft_wrap=True)
    while True:
        try:
            said = ask(f"{question.how}: ").strip().lower()
        except EOFError:
            return Consent.NOTHING
        if said in question.answers:
            return question.answers[said]
        console.print(again, soft_wrap=True)
