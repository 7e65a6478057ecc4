"""What each page is told, as plain values for JSON.

What lives here: a snapshot put into the words of ``shared/pages``. What must not: a measure, a rule of the club, HTML. What the
room page is told holds nothing of the plan's steps but their number: the engineer alone sees the instructions.
"""

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from math import ceil
from typing import Any

from assistant.core.club.loudness import Loudness
from assistant.core.club.rota import describer
from assistant.core.club.script import Script
from assistant.core.club.settings import Settings
from assistant.core.club.setup_words import read_setup_words
from assistant.core.club.view import TurnLine
from assistant.core.plans.plan import Plan, Step
from assistant.core.wording import Count
from assistant.errors import SharedError
from assistant.events import Request
from assistant.pages.board import Snapshot
from assistant.samples import clock_face, to_seconds
from assistant.terms import Act, Cue, Phase, Praise, Prompt, Repair, Role, Seat

Told = dict[str, Any]


class Page(StrEnum):
    """The three pages. Each has an address of its own that tells nothing of the others'."""

    ROOM = "room"
    HELPER = "helper"
    ENGINEER = "engineer"


@dataclass(frozen=True, slots=True)
class PageTexts:
    """The words of the pages. Made by :func:`read_page_texts`."""

    page: Mapping[Page, Mapping[str, str]]
    say: Mapping[str, str]
    tally: Mapping[str, str]
    doing: Mapping[str, str]
    """What an utterance does, by the words of its kind, or of its ``Act`` where it has no kind."""
    rules: tuple[str, ...]
    roles: Mapping[str, str]
    room: Mapping[str, str]
    """What the room's own noise means; the set-up page says the same."""


def read_page_texts(pages: str, rules: str, roles: str, setup: str) -> PageTexts:
    """The words from the TOML texts of ``shared/pages``, ``shared/rules``, ``shared/roles`` and ``shared/setup``.

    Raises:
        SharedError: a table is missing, or it is not TOML.
    """
    try:
        raw = tomllib.loads(pages)
        return PageTexts(
            {page: raw[page.value] for page in Page},
            raw["say"],
            raw["tally"],
            {what: raw["doing"][what] for what in (*Act, *Repair, *Prompt, *Praise)},
            tuple(tomllib.loads(rules)["rules"]),
            {role: table["title"] for role, table in tomllib.loads(roles).items()},
            read_setup_words(setup)["room"],
        )
    except tomllib.TOMLDecodeError as error:
        raise SharedError(f"shared/pages: this is not TOML ({error}). Mend the line it names.") from error
    except (KeyError, TypeError, AttributeError) as error:
        tables = "a table for each page, [say], [doing] and [tally]"
        raise SharedError(f"shared/pages: {error} is missing. It holds {tables}.") from error


@dataclass(frozen=True, slots=True)
class Teller:
    """Puts snapshots into words. ``source`` and ``recogniser``: where the sound and the words come from."""

    plan: Plan
    settings: Settings
    script: Script
    texts: PageTexts
    source: str
    recogniser: str
    show_words: bool = True

    def tell(self, page: Page, snapshot: Snapshot) -> Told:
        """What this page is told of this moment."""
        return {"over": snapshot.is_over} | _TELL[page](self, snapshot)

    def step_of(self, snapshot: Snapshot) -> Step | None:
        """The step that is being built."""
        view = snapshot.view
        return self.plan.steps[view.step - 1] if view.phase is Phase.BUILDING and view.step else None

    # --- room -------------------------------------------------------------------------------------------------------------

    def room(self, snapshot: Snapshot) -> Told:
        """For children: roles, time, the swap to come, and what was last said to all."""
        standing, told = self._standing(snapshot), self._told(snapshot)
        if standing["swap"] == told:  # once is enough
            standing["swap"] = ""
        return standing | {
            "kind": self._kind(snapshot),
            "told": told,
            "moment": bool(snapshot.view.cue and snapshot.view.cue.cue in _MOMENTS),
            "left": 0.0 if snapshot.is_over else snapshot.left_samples / max(1, snapshot.view.end_sample),
            "clearing": 1 - self.settings.clear_away_sample / self.settings.length_samples,
        }

    def _kind(self, snapshot: Snapshot) -> str:
        """The icon beside what is told."""
        view = snapshot.view
        if view.paused:
            return "break"
        of_phase = _PHASE_ICONS[view.phase]
        return _CUE_ICONS.get(view.cue.cue, of_phase) if view.cue else of_phase

    def _told(self, snapshot: Snapshot) -> str:
        view, say = snapshot.view, self.texts.say
        if view.paused:
            return say["paused"]
        if view.cue and not snapshot.is_over:
            return view.cue.text
        return say["over" if snapshot.is_over else "setting_up" if view.phase is Phase.SETTING_UP else "building"]

    # --- both the room and the helper -----------------------------------------------------------------------------------------

    def _standing(self, snapshot: Snapshot) -> Told:
        view, building = snapshot.view, snapshot.view.phase is Phase.BUILDING
        roles = [
            {"role": role.value, "title": self._title(role), "seat": seat.value, "name": snapshot.name(seat)}
            for seat, role in view.roles
        ]
        return {
            "plan": view.plan,
            "phase": view.phase.value,
            "paused": view.paused,
            "roles": roles,
            "step": self.texts.say["step"].format(step=view.step, steps=view.steps) if building else "",
            "swap": self.script.swap_soon(view.to_swap) if building and view.to_swap else "",
            "time": "" if snapshot.is_over else self.script.time_left(ceil(to_seconds(snapshot.left_samples) / 60)),
        }

    def _title(self, role: Role) -> str:
        return self.texts.roles[role.value]

    # --- helper -----------------------------------------------------------------------------------------------------------

    def helper(self, snapshot: Snapshot) -> Told:
        """For the adult: all of it."""
        view, hint = snapshot.view, snapshot.hint
        return self._standing(snapshot) | {
            "clock": "" if snapshot.is_over else self.texts.say["left"].format(time=clock_face(snapshot.left_samples)),
            "picture": self._picture(snapshot),
            "about": self._about(snapshot),
            "note": snapshot.note or view.refused or (self.texts.say["on_break"] if view.paused else ""),
            "shared": snapshot.is_shared,
            "hint": {"text": hint.text, "seen": hint.seen} if hint else None,
            "turns": [self._turn(snapshot, turn) for turn in reversed(view.turns)],
            "heard": self._heard(snapshot),
            "tallies": [
                {"what": what, "label": label, "of": self._tallies(snapshot, what)} for what, label in self.texts.tally.items()
            ],
            "last": self._last_tally(snapshot),
            "sound": self._sound(snapshot),
            "level": level_told(snapshot.loudness, self.texts.room),
        }

    def _picture(self, snapshot: Snapshot) -> Told | None:
        step = self.step_of(snapshot)
        return {"step": step.number, "alt": self._where(step)} if step else None

    def _about(self, snapshot: Snapshot) -> list[str]:
        step, say = self.step_of(snapshot), self.texts.say
        if step is None:
            return [say[_WHAT_NEXT[snapshot.view.phase]]] if snapshot.view.phase in _WHAT_NEXT else []
        lines = [say["put"].format(pieces=", ".join(step.measured))] if step.put else []
        lines += [say["use"].format(pieces=", ".join(piece.name for piece in step.use))] if step.use else []
        lines += [say["where"].format(where=step.where)] if step.where else []
        lines += [say["adult"]] if step.care else []
        return [*lines, self._next(step)]

    def _next(self, step: Step) -> str:
        if step.number == len(self.plan.steps):
            return self.texts.say["last_step"]
        return self.texts.say["next"].format(pieces=self._where(self.plan.steps[step.number]))

    def _where(self, step: Step) -> str:
        """A step in words."""
        pieces = ", ".join(step.measured or tuple(piece.name for piece in step.use))
        return "; ".join(part for part in (pieces, step.where) if part)

    def _turn(self, snapshot: Snapshot, turn: TurnLine) -> Told:
        say, at = self.texts.say, clock_face(turn.heard.start_sample)
        said = turn.heard.text if self.show_words else say["words"].format(count=Count(len(turn.heard.words)))
        seats = (*snapshot.view.seats, Seat.FACILITATOR)
        return {
            "unit": turn.heard.unit,
            "at": at,
            "seat": turn.seat.value,
            "who": " ".join(part for part in (self._who(snapshot, turn.seat), turn.role.value if turn.role else "") if part),
            "said": said or say["says_nothing"],
            "doing": self._doing(turn),
            "choices": [
                {"seat": seat.value, "label": say["who"].format(at=at, name=self._who(snapshot, seat))} for seat in seats
            ],
        }

    def _who(self, snapshot: Snapshot, seat: Seat) -> str:
        return self.texts.say["adult_name"] if seat is Seat.FACILITATOR else snapshot.name(seat)

    def _doing(self, turn: TurnLine) -> str:
        understood = turn.understood
        if understood is None:
            return ""
        if understood.request:
            return self._asked(understood.request)
        kind = understood.repair or understood.prompt or understood.praise
        return self.texts.doing[kind or understood.act]

    def _asked(self, request: Request) -> str:
        say = self.texts.say
        what = " ".join(value for _, value in request.attributes) if self.show_words else ""
        fits = say["fits" if request.fits_after else "fits_none"].format(
            count=Count(request.fits_after), before=request.fits_before
        )
        asked = say["asks"].format(what=what or say["a_piece"], fits=fits)
        return f"{asked}, {say['open']}" if request.is_open else asked

    def _heard(self, snapshot: Snapshot) -> list[str]:
        view = snapshot.view
        return [
            self.texts.say["turns"].format(name=self._who(snapshot, seat), count=view.heard.get(seat, 0))
            for seat in (*view.seats, Seat.FACILITATOR, Seat.UNSURE)
        ]

    def _tallies(self, snapshot: Snapshot, what: str) -> list[Told]:
        counts = [(seat, snapshot.name(seat), snapshot.view.tallied(seat, what)) for seat in snapshot.view.seats]
        return [
            {"seat": seat.value, "text": f"{name} {count}", "label": f"{name} {count}: {self.texts.tally[what]}"}
            for seat, name, count in counts
        ]

    def _tally(self, snapshot: Snapshot, seat: Seat, what: str) -> str:
        return self.texts.say["tally"].format(name=snapshot.name(seat), what=self.texts.tally[what])

    def _last_tally(self, snapshot: Snapshot) -> Told | None:
        if not snapshot.view.tallies:
            return None
        seat, what = snapshot.view.tallies[-1]
        return {"seat": seat.value, "what": what, "label": self._tally(snapshot, seat, what)}

    def _sound(self, snapshot: Snapshot) -> list[str]:
        say, view = self.texts.say, snapshot.view
        now = say["cue_now" if view.saying else "speaking" if view.speaking else "listening"]
        lines = [now, say["from"].format(source=self.source, recogniser=self.recogniser), self._sureness(view.heard)]
        return [*lines, say["lost"].format(seconds=f"{to_seconds(view.lost_samples):.1f}")] if view.lost_samples else lines

    def _sureness(self, heard: Mapping[Seat, int]) -> str:
        """How many of the turns heard have a letter."""
        say, of, unsure = self.texts.say, Count(sum(heard.values())), Count(heard.get(Seat.UNSURE, 0))
        if not unsure:
            return say["all_sure" if of else "nothing_heard"]
        return say["unsure"].format(count=unsure, of=of, percent=round(100 * unsure / of))

    # --- engineer ---------------------------------------------------------------------------------------------------------

    def engineer(self, snapshot: Snapshot) -> Told:
        """For whoever describes: the current step alone."""
        step, view = self.step_of(snapshot), snapshot.view
        name = snapshot.name(describer(view.roles)) if view.roles else ""
        return {
            "round": view.round,
            "uncover": self.texts.page[Page.ENGINEER]["uncover"].format(name=name),
            "step": self.texts.say["step"].format(step=view.step, steps=view.steps) if step else "",
            "picture": self._picture(snapshot),
            "help": step.hint or step.where if step else "",
        }


def level_told(loudness: Loudness | None, words: Mapping[str, str]) -> Told:
    """How loud it is, for a meter and in words.

    Args:
        words: the table ``room`` of ``shared/setup``.
    """
    if loudness is None:
        return {"share": 0, "said": words["nothing"]}
    return {"share": round(loudness.share, 2), "said": words["clipped" if loudness.clipped else loudness.room]}


_TELL = {Page.ROOM: Teller.room, Page.HELPER: Teller.helper, Page.ENGINEER: Teller.engineer}
_WHAT_NEXT = {Phase.SETTING_UP: "to_begin", Phase.CLEARING: "to_end"}
"""What the adult reads where there is no step: how the session goes on."""
_MOMENTS = frozenset({Cue.SWAP, Cue.PASS, Cue.CLEAR_AWAY})
"""What is shown larger than the rest: now everybody does something else."""
_CUE_ICONS = {
    Cue.SWAP_SOON: "swap",
    Cue.SWAP: "swap",
    Cue.PASS: "swap",
    Cue.MODEL_DONE: "look",
    Cue.CLEAR_AWAY: "clear away",
    Cue.END: "over",
}
_PHASE_ICONS = {
    Phase.SETTING_UP: "set up",
    Phase.BUILDING: "build",
    Phase.ADMIRING: "look",
    Phase.CLEARING: "clear away",
    Phase.OVER: "over",
}
