"""The words of the cues: short, calm, and the same each time.

What lives here: the texts from ``shared/cues`` and ``shared/roles``, filled in. What must not: when a cue is said.
"""

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from assistant.core.club.rota import Roles
from assistant.core.club.settings import Settings
from assistant.errors import SharedError
from assistant.terms import Cue, Role, Seat


@dataclass(frozen=True, slots=True)
class Script:
    """Every cue's wording, and one sentence for each role. Made by :func:`read_script`."""

    lines: Mapping[str, str]
    role_lines: Mapping[str, str]
    steps: tuple[str, str]
    minutes: tuple[str, str]
    numbers: tuple[str, ...]

    def plain(self, cue: Cue) -> str:
        """A cue in which nothing is filled in."""
        return self.lines[_key(cue)]

    def with_roles(self, cue: Cue, roles: Roles, settings: Settings, seat: Seat | None = None) -> str:
        """A cue that says what each child does now. ``seat`` is the one who passed."""
        sentences = " ".join(self._role(role, len(roles)).format(seat=settings.name(held)) for held, role in roles)
        passing = settings.name(seat) if seat else ""
        return self.lines[_key(cue)].format(roles=sentences, seat=passing)

    def swap_soon(self, steps: int | None) -> str:
        """The announcement, with the steps that are left or, when time decides, without."""
        if steps is None:
            return self.lines["swap_soon_by_time"]
        return self.lines["swap_soon"].format(steps=self._count(self.steps, steps))

    def time_left(self, minutes: int, *, to_build: bool = False) -> str:
        """How long the session still goes on, or how long it is until clear-away."""
        return self.lines["time_left_to_build" if to_build else "time_left"].format(minutes=self._count(self.minutes, minutes))

    def end(self, *, building_stops: bool) -> str:
        """That the club is over, and building with it where there was no time for clearing away."""
        return self.lines["end_of_building" if building_stops else "end"]

    def _role(self, role: Role, children: int) -> str:
        of_two = f"{role.value}_of_two"
        return self.role_lines[of_two if children == 2 and of_two in self.role_lines else role.value]

    def _count(self, forms: tuple[str, str], number: int) -> str:
        word = self.numbers[number] if number < len(self.numbers) else str(number)
        return (forms[0] if number == 1 else forms[1]).format(number=word.capitalize())


def read_script(cues: str, roles: str) -> Script:
    """The wording from the two TOML texts.

    Raises:
        SharedError: a cue or a role has no words, or it is not TOML.
    """
    cue_table, role_table = _toml(cues, "shared/cues"), _toml(roles, "shared/roles")
    for key in (*map(_key, Cue), "swap_soon_by_time", "time_left_to_build", "end_of_building"):
        if not isinstance(cue_table.get(key), str):
            raise SharedError(f'shared/cues: the cue {key!r} has no words. Write {key} = "...".')
    for role in Role:
        if not isinstance(role_table.get(role.value, {}).get("cue"), str):
            raise SharedError(f'shared/roles: the role {role.value!r} has no sentence. Write cue = "..." under [{role.value}].')
    try:
        count = cue_table["count"]
        return Script(
            lines={key: text for key, text in cue_table.items() if isinstance(text, str)},
            role_lines={key: table["cue"] for key, table in role_table.items()},
            steps=tuple(count["steps"]),
            minutes=tuple(count["minutes"]),
            numbers=tuple(count["numbers"]),
        )
    except (KeyError, TypeError) as error:
        raise SharedError(f"shared/cues: the table [count] lacks {error}. It holds steps, minutes, numbers.") from error


def _key(cue: Cue) -> str:
    return cue.value.replace(" ", "_")


def _toml(text: str, source: str) -> dict[str, Any]:
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise SharedError(f"{source}: this is not TOML ({error}). Mend the line it names.") from error
