"""Setting a session up, one thing after the other: what has been chosen, and what may come next.

What lives here: the stages, the choices and whether they go together, whose voice is learnt next. What must not: a page, a
device, a voice; whoever has them tells this what came of it. A refused order raises and leaves the state as it was.

::

    who ─► plan ─► club ─► sound ─► voices ─► consent ─► ready ─► begun
                                    (only where voices are to tell who speaks)
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from enum import StrEnum
from typing import Any

from assistant.core.club.asking import Asking, Terms, asking
from assistant.core.club.consent import LEVELS, Consent
from assistant.core.club.loudness import Loudness
from assistant.core.club.settings import LONGEST_MIN, Settings, SwapRule, check_names
from assistant.core.plans.model import Plan
from assistant.core.plans.small_parts import SAFE_FROM_YEARS
from assistant.errors import SettingsError
from assistant.terms import CHILDREN, Seat

LONGEST_NAME = 24  # letters; it has to fit its place on the room page
MOST_OWN_RULES = 3  # what the room page has place for beside ours, read from two metres
LONGEST_RULE = 32  # letters: one line there
LONGEST_PASSPHRASE = 200  # letters, typed on a page


class Stage(StrEnum):
    """What is being set up, in this order."""

    WHO = "who"
    PLAN = "plan"
    CLUB = "club"
    SOUND = "sound"
    VOICES = "voices"
    CONSENT = "consent"
    READY = "ready"
    BEGUN = "begun"


class TellApart(StrEnum):
    """How it is known who speaks."""

    VOICES = "voices"
    MICROPHONES = "microphones"  # one a child
    KEYS = "keys"


class Locking(StrEnum):
    """Which passphrase is missing before anybody is asked what may be kept."""

    OPEN = "open"  # that of the store, which is locked
    NEW = "new"  # one to lock it with, typed twice: voices are kept in a locked store alone


class What(StrEnum):
    """What can be chosen."""

    CHILDREN = "children"
    NAME = "name"  # with a seat
    SMALL_CHILD = "small child"
    PLAN = "plan"
    SWAP = "swap"
    LENGTH = "length"
    SET_UP = "set up"
    CLEAR_AWAY = "clear away"
    YOUNGER = "younger"
    OWN_RULES = "own rules"
    MICROPHONE = "microphone"
    TELL_APART = "tell apart"
    CHANNELS = "channels"
    VOLUME = "volume"
    KEEP = "keep"


class Deed(StrEnum):
    """What can be done beside choosing."""

    NEXT = "next"
    BACK = "back"
    LISTEN = "listen"  # with a seat: learn this voice now
    NOT_NOW = "not now"  # with a seat: this voice is not learnt
    ANSWER = "answer"  # with a level: of whoever is asked
    ASK_AGAIN = "ask again"
    ASK_IN_TERMINAL = "ask in terminal"  # for the passphrase
    TRY_CUE = "try cue"
    BEGIN = "begin"


@dataclass(frozen=True, slots=True)
class Choose:
    """Take this; every value comes as text."""

    what: What
    value: str
    seat: Seat | None = None


@dataclass(frozen=True, slots=True)
class Do:
    """Do this. ``at``: where the set-up stood when it was pressed; a late press must not answer what comes next."""

    deed: Deed
    seat: Seat | None = None
    level: Consent = Consent.NOTHING
    at: str = ""


@dataclass(frozen=True, slots=True)
class Passphrase:
    """A passphrase that was typed, a new one twice. It goes to whoever opens the store, and into no state: that is shown."""

    typed: str = field(repr=False)
    again: str = field(default="", repr=False)
    at: str = ""


SetUpOrder = Choose | Do | Passphrase


@dataclass(frozen=True, slots=True)
class Wanted:
    """What the family has chosen so far. Names live in memory only."""

    children: int = 3
    names: Mapping[Seat, str] = field(default_factory=dict)
    small_child: bool = False  # somebody under three is in the room
    plan: str = ""
    swap: SwapRule = SwapRule()
    length_min: int = 45
    set_up_min: int = 5
    clear_away_min: int = 5
    younger: bool = False
    own_rules: tuple[str, ...] = ()
    microphone: str = ""  # empty: the system's own choice
    tell_apart: TellApart = TellApart.VOICES
    channels: str = ""
    volume: float = 0.8
    keep: Consent = Consent.NOTHING

    @property
    def seats(self) -> tuple[Seat, ...]:
        """The children's seats."""
        return CHILDREN[: self.children]

    @property
    def youngest_years(self) -> float:
        """For the caution about small parts: nothing more precise is asked for."""
        return 0 if self.small_child else SAFE_FROM_YEARS

    @property
    def settings(self) -> Settings:
        """The settings that follow."""
        return Settings(
            children=self.children,
            swap=self.swap,
            length_s=self.length_min * 60,
            set_up_s=self.set_up_min * 60,
            clear_away_s=self.clear_away_min * 60,
            names={seat: name for seat, name in self.names.items() if seat in self.seats},
        )


@dataclass(frozen=True, slots=True)
class Enrolling:
    """Whose voice has been learnt, in the order of the seats. ``asked``: True for learnt, False for not now."""

    seats: tuple[Seat, ...]
    asked: Mapping[Seat, bool] = field(default_factory=dict)
    refusal: str = ""
    """Why the last try could not be used."""

    @property
    def next(self) -> Seat | None:
        """Whose turn it is; None when everybody had one."""
        return next((seat for seat in self.seats if seat not in self.asked), None)

    def learnt(self, seat: Seat) -> "Enrolling":
        """This voice is known now."""
        return Enrolling(self.seats, {**self.asked, seat: True})

    def not_now(self, seat: Seat) -> "Enrolling":
        """This voice is not learnt; turns of this seat are marked by key."""
        return Enrolling(self.seats, {**self.asked, seat: False})

    def refused(self, why: str) -> "Enrolling":
        """The last try could not be used; whoever's turn it was, it still is."""
        return replace(self, refusal=why)


def enrolling(settings: Settings) -> Enrolling:
    """Nobody has been asked yet: the children first, then the adult."""
    return Enrolling((*settings.seats, Seat.FACILITATOR))


@dataclass(frozen=True, slots=True)
class Offer:
    """What there is to choose from.

    Attributes:
        plans: by the name that a choice goes by; it is never a path.
        microphones: what each is chosen by, and its name.
        day, until: those of consent.
        broken: what is wrong with a family's own plans that cannot be chosen, one sentence each.
        is_locked: the store cannot be opened without a passphrase.
        in_terminal: a passphrase is typed in the terminal, and not on the page.
    """

    plans: Mapping[str, Plan]
    tell_apart: tuple[TellApart, ...]
    microphones: tuple[tuple[str, str], ...]
    day: str
    until: str
    wording: int
    can_say: bool = True  # there is a loudspeaker to try a cue with
    broken: tuple[str, ...] = ()
    is_locked: bool = False
    in_terminal: bool = False


@dataclass(frozen=True, slots=True)
class SettingUp:
    """How far the set-up is. ``told``: what whoever has the devices says about it. ``hearing``: how loud it is right now."""

    offer: Offer
    wanted: Wanted = Wanted()
    stage: Stage = Stage.WHO
    enrolling: Enrolling = Enrolling(())
    listening: Seat | None = None
    left_s: float = 0.0
    separation: str = ""
    asking: Asking | None = None
    has_passphrase: bool = False
    """Whether the passphrase that was needed has been typed, and was right."""
    told: str = ""
    not_taken: Mapping[tuple[What, Seat | None], str] = field(default_factory=dict)
    """What was typed here and will not do, each with the sentence that said so: a field still shows it."""
    hearing: Loudness | None = None
    leads_to: str = ""
    """Where the session's own page is, once it has begun."""

    @property
    def is_over(self) -> bool:
        """Whether the session has begun, and there is a page for it."""
        return bool(self.leads_to)

    @property
    def at(self) -> str:
        """The stage, and in it whoever is asked."""
        if not (self.asking and self.asking.now and self.stage is Stage.CONSENT):
            return self.stage
        return " ".join((self.stage, *self.asking.now, *(["voices"] if self.asking.is_about_voices else [])))

    @property
    def plan(self) -> Plan | None:
        """The plan that was chosen."""
        return self.offer.plans.get(self.wanted.plan)

    @property
    def plans(self) -> Mapping[str, Plan]:
        """The plans for so many children."""
        return {name: plan for name, plan in self.offer.plans.items() if self.wanted.children in plan.children}

    @property
    def stages(self) -> tuple[Stage, ...]:
        """The stages that come about with these choices."""
        skipped = set() if self.wanted.tell_apart is TellApart.VOICES else {Stage.VOICES}
        return tuple(stage for stage in Stage if stage not in skipped)

    @property
    def locking(self) -> Locking | None:
        """Which passphrase belongs to what may be kept; None where none does."""
        if self.wanted.keep is Consent.NOTHING:
            return None
        if self.offer.is_locked:
            return Locking.OPEN
        return Locking.NEW if self.wanted.keep is Consent.VOICES else None

    @property
    def waits_for_passphrase(self) -> bool:
        """Whether nobody is asked anything before it has been typed."""
        return self.locking is not None and not self.has_passphrase

    def receive(self, order: SetUpOrder) -> "SettingUp":
        """The state after an order. Whether a passphrase is right is for others to say: then it was not typed.

        Raises:
            SettingsError: it cannot be followed now, in a sentence; the state is left as it was.
        """
        if isinstance(order, Choose):
            return self._choose(order)
        if order.at not in ("", self.at):
            raise SettingsError("That was pressed before the page had moved on, and nothing was done.")
        if isinstance(order, Passphrase):
            return self._unlocked(in_terminal=False)
        return _DEEDS[order.deed](self, order)

    # --- choosing ---------------------------------------------------------------------------------------------------------

    def _choose(self, order: Choose) -> "SettingUp":
        if _STAGE_OF[order.what] is not self.stage:
            raise SettingsError("That belongs to another step of the set-up. Go there first.")
        changed = _CHOOSE[order.what](self, order)
        wanted = replace(self.wanted, **changed)
        others = {place: why for place, why in self.not_taken.items() if place != (order.what, order.seat)}
        state = replace(self, wanted=wanted, told=_trouble_with_names(wanted), not_taken=others)
        if wanted.plan not in state.plans:
            state = replace(state, wanted=replace(wanted, plan=""))
        if order.what is What.KEEP:
            return replace(state, asking=state._nobody_asked())
        return state

    def refused(self, order: SetUpOrder, why: str) -> "SettingUp":
        """The same state, saying why an order could not be followed; no Next while a field shows what will not do."""
        if isinstance(order, Choose) and _STAGE_OF[order.what] is self.stage:
            return replace(self, told=why, not_taken={**self.not_taken, (order.what, order.seat): why})
        return replace(self, told=why)

    def _nobody_asked(self) -> Asking | None:
        if self.wanted.keep is Consent.NOTHING or self.waits_for_passphrase:
            return None
        terms = Terms(self.wanted.keep, self.offer.day, self.offer.until)
        return asking((*self.wanted.seats, Seat.FACILITATOR), terms)

    # --- going on ---------------------------------------------------------------------------------------------------------

    def _next(self, _: Do) -> "SettingUp":
        if self.stage in (Stage.READY, Stage.BEGUN):
            raise SettingsError("Everything is set up. Press Begin.")
        self._check()
        return self._at(self.stages[self.stages.index(self.stage) + 1])

    def _back(self, _: Do) -> "SettingUp":
        if self.stage in (Stage.WHO, Stage.BEGUN):
            raise SettingsError("There is nothing before this.")
        return self._at(self.stages[self.stages.index(self.stage) - 1])

    def _at(self, stage: Stage) -> "SettingUp":
        state = replace(self, stage=stage, listening=None, told="", not_taken={}, hearing=None)
        seats = (*self.wanted.seats, Seat.FACILITATOR)
        if stage is Stage.VOICES and self.enrolling.seats != seats:
            return replace(state, enrolling=Enrolling(seats), separation="")
        if stage is Stage.CONSENT and (self.asking is None or self.asking.ledger.seats != seats):
            return replace(state, asking=state._nobody_asked())
        return state

    def _check(self) -> None:
        """See whether this stage is complete."""
        for why in self.not_taken.values():
            raise SettingsError(why)
        if self.stage is Stage.WHO:
            check_names(self.wanted.settings.names, self.wanted.seats)
        if self.stage is Stage.PLAN and self.plan is None:
            raise SettingsError("Choose a model first.")
        if self.stage is Stage.CLUB and self.plan:
            self.wanted.settings.check(self.plan)
        if self.stage is Stage.VOICES and self.enrolling.next:
            raise SettingsError("Not everybody has had a turn. Who does not want to speak now: press Not now.")
        if self.stage is Stage.CONSENT and self.waits_for_passphrase:
            raise SettingsError("The passphrase is missing. Type it, or keep nothing.")
        if self.stage is Stage.CONSENT and self.asking and self.asking.now:
            raise SettingsError("Not everybody has been asked. Ask, or keep nothing.")

    def _begin(self, _: Do) -> "SettingUp":
        if self.stage is not Stage.READY:
            raise SettingsError("Not everything is set up yet.")
        return replace(self, stage=Stage.BEGUN)

    # --- voices -----------------------------------------------------------------------------------------------------------

    def _listen(self, order: Do) -> "SettingUp":
        self._needs_seat(order)
        return replace(self, listening=order.seat, enrolling=replace(self.enrolling, refusal=""), told="")

    def _not_now(self, order: Do) -> "SettingUp":
        seat = self._needs_seat(order)
        return replace(self, enrolling=self.enrolling.not_now(seat), listening=None, told="")

    def _needs_seat(self, order: Do) -> Seat:
        if self.stage is not Stage.VOICES or order.seat not in self.enrolling.seats:
            raise SettingsError("No voice is learnt now.")
        if self.listening not in (None, order.seat):
            raise SettingsError("One after the other: somebody else is speaking just now.")
        return order.seat

    def listened(self, after: Enrolling, separation: str, told: str = "") -> "SettingUp":
        """A voice was listened to, and this came of it."""
        return replace(self, enrolling=after, listening=None, separation=separation, told=told, left_s=0.0)

    # --- consent ----------------------------------------------------------------------------------------------------------

    def _answer(self, order: Do) -> "SettingUp":
        if self.stage is not Stage.CONSENT or self.asking is None or self.asking.now is None:
            raise SettingsError("Nobody is asked anything now.")
        return replace(self, asking=self.asking.answered(order.level, self.offer.wording), told="")

    def _ask_again(self, _: Do) -> "SettingUp":
        if self.stage is not Stage.CONSENT:
            raise SettingsError("Nobody is asked anything now.")
        return replace(self, asking=self._nobody_asked(), told="")

    def _unlocked(self, in_terminal: bool) -> "SettingUp":
        if self.stage is not Stage.CONSENT or not self.waits_for_passphrase:
            raise SettingsError("No passphrase is needed now.")
        if in_terminal is not self.offer.in_terminal:
            where = "in the terminal, not here, because of --share" if self.offer.in_terminal else "on this page"
            raise SettingsError(f"The passphrase is typed {where}.")
        state = replace(self, has_passphrase=True, told="")
        return replace(state, asking=state._nobody_asked())

    def _unlocked_in_terminal(self, _: Do) -> "SettingUp":
        return self._unlocked(in_terminal=True)

    # --- told from outside ------------------------------------------------------------------------------------------------

    def _stays(self, _: Do) -> "SettingUp":
        if self.stage is not Stage.SOUND or not self.offer.can_say:
            raise SettingsError("No cue can be tried now.")
        return replace(self, told="")


_DEEDS: Mapping[Deed, Callable[[SettingUp, Do], SettingUp]] = {
    Deed.NEXT: SettingUp._next,
    Deed.BACK: SettingUp._back,
    Deed.LISTEN: SettingUp._listen,
    Deed.NOT_NOW: SettingUp._not_now,
    Deed.ANSWER: SettingUp._answer,
    Deed.ASK_AGAIN: SettingUp._ask_again,
    Deed.ASK_IN_TERMINAL: SettingUp._unlocked_in_terminal,
    Deed.TRY_CUE: SettingUp._stays,
    Deed.BEGIN: SettingUp._begin,
}


def _trouble_with_names(wanted: Wanted) -> str:
    """Why these names will not do, empty where they will; said at once, though the other name may be the one to change."""
    try:
        check_names(wanted.settings.names, wanted.seats)
    except SettingsError as error:
        return str(error)
    return ""


def _number(least: int, most: int) -> Callable[[str], int]:
    def read(text: str) -> int:
        if not (text.isascii() and text.isdecimal() and len(text) <= _MOST_DIGITS and least <= int(text) <= most):
            raise SettingsError(f"{text[:20]!r} is no choice here. Take a whole number from {least} to {most}.")
        return int(text)

    return read


def one_line(text: str, longest: int) -> str:
    """Text as it can be shown and said: one line, nothing that does not print.

    Raises:
        SettingsError: it has too many letters.
    """
    shown = " ".join("".join(letter if letter.isprintable() else " " for letter in text).split())
    if len(shown) > longest:
        raise SettingsError(f"That is too long: at most {longest} letters.")
    return shown


def own_rules(text: str) -> tuple[str, ...]:
    """Rules that a family adds, one a line.

    Raises:
        SettingsError: they are too many or too long for the room page.
    """
    rules = tuple(filter(None, (one_line(line, LONGEST_RULE) for line in text.splitlines())))
    if len(rules) > MOST_OWN_RULES:
        raise SettingsError(f"At most {MOST_OWN_RULES} rules of your own, so that they can be read from the table.")
    return rules


def _named(state: SettingUp, order: Choose) -> dict[str, Any]:
    if order.seat not in state.wanted.seats:
        raise SettingsError("There is no child at that seat.")
    name, others = one_line(order.value, LONGEST_NAME), dict(state.wanted.names)
    others.pop(order.seat, None)
    return {"names": others | ({order.seat: name} if name else {})}


def _one_of(name: str, known: Callable[[SettingUp], Mapping[str, Any]]) -> Callable[[SettingUp, Choose], dict[str, Any]]:
    def read(state: SettingUp, order: Choose) -> dict[str, Any]:
        choices = known(state)
        if order.value not in choices:
            raise SettingsError("There is no such choice here.")
        return {name: choices[order.value]}

    return read


def _plain(name: str, read: Callable[[str], Any]) -> Callable[[SettingUp, Choose], dict[str, Any]]:
    return lambda state, order: {name: read(order.value)}


YES_NO = {"yes": True, "no": False}
VOLUMES = {"quiet": 0.4, "middle": 0.8, "loud": 1.0}
_KEEPABLE = dict(zip(LEVELS, Consent, strict=True))
_LONGEST_PART_MIN = 30
_LONGEST_TEXT = 60
_MOST_DIGITS = 9

_CHOOSE: Mapping[What, Callable[[SettingUp, Choose], dict[str, Any]]] = {
    What.CHILDREN: _plain("children", _number(2, 3)),
    What.NAME: _named,
    What.SMALL_CHILD: _one_of("small_child", lambda state: YES_NO),
    What.PLAN: _one_of("plan", lambda state: {name: name for name in state.plans}),
    What.SWAP: _plain("swap", SwapRule.from_text),
    What.LENGTH: _plain("length_min", _number(1, LONGEST_MIN)),
    What.SET_UP: _plain("set_up_min", _number(0, _LONGEST_PART_MIN)),
    What.CLEAR_AWAY: _plain("clear_away_min", _number(0, _LONGEST_PART_MIN)),
    What.YOUNGER: _one_of("younger", lambda state: YES_NO),
    What.OWN_RULES: _plain("own_rules", own_rules),
    What.MICROPHONE: _one_of("microphone", lambda state: {key: key for key, _ in state.offer.microphones}),
    What.TELL_APART: _one_of("tell_apart", lambda state: {way.value: way for way in state.offer.tell_apart}),
    What.CHANNELS: _plain("channels", lambda text: one_line(text, _LONGEST_TEXT)),
    What.VOLUME: _one_of("volume", lambda state: VOLUMES),
    What.KEEP: _one_of("keep", lambda state: _KEEPABLE),
}

_STAGE_OF: Mapping[What, Stage] = {
    **dict.fromkeys((What.CHILDREN, What.NAME, What.SMALL_CHILD), Stage.WHO),
    What.PLAN: Stage.PLAN,
    **dict.fromkeys((What.SWAP, What.LENGTH, What.SET_UP, What.CLEAR_AWAY, What.YOUNGER, What.OWN_RULES), Stage.CLUB),
    **dict.fromkeys((What.MICROPHONE, What.TELL_APART, What.CHANNELS, What.VOLUME), Stage.SOUND),
    What.KEEP: Stage.CONSENT,
}
