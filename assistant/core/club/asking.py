"""Asking everybody before anything is kept, one question after the other; the terminal and the set-up page are its two faces.

What lives here: whose turn it is to answer, what can still be asked for, and the questions in words from ``shared/consent``.
What must not: how a question is shown or an answer comes in, what the answers add up to (:mod:`assistant.core.club.consent`).

Voices are a consent of their own. Where they are to be kept, everybody is asked about the words first, and about the voices
only when all have agreed to the words; a no to the voices leaves the words as they were agreed to::

    guardians ─► adult ─► children ─┬─► guardians ─► adult ─► children
    nothing, timeline or words      │   the voices: yes or no
                                    └─ somebody chose less than the words: nobody is asked about the voices
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
    """The questions so far. It is over when everybody has answered, or at the first no: any no wins.

    ``about_voices``: who has answered the question about the voices.
    """

    terms: Terms
    ledger: Ledger
    about_voices: tuple[tuple[Seat, Giver], ...] = ()

    @property
    def now(self) -> tuple[Seat, Giver] | None:
        """Who answers next, for which seat; None when it is over."""
        if self.most is Consent.NOTHING:
            return None
        answered = self.about_voices if self.is_about_voices else self.ledger.answers
        if any(self.ledger.answers[one] < Consent.VOICES for one in self.about_voices):
            return None
        return next((one for one in ask_order(self.ledger.seats) if one not in answered), None)

    @property
    def is_about_voices(self) -> bool:
        """Whether everybody has agreed to the words, and is asked about the voices now."""
        return self.terms.most is Consent.VOICES and self.ledger.level >= Consent.WORDS

    @property
    def most(self) -> Consent:
        """The most that can come of the question now: nobody is asked for more than somebody before has agreed to."""
        if self.is_about_voices:
            return Consent.VOICES
        return min([self.terms.most, Consent.WORDS, *(receipt.level for receipt in self.ledger.receipts)])

    def answered(self, level: Consent, wording: int) -> "Asking":
        """After the answer of whoever was asked; ``wording`` is the version of the question.

        Whoever says no to the voices has agreed to the words before, and that stays.
        """
        assert self.now is not None
        seat, giver = self.now
        least = Consent.WORDS if self.is_about_voices else Consent.NOTHING
        agreed = max(least, min(level, self.most))
        receipt = Receipt(seat, giver, agreed, self.terms.day, wording, self.terms.until)
        asked = (*self.about_voices, (seat, giver)) if self.is_about_voices else self.about_voices
        return replace(self, ledger=self.ledger.with_answer(receipt), about_voices=asked)


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

    def told(self, asked: Asking) -> tuple[str, ...]:
        """What everybody is told before the first question, and before the first about the voices."""
        told = self.words["grown_up"]
        if asked.is_about_voices:
            return (told[LEVELS[Consent.VOICES]],)
        most, until = min(asked.terms.most, Consent.WORDS), told["until"].format(until=asked.terms.until)
        levels = (told[LEVELS[level]] for level in Consent if Consent.NOTHING < level <= most)  # each can be the answer
        lines = told["intro"], *levels, until
        return (*lines, told["voices_later"]) if asked.terms.most is Consent.VOICES else lines

    def question(self, asked: Asking, names: Mapping[Seat, str] | None = None) -> Question:
        """The question to whoever is asked now."""
        assert asked.now is not None
        seat, giver = asked.now
        name = (names or {}).get(seat, seat.value)
        if giver is Giver.CHILD:
            return self._to_child(name, asked)
        who = "adult" if seat is Seat.FACILITATOR else "guardian"
        return self._about_voices(name, who) if asked.is_about_voices else self._to_grown_up(name, who, asked.most)

    def _to_grown_up(self, name: str, who: str, most: Consent) -> Question:
        told = self.words["grown_up"]
        levels = {LEVELS[level]: level for level in Consent if level <= most}
        no = {"": Consent.NOTHING, "no": Consent.NOTHING}
        how = told["choices"].format(levels=", ".join(levels))
        return Question((told[who].format(seat=name),), how, levels | no, tuple(levels))

    def _about_voices(self, name: str, who: str) -> Question:
        told = self.words["grown_up"]
        return self._yes_or_no((told[f"{who}_voices"].format(seat=name),), told["choices_voices"], Consent.VOICES)

    def _to_child(self, name: str, asked: Asking) -> Question:
        told, voices_later = self.words["child"], asked.terms.most is Consent.VOICES and asked.most is Consent.WORDS
        what = told["words_first" if voices_later else LEVELS[asked.most]]
        lines = (told["intro"].format(seat=name), what, told["who"], told["stop"], told["question"])
        return self._yes_or_no(lines, told["choices"], asked.most)

    def _yes_or_no(self, lines: tuple[str, ...], how: str, most: Consent) -> Question:
        result = self.words["result"]
        answers = dict.fromkeys(result["yes"], most) | dict.fromkeys(result["no"], Consent.NOTHING)
        return Question(lines, how, answers, (result["yes"][0], result["no"][0]))

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
