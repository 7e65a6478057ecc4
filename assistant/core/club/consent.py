"""What the people of a session agreed to have kept: asked of each, and any "no" wins.

What lives here: the levels, the answers, the receipts. What must not: how anybody is asked (the words are in
``shared/consent/``), what a date is today, or where anything is kept. Dates are texts, ``"2027-01-12"``, and compare as such.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from enum import IntEnum, StrEnum

from assistant.terms import CHILDREN, Seat


class Consent(IntEnum):
    """How much may be kept; each level includes the ones before."""

    NOTHING = 0
    TIMELINE = 1
    WORDS = 2
    VOICES = 3

    @classmethod
    def from_text(cls, text: str) -> "Consent":
        """The level of this name, ``"timeline"``."""
        return cls[text.upper()]


LEVELS = tuple(level.name.lower() for level in Consent)


class Giver(StrEnum):
    """Who answers for a seat."""

    GUARDIAN = "guardian"
    CHILD = "child"
    ADULT = "adult"  # the facilitator, for the own voice


def givers(seat: Seat) -> tuple[Giver, ...]:
    """Who has to answer for this seat: for a child its guardian, and the child itself."""
    return (Giver.GUARDIAN, Giver.CHILD) if seat in CHILDREN else (Giver.ADULT,)


@dataclass(frozen=True, slots=True)
class Receipt:
    """One answer, written down: for which seat, by whom, how much, on which day, to which wording, and until when.

    ``withdrawn``: the answer was taken back; its level is then NOTHING.
    """

    seat: Seat
    giver: Giver
    level: Consent
    day: str
    wording: int
    until: str
    withdrawn: bool = False


@dataclass(frozen=True, slots=True)
class Ledger:
    """The answers for one session. ``seats`` are all people who can be heard in it, the facilitator included.

    Whoever was not asked has not agreed.
    """

    seats: tuple[Seat, ...]
    receipts: tuple[Receipt, ...] = ()

    @property
    def level(self) -> Consent:
        """How much may be kept: the lowest of all answers."""
        given = self.answers
        wanted = [(seat, giver) for seat in self.seats for giver in givers(seat)]
        return min((given.get(one, Consent.NOTHING) for one in wanted), default=Consent.NOTHING)

    @property
    def until(self) -> str:
        """The day on which it deletes itself: the earliest that anybody named."""
        return min((receipt.until for receipt in self.receipts), default="")

    @property
    def answers(self) -> Mapping[tuple[Seat, Giver], Consent]:
        """The last answer of each."""
        return {(receipt.seat, receipt.giver): receipt.level for receipt in self.receipts}

    def with_answer(self, receipt: Receipt) -> "Ledger":
        """The ledger with one more answer; it replaces an earlier one of the same giver for the same seat."""
        others = (one for one in self.receipts if (one.seat, one.giver) != (receipt.seat, receipt.giver))
        return Ledger(self.seats, (*others, receipt))

    def withdrawn(self, seat: Seat, giver: Giver, day: str) -> "Ledger":
        """The ledger after somebody has taken an answer back; nothing of the session may be kept from here on."""
        until = self.until or day
        return self.with_answer(Receipt(seat, giver, Consent.NOTHING, day, self.wording, until, withdrawn=True))

    @property
    def wording(self) -> int:
        """Which version of the questions was asked."""
        return max((receipt.wording for receipt in self.receipts), default=0)


def ask_order(seats: Iterable[Seat]) -> Sequence[tuple[Seat, Giver]]:
    """Whom to ask, and in which order: guardians and adults first, then each child, so that a child's word is the last."""
    asked = [(seat, giver) for seat in seats for giver in givers(seat)]
    return sorted(asked, key=lambda one: one[1] is Giver.CHILD)
