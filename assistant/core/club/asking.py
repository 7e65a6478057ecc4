"""Asking everybody before anything is kept, one question after the other; the terminal and the set-up page are its two faces.

What lives here: whose turn it is to answer, what can still be asked for, and the questions in words from ``shared/consent``.
What must not: how a question is shown or an answer comes in, what the answers add up to (:mod:`assistant.core.club.consent`).
"""

import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from assistant.core.club.consent import LEVELS, Consent, Giver, Ledger, Receipt, ask_order
from assistant.errors import SharedError
from assistant.terms import Seat


@dataclass(frozen=True, slots=True)
class Terms:
    """What is asked for: at most this level, and until when it would be kept. Days are texts."""

    most: Consent
    day: str
    until: str


@dataclass(frozen=True, slots=True)
class Asking:
    """The questions so far. It is over when everybody has answered, or at the first no: any no wins."""

    terms: Terms
    ledger: Ledger

    @property
    def now(self) -> tuple[Seat, Giver] | None:
        """Who answers next, for which seat; None when it is over."""
        if self.most is Consent.NOTHING:
            return None
        return next((one for one in ask_order(self.ledger.seats) if one not in self.ledger.answers), None)

    @property
    def most(self) -> Consent:
        """The most that can still come of it: nobody is asked for more than somebody before has agreed to."""
        return min([self.terms.most, *(receipt.level for receipt in self.ledger.receipts)])

    def answered(self, level: Consent, wording: int) -> "Asking":
        """After the answer of whoever was asked; ``wording`` is the version of the question."""
        assert self.now is not None
        seat, giver = self.now
        receipt = Receipt(seat, giver, min(level, self.most), self.terms.day, wording, self.terms.until)
        return replace(self, ledger=self.ledger.with_answer(receipt))


def asking(seats: Sequence[Seat], terms: Terms) -> Asking:
    """Nobody has been asked yet."""
    return Asking(terms, Ledger(tuple(seats)))


@dataclass(frozen=True, slots=True)
class Question:
    """One question: its lines, how to answer, and what each answer stands for. ``buttons`` are the answers worth a button."""

    lines: tuple[str, ...]
    how: str
    answers: Mapping[str, Consent]
    buttons: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Questions:
    """The words. Made by :func:`read_questions`."""

    words: Mapping[str, Any]

    @property
    def version(self) -> int:
        """Goes on every receipt: to which wording somebody agreed."""
        return int(self.words["version"])

    def told(self, terms: Terms) -> tuple[str, ...]:
        """What everybody is told first."""
        told = self.words["grown_up"]
        return told["intro"], told[LEVELS[terms.most]], told["until"].format(until=terms.until)

    def question(self, asked: Asking, names: Mapping[Seat, str] | None = None) -> Question:
        """The question to whoever is asked now."""
        assert asked.now is not None
        seat, giver = asked.now
        name = (names or {}).get(seat, seat.value)
        return self._to_child(name, asked.most) if giver is Giver.CHILD else self._to_grown_up(name, seat, asked.most)

    def _to_grown_up(self, name: str, seat: Seat, most: Consent) -> Question:
        told = self.words["grown_up"]
        levels = {LEVELS[level]: level for level in Consent if level <= most}
        lines = (told["adult" if seat is Seat.FACILITATOR else "guardian"].format(seat=name),)
        no = {"": Consent.NOTHING, "no": Consent.NOTHING}
        return Question(lines, told["choices"].format(levels=", ".join(levels)), levels | no, tuple(levels))

    def _to_child(self, name: str, most: Consent) -> Question:
        told, result = self.words["child"], self.words["result"]
        lines = (told["intro"].format(seat=name), told[LEVELS[most]], told["who"], told["stop"], told["question"])
        answers = dict.fromkeys(result["yes"], most) | dict.fromkeys(result["no"], Consent.NOTHING)
        return Question(lines, told["choices"], answers, (result["yes"][0], result["no"][0]))

    def result(self, asked: Asking) -> str:
        """What comes of the answers."""
        result, level = self.words["result"], asked.ledger.level
        return str(result["kept"].format(level=LEVELS[level], until=asked.terms.until) if level else result["nothing"])

    @property
    def again(self) -> str:
        """To somebody who gave no answer."""
        return str(self.words["result"]["again"])


def read_questions(text: str) -> Questions:
    """The questions from the TOML text of ``shared/consent``.

    Raises:
        SharedError: it is not TOML, or a table is missing.
    """
    try:
        words = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise SharedError(f"shared/consent: this is not TOML ({error}). Mend the line it names.") from error
    if missing := {"version", "grown_up", "child", "result"} - words.keys():
        raise SharedError(f"shared/consent: {min(missing)!r} is missing. Write it there.")
    return Questions(words)
