"""What the set-up page is told, as plain values for JSON: headings, fields, buttons, each with the order it stands for.

What lives here: the state of the set-up put into the words of ``shared/setup``. What must not: what may follow what
(:mod:`assistant.core.club.setting_up` says that), a measure, HTML.
"""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from math import ceil
from typing import Any

from assistant.core.club.asking import Questions
from assistant.core.club.consent import LEVELS, Consent, Giver
from assistant.core.club.setting_up import (
    LONGEST_NAME,
    LONGEST_PASSPHRASE,
    LONGEST_RULE,
    MOST_OWN_RULES,
    VOLUMES,
    Deed,
    Locking,
    SettingUp,
    Stage,
    TellApart,
    What,
)
from assistant.core.club.settings import LONGEST_MIN, SwapBy, SwapRule
from assistant.core.plans.model import Plan
from assistant.core.plans.small_parts import Caution, caution
from assistant.core.wording import Count, counted
from assistant.pages.telling import Told, level_told
from assistant.terms import Seat


class SetUpPage(StrEnum):
    """The one page there is before a session."""

    SET_UP = "setup"


@dataclass(frozen=True, slots=True)
class SetUpTexts:
    """The words of the set-up page. ``rules``: ours, and those for younger children; ``choking``: by kind of caution."""

    words: Mapping[str, Any]
    rules: tuple[tuple[str, ...], tuple[str, ...]]
    choking: Mapping[str, str]
    grades: Mapping[str, str]
    questions: Questions
    seconds: int
    """How long each voice is listened to."""


@dataclass(frozen=True, slots=True)
class Card:
    """What is shown of a plan beside what it says itself. ``picture``: its place; ``own``: lines for a family's own plan."""

    grade: str
    picture: str
    own: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class SetUpTeller:
    """Puts the state of the set-up into words. ``cards``: of each plan, by its name."""

    texts: SetUpTexts
    cards: Mapping[str, Card]

    def tell(self, page: str, state: SettingUp) -> Told:
        """What the page is told of this moment."""
        words, stages = self.texts.words, [stage for stage in state.stages if stage is not Stage.BEGUN]
        number = stages.index(state.stage) + 1 if state.stage in stages else len(stages)
        going_on = state.stage not in (Stage.READY, Stage.BEGUN)
        return {
            "over": state.is_over,
            "go": state.leads_to,
            "stage": state.stage.value,
            "at": state.at,
            "title": words["stage"][state.stage],
            "about": words["about"][state.stage].format(seconds=self.texts.seconds),
            "place": words["page"]["place"].format(number=number, count=len(stages)),
            "note": state.told,
            "parts": list(_PARTS[state.stage](self, state)),
            "back": state.stage not in (Stage.WHO, Stage.BEGUN),
            "next": going_on,
        }

    # --- the stages -------------------------------------------------------------------------------------------------------

    def _who(self, state: SettingUp) -> Iterator[Told]:
        yield self._choice(What.CHILDREN, str(state.wanted.children), ("2", "3"))
        for seat in state.wanted.seats:
            label = self.texts.words["field"]["name"].format(seat=seat.value)
            yield _text(state, What.NAME, label, state.wanted.names.get(seat, ""), LONGEST_NAME, seat=seat)
        yield self._choice(What.SMALL_CHILD, _yes(state.wanted.small_child), ("no", "yes"))

    def _plan(self, state: SettingUp) -> Iterator[Told]:
        asked = self.texts.words["ask"]["plan"]
        if state.offer.broken:
            yield _lines("broken", state.offer.broken, heading=asked["broken"], listed=True)
        hidden = [plan.title for name, plan in state.offer.plans.items() if self.cards[name].own and name not in state.plans]
        if hidden:
            yield _lines("hidden", [asked["hidden"].format(children=state.wanted.children, titles=", ".join(hidden))])
        options = [self._plan_option(name, plan, state) for name, plan in state.plans.items()]
        yield _choice(What.PLAN, asked["question"], state.wanted.plan, options)

    def _plan_option(self, name: str, plan: Plan, state: SettingUp) -> Told:
        card, pieces, steps = self.cards[name], sum(plan.tray().values()), len(plan.steps)
        filled = counted({"pieces": pieces, "steps": steps, "grade": self.texts.grades[card.grade]})
        return {
            "value": name,
            "label": plan.title,
            "lines": [self.texts.words["ask"]["plan"]["lines"].format(**filled), plan.about, *card.own],
            "picture": card.picture,
            "caution": self._caution(plan, state, Caution.NONE, Caution.LARGE_ENOUGH),
        }

    def _caution(self, plan: Plan, state: SettingUp, *silent: Caution) -> str:
        """What the youngest in the room makes necessary to say; empty for a silent kind of caution."""
        kind, pieces = caution(plan, state.wanted.youngest_years)
        return "" if kind in silent else self.texts.choking[kind].format(pieces=", ".join(piece.name for piece in pieces))

    def _club(self, state: SettingUp) -> Iterator[Told]:
        wanted, field = state.wanted, self.texts.words["field"]
        yield self._choice(What.SWAP, _swap(wanted.swap), [key for key in self.texts.words["ask"]["swap"] if key != "question"])
        yield _number(state, What.LENGTH, field["length"], wanted.length_min, 1, LONGEST_MIN)
        yield _number(state, What.SET_UP, field["set up"], wanted.set_up_min, 0, 30)
        yield _number(state, What.CLEAR_AWAY, field["clear away"], wanted.clear_away_min, 0, 30)
        building = wanted.length_min - wanted.set_up_min - wanted.clear_away_min
        yield _lines("building", [field["building"].format(minutes=Count(max(0, building))), *self._few_rounds(state)])
        yield self._choice(What.YOUNGER, _yes(wanted.younger), ("no", "yes"))
        yield _lines("rules", [*self.texts.rules[wanted.younger], *wanted.own_rules], listed=True)
        longest = MOST_OWN_RULES * (LONGEST_RULE + 1)
        yield _text(state, What.OWN_RULES, field["own rules"], "\n".join(wanted.own_rules), longest, rows=MOST_OWN_RULES)

    def _few_rounds(self, state: SettingUp) -> Iterator[str]:
        """That not every child gets every role, where the swaps are too few for that."""
        rounds, children = state.plan and state.wanted.swap.rounds(state.plan), state.wanted.children
        if rounds and rounds < children:
            yield self.texts.words["field"]["few rounds"].format(rounds=Count(rounds), children=children)

    def _sound(self, state: SettingUp) -> Iterator[Told]:
        wanted, ask = state.wanted, self.texts.words["ask"]
        options = [{"value": key, "label": name or ask["microphone"]["system"]} for key, name in state.offer.microphones]
        yield _choice(What.MICROPHONE, ask["microphone"]["question"], wanted.microphone, options)
        yield self._meter(state)
        yield self._choice(What.TELL_APART, wanted.tell_apart, [way.value for way in state.offer.tell_apart])
        if wanted.tell_apart is TellApart.MICROPHONES:
            yield _text(state, What.CHANNELS, self.texts.words["field"]["channels"], wanted.channels, 60)
        volume = min(VOLUMES, key=lambda name: abs(VOLUMES[name] - wanted.volume))
        yield self._choice(What.VOLUME, volume, list(VOLUMES))
        yield _lines("safe", [ask["volume"]["safe"]])
        if state.offer.can_say:
            yield _buttons("try", [_button(ask["volume"]["try"], Deed.TRY_CUE)])

    def _meter(self, state: SettingUp) -> Told:
        words = self.texts.words
        level = level_told(state.hearing, words["room"])
        return {"kind": "meter", "key": "meter", "label": words["page"]["level"]} | level

    def _voices(self, state: SettingUp) -> Iterator[Told]:
        yield self._meter(state)
        for seat in state.enrolling.seats:
            yield self._person(state, seat)
        lines = [line for line in (state.enrolling.refusal, state.separation) if line]
        yield _lines("separation", lines, live=True)

    def _person(self, state: SettingUp, seat: Seat) -> Told:
        learn, name = self.texts.words["learn"], self._name(state, seat)
        asked = state.enrolling.asked.get(seat)
        status = "waiting" if asked is None else "known" if asked else "skipped"
        if state.listening is seat:
            status = "listening"
        busy = state.listening is not None
        return {
            "kind": "person",
            "key": f"person {seat}",
            "said": learn[status].format(name=name),
            "left": learn["left"].format(seconds=ceil(state.left_s)) if state.listening is seat else "",
            "buttons": [
                _button(learn["again" if asked else "listen"].format(name=name), Deed.LISTEN, off=busy, seat=seat.value),
                _button(learn["not now"].format(name=name), Deed.NOT_NOW, off=busy and status != "listening", seat=seat.value),
            ],
        }

    def _name(self, state: SettingUp, seat: Seat) -> str:
        adult = str(self.texts.words["voices"]["adult"])
        return adult if seat is Seat.FACILITATOR else state.wanted.settings.name(seat)

    def _consent(self, state: SettingUp) -> Iterator[Told]:
        yield self._choice(What.KEEP, LEVELS[state.wanted.keep], LEVELS)
        if state.locking:
            yield from self._passphrase(state, state.locking)
        asked, words, questions = state.asking, self.texts.words["consent"], self.texts.questions
        if asked is None:
            return
        if asked.now and asked.now[1] is not Giver.CHILD:
            yield _lines("told", questions.told(asked))
        if asked.now:
            names = state.wanted.settings.names
            question = questions.question(asked, names)
            yield _lines("question", [*question.lines, words["asked"]], live=True)
            answers = [_button(answer, Deed.ANSWER, level=LEVELS[question.answers[answer]]) for answer in question.buttons]
            yield _buttons("answers", answers)
        else:
            yield _lines("question", [questions.result(asked)], live=True)
            yield _buttons("answers", [_button(words["again"], Deed.ASK_AGAIN)])

    def _passphrase(self, state: SettingUp, which: Locking) -> Iterator[Told]:
        """What is said about it, and the fields for it; never what was typed."""
        words = self.texts.words["passphrase"]
        if state.has_passphrase:
            yield _lines("passphrase", [words[f"{which}_done"]], live=True)
        elif state.offer.in_terminal:
            yield _lines("passphrase", [words[which], words["in_terminal"]])
            yield _buttons("terminal", [_button(words["ask"], Deed.ASK_IN_TERMINAL)])
        else:
            typed = {"kind": "passphrase", "key": "passphrase", "about": words[which], "send": words[f"{which}_send"]}
            fields = [words["typed"], words["again"]] if which is Locking.NEW else [words["typed"]]
            yield typed | {"fields": fields, "longest": LONGEST_PASSPHRASE}

    def _ready(self, state: SettingUp) -> Iterator[Told]:
        yield _lines("ready", list(self._summary(state)), listed=True)
        yield _buttons("begin", [_button(self.texts.words["page"]["begin"], Deed.BEGIN)])

    def _summary(self, state: SettingUp) -> Iterator[str]:
        wanted, words = state.wanted, self.texts.words["ready"]
        names = ", ".join(wanted.settings.name(seat) for seat in wanted.seats)
        yield words["plan"].format(plan=state.plan.title if state.plan else "", children=wanted.children, names=names)
        building = wanted.length_min - wanted.set_up_min - wanted.clear_away_min
        yield words["time"].format(
            length=Count(wanted.length_min), set_up=wanted.set_up_min, building=building, clear_away=wanted.clear_away_min
        )
        yield self._told_apart(state)
        if state.plan and (said := self._caution(state.plan, state, Caution.NONE)):
            yield said
        level = state.asking.ledger.level if state.asking else Consent.NOTHING
        yield words["keep"].format(level=LEVELS[level], until=state.offer.until) if level else words["keep_nothing"]
        if level:
            yield words["locked" if state.locking else "unlocked"]

    def _told_apart(self, state: SettingUp) -> str:
        words, way = self.texts.words["ready"], state.wanted.tell_apart
        known = [self._name(state, seat) for seat, learnt in state.enrolling.asked.items() if learnt]
        if way is TellApart.VOICES and not known:
            return str(words["voices_none"])
        return str(words[way].format(names=", ".join(known)))

    def _begun(self, state: SettingUp) -> Iterator[Told]:
        yield _lines("beginning", [self.texts.words["page"]["beginning"]], live=True)

    def _choice(self, what: What, value: str, values: Sequence[str]) -> Told:
        asked = self.texts.words["ask"][what]
        return _choice(what, asked["question"], value, [{"value": one, "label": asked[one]} for one in values])


_PARTS: Mapping[Stage, Callable[[SetUpTeller, SettingUp], Iterator[Told]]] = {
    Stage.WHO: SetUpTeller._who,
    Stage.PLAN: SetUpTeller._plan,
    Stage.CLUB: SetUpTeller._club,
    Stage.SOUND: SetUpTeller._sound,
    Stage.VOICES: SetUpTeller._voices,
    Stage.CONSENT: SetUpTeller._consent,
    Stage.READY: SetUpTeller._ready,
    Stage.BEGUN: SetUpTeller._begun,
}


def _choice(what: What, question: str, value: str, options: list[Told]) -> Told:
    return {"kind": "choice", "key": what.value, "label": question, "value": value, "options": options}


def _text(
    state: SettingUp, what: What, label: str, value: str, longest: int, *, seat: Seat | None = None, rows: int = 1
) -> Told:
    told = _field(state, "text", what, label, value, seat) | {"longest": longest, "rows": rows}
    return told | ({"key": f"{what.value} {seat.value}", "seat": seat.value} if seat else {})


def _number(state: SettingUp, what: What, label: str, value: int, least: int, most: int) -> Told:
    return _field(state, "number", what, label, str(value)) | {"least": least, "most": most}


def _field(state: SettingUp, kind: str, what: What, label: str, value: str, seat: Seat | None = None) -> Told:
    """``wrong``: why what stands in the field will not do."""
    wrong = state.not_taken.get((what, seat), "")
    return {"kind": kind, "key": what.value, "what": what.value, "label": label, "value": value, "wrong": wrong}


def _lines(key: str, lines: Sequence[str], *, heading: str = "", live: bool = False, listed: bool = False) -> Told:
    return {"kind": "lines", "key": key, "heading": heading, "lines": list(lines), "live": live, "listed": listed}


def _buttons(key: str, buttons: list[Told]) -> Told:
    return {"kind": "buttons", "key": key, "buttons": buttons}


def _button(label: str, deed: Deed, *, off: bool = False, **more: str) -> Told:
    return {"label": label, "order": {"do": deed.value, **more}, "off": off}


def _yes(value: bool) -> str:
    return "yes" if value else "no"


def _swap(rule: SwapRule) -> str:
    if rule.by is SwapBy.COMPONENT:
        return "component"
    return f"{rule.every}min" if rule.by is SwapBy.MINUTES else str(rule.every)
