"""From what the helper page sends to an order for the road.

What lives here: reading a small JSON object, strictly. What must not: whether the order can be followed now; the session says.
"""

import json
from collections.abc import Collection, Mapping
from typing import Any

from assistant.core.club.consent import Consent
from assistant.core.club.setting_up import (
    LONGEST_NAME,
    LONGEST_PASSPHRASE,
    Choose,
    Deed,
    Do,
    Passphrase,
    SetUpOrder,
    What,
    one_line,
)
from assistant.errors import SettingsError
from assistant.events import Marked
from assistant.pages.board import Named, Order, Pressed, PutAway
from assistant.terms import CHILDREN, Mark, Seat

_WITH_SEAT = frozenset({Mark.PASS, Mark.WHO, Mark.TALLY, Mark.TALLY_BACK})
_WITH_WHAT = frozenset({Mark.TALLY, Mark.TALLY_BACK})
_MOST_UNITS = 10**9


class BadOrderError(ValueError):
    """What was sent is no order; the text says why."""


def read_order(raw: bytes, seats: Collection[Seat], tallies: Collection[str]) -> Order:
    """The order that a page sent: ``{"do": "pass", "seat": "A"}``.

    Args:
        raw: the body as it came.
        seats: the children's seats of this session.
        tallies: what can be tallied.

    Raises:
        BadOrderError: it is anything else.
    """
    sent = _object(raw)
    do = sent.get("do")
    if do == "key":
        return Pressed(_text(sent, "key", 1))
    if do == "put away":
        return PutAway()
    if do == "names":
        return Named(_names(sent, seats))
    return _mark(sent, seats, tallies)


def _object(raw: bytes) -> dict[str, Any]:
    try:
        sent = json.loads(raw)
    except (ValueError, RecursionError) as error:
        raise BadOrderError("This is not JSON.") from error
    if not isinstance(sent, dict):
        raise BadOrderError("An order is a JSON object.")
    return sent


def _mark(sent: Mapping[str, Any], seats: Collection[Seat], tallies: Collection[str]) -> Marked:
    do = sent.get("do")
    if not isinstance(do, str) or do not in list(Mark):
        raise BadOrderError("There is no such order.")
    mark = Mark(do)
    known = {*seats, Seat.FACILITATOR} if mark is Mark.WHO else seats
    seat = _seat(sent, known) if mark in _WITH_SEAT else None
    what = _text(sent, "what", 40) if mark in _WITH_WHAT else ""
    if what and what not in tallies:
        raise BadOrderError("There is no such tally.")
    return Marked(0, mark, seat, _unit(sent) if mark is Mark.WHO else None, what)


def _seat(sent: Mapping[str, Any], seats: Collection[Seat]) -> Seat:
    seat = sent.get("seat")
    if not isinstance(seat, str) or seat not in seats:
        raise BadOrderError("There is no such seat.")
    return Seat(seat)


def _unit(sent: Mapping[str, Any]) -> int:
    unit = sent.get("unit")
    if not isinstance(unit, int) or isinstance(unit, bool) or not 0 <= unit < _MOST_UNITS:
        raise BadOrderError("There is no such turn.")
    return unit


def _names(sent: Mapping[str, Any], seats: Collection[Seat]) -> dict[Seat, str]:
    """Names as they can be shown and said: one line, nothing that does not print; a seat whose name is empty has none."""
    names = sent.get("names")
    if not isinstance(names, dict) or not all(isinstance(name, str) for name in names.values()):
        raise BadOrderError("Names are texts, each for a seat.")
    try:
        shown = {_seat({"seat": seat}, seats): one_line(name, LONGEST_NAME) for seat, name in names.items()}
    except SettingsError as error:
        raise BadOrderError(str(error)) from error
    return {seat: name for seat, name in shown.items() if name}


def _text(sent: Mapping[str, Any], key: str, longest: int) -> str:
    value = sent.get(key)
    if not isinstance(value, str) or not 1 <= len(value) <= longest:
        raise BadOrderError(f"The order lacks its {key}.")
    return value


# --- the set-up page ------------------------------------------------------------------------------------------------------

_EVERYBODY = (*CHILDREN, Seat.FACILITATOR)
_LONGEST_VALUE = 400
_LONGEST_PLACE = 40


def read_set_up_order(raw: bytes) -> SetUpOrder:
    """The order that the set-up page sent: ``{"do": "choose", "what": "plan", "value": "little-boat"}``, ``{"do": "next"}``.

    Raises:
        BadOrderError: it is anything else.
    """
    sent = _object(raw)
    do, seat = sent.get("do"), _seat(sent, _EVERYBODY) if "seat" in sent else None
    if do == "choose":
        return _choice(sent, seat)
    at = _text(sent, "at", _LONGEST_PLACE) if "at" in sent else ""
    if do == "unlock":
        return Passphrase(_secret(sent, "passphrase"), _secret(sent, "again") if "again" in sent else "", at)
    if not isinstance(do, str) or do not in list(Deed):
        raise BadOrderError("There is no such order.")
    return Do(Deed(do), seat, _level(sent), at)


def _secret(sent: Mapping[str, Any], key: str) -> str:
    """A passphrase as it was typed; no refusal says what it was."""
    secret = sent.get(key)
    if not isinstance(secret, str) or not secret:
        raise BadOrderError("Type the passphrase first.")
    if "\0" in secret or any("\ud800" <= letter <= "\udfff" for letter in secret):
        raise BadOrderError("A passphrase is text.")  # what no keyboard types, and no file can hold
    if len(secret) > LONGEST_PASSPHRASE:
        raise BadOrderError(f"Here a passphrase has at most {LONGEST_PASSPHRASE} letters.")
    return secret


def _choice(sent: Mapping[str, Any], seat: Seat | None) -> Choose:
    what, value = sent.get("what"), sent.get("value")
    if not isinstance(what, str) or what not in list(What):
        raise BadOrderError("There is no such choice.")
    if not isinstance(value, str) or len(value) > _LONGEST_VALUE:
        raise BadOrderError("A choice is a short text.")
    return Choose(What(what), value, seat)


def _level(sent: Mapping[str, Any]) -> Consent:
    level = sent.get("level", "nothing")
    known = {one.name.lower(): one for one in Consent}
    if not isinstance(level, str) or level not in known:
        raise BadOrderError("There is no such level.")
    return known[level]
