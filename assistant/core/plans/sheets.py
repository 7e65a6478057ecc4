"""The words on paper: role cards, rules, lists, titles.

What lives here: the texts of ``shared/roles``, ``rules``, ``checklists`` and ``sheets`` as frozen values. What must not: how
they look on a page. Cues and pages read the same files, so that a rule reads alike wherever it stands.
"""

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from assistant.core.wording import counted
from assistant.errors import SharedError
from assistant.terms import ROLES_BY_CHILDREN, Role


@dataclass(frozen=True, slots=True)
class RoleCard:
    """What stands on a child's card."""

    role: Role
    title: str
    lines: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class SheetTexts:
    """Every text that a printed sheet may need. Made by :func:`read_sheets`."""

    cards: Mapping[str, RoleCard]
    rules: tuple[str, ...]
    younger: tuple[str, ...]
    set_up: tuple[str, ...]
    clear_away: tuple[str, ...]
    words: Mapping[str, Mapping[str, Any]]

    def role_cards(self, children: int) -> tuple[RoleCard, ...]:
        """One card a child: with two children the builder's card is another."""
        keys = [f"{role.value}_of_two" if children == 2 else role.value for role in ROLES_BY_CHILDREN[children]]
        roles = zip(keys, ROLES_BY_CHILDREN[children], strict=True)
        return tuple(self.cards.get(key, self.cards[role.value]) for key, role in roles)

    def say(self, table: str, key: str, **filled: object) -> str:
        """A text from the sheets' words, filled in."""
        return str(self.words[table][key]).format(**counted(filled))


_WORDS: dict[str, tuple[str, ...]] = {
    "care": ("hot", "sharp"),
    "title": ("rules", "own_rules", "tray", "steps", "words", "set_up", "clear_away", "timetable", "rota"),
    "step": ("number", "cover", "cover_how", "again", "hint"),
    "tray": ("total", "size", "there", "back"),
    "timetable": ("minutes", "together", "part"),
    "rota": ("round", "passes", "pass_how", "passed", "equal", "balanced", "empty"),
    "choking": ("small parts", "not measured", "food", "large enough"),
    "calendar": ("summary", "description", "day_before", "set_up"),
}
"""The tables of ``shared/sheets``, and what each must hold."""


def read_sheets(sheets: str, roles: str, rules: str, checklists: str) -> SheetTexts:
    """The texts from the four TOML files.

    Raises:
        SharedError: one is not TOML, or a text is missing.
    """
    words, cards = _toml(sheets, "sheets"), _toml(roles, "roles")
    club, lists = _toml(rules, "rules"), _toml(checklists, "checklists")
    for table, keys in _WORDS.items():
        for key in keys:
            if key not in words.get(table, {}):
                raise SharedError(f'shared/sheets: {key!r} is missing under [{table}]. Write "{key}" = "...".')
    return SheetTexts(
        cards={key: _card(key, table) for key, table in cards.items()},
        rules=_list(club, "rules", "rules"),
        younger=_list(club, "younger", "rules"),
        set_up=_list(lists, "set_up", "checklists"),
        clear_away=_list(lists, "clear_away", "checklists"),
        words=words,
    )


def _card(key: str, table: Any) -> RoleCard:
    try:
        return RoleCard(Role(key.removesuffix("_of_two")), table["title"], tuple(table["card"]))
    except (KeyError, TypeError, ValueError) as error:
        raise SharedError(f"shared/roles: [{key}] cannot be made a card ({error}). It needs title and card.") from error


def _list(table: Mapping[str, Any], key: str, file: str) -> tuple[str, ...]:
    value = table.get(key)
    if isinstance(value, list) and value and all(isinstance(line, str) for line in value):
        return tuple(value)
    raise SharedError(f'shared/{file}: {key} must be a list of sentences. Write {key} = ["...", "..."].')


def _toml(text: str, file: str) -> dict[str, Any]:
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise SharedError(f"shared/{file}: this is not TOML ({error}). Mend the line it names.") from error
