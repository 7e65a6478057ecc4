"""Before anything is kept: everybody is asked, in words from ``shared/consent/``.

What lives here: asking, and asking again where an answer is none. What must not: what the answers add up to
(:mod:`assistant.core.club.consent` says that), or writing them down.
"""

import tomllib
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

from rich.console import Console

from assistant.core.club.consent import LEVELS, Consent, Giver, Ledger, Receipt, ask_order
from assistant.terms import Seat

Asking = Callable[[str], str]
"""Puts a question and gives back the answer; an ``EOFError`` is nobody there, and so a no."""


@dataclass(frozen=True, slots=True)
class Terms:
    """What is asked for: at most this level, and until when it would be kept. Days are texts."""

    most: Consent
    day: str
    until: str


def ask_everybody(seats: Sequence[Seat], terms: Terms, texts: str, console: Console, ask: Asking = input) -> Ledger:
    """Ask each guardian, the adult, and then each child; stop at the first no, because any no wins.

    Args:
        texts: ``shared/consent/<language>.toml``.
    """
    words = tomllib.loads(texts)
    console.print(_told(words, terms), soft_wrap=True)
    ledger = Ledger(tuple(seats))
    for seat, giver in ask_order(seats):
        most = ledger_so_far(ledger, terms)
        level = _child(seat, most, words, console, ask) if giver is Giver.CHILD else _grown_up(seat, most, words, console, ask)
        ledger = ledger.with_answer(Receipt(seat, giver, level, terms.day, int(words["version"]), terms.until))
        if level is Consent.NOTHING:
            break
    result = words["result"]
    name = LEVELS[ledger.level]
    console.print(result["kept"].format(level=name, until=terms.until) if ledger.level else result["nothing"], soft_wrap=True)
    return ledger


def ledger_so_far(ledger: Ledger, terms: Terms) -> Consent:
    """The most that can still come of it: nobody is asked for more than somebody before has agreed to."""
    return min([terms.most, *(receipt.level for receipt in ledger.receipts)])


def synthetic(seats: Sequence[Seat], terms: Terms, texts: str) -> Ledger:
    """The ledger of a session in which every voice is synthetic: nobody has to be asked."""
    version = int(tomllib.loads(texts)["version"])
    return Ledger(
        tuple(seats), tuple(Receipt(*one, terms.most, terms.day, version, terms.until) for one in ask_order(seats))
    )


def _told(words: dict[str, Any], terms: Terms) -> str:
    told = words["grown_up"]
    return "\n".join([told["intro"], told[LEVELS[terms.most]], told["until"].format(until=terms.until)])


def _grown_up(seat: Seat, most: Consent, words: dict[str, Any], console: Console, ask: Asking) -> Consent:
    told = words["grown_up"]
    console.print(told["adult" if seat is Seat.FACILITATOR else "guardian"].format(seat=seat.value), soft_wrap=True)
    levels = {LEVELS[level]: level for level in Consent if level <= most}
    question = told["choices"].format(levels=", ".join(levels))
    return _answer(question, levels | {"": Consent.NOTHING, "no": Consent.NOTHING}, words, console, ask)


def _child(seat: Seat, most: Consent, words: dict[str, Any], console: Console, ask: Asking) -> Consent:
    told, result = words["child"], words["result"]
    lines = (told["intro"].format(seat=seat.value), told[LEVELS[most]], told["who"], told["stop"], told["question"])
    console.print("\n".join(lines), soft_wrap=True)
    answers = dict.fromkeys(result["yes"], most) | dict.fromkeys(result["no"], Consent.NOTHING)
    return _answer(told["choices"], answers, words, console, ask)


def _answer(question: str, answers: dict[str, Consent], words: dict[str, Any], console: Console, ask: Asking) -> Consent:
    while True:
        try:
            said = ask(f"{question}: ").strip().lower()
        except EOFError:
            return Consent.NOTHING
        if said in answers:
            return answers[said]
        console.print(words["result"]["again"], soft_wrap=True)
