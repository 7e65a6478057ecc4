"""Setting a session up: what may follow what, told as a family would press it."""

import io
from collections.abc import Iterable, Iterator
from contextlib import AbstractContextManager, nullcontext
from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray
from rich.console import Console

from assistant.assembly import open_plan
from assistant.core.club.consent import Consent, Giver
from assistant.core.club.loudness import Loudness, Room
from assistant.core.club.setting_up import (
    Choose,
    Deed,
    Do,
    Enrolling,
    Locking,
    Offer,
    Passphrase,
    SettingUp,
    SetUpOrder,
    Stage,
    TellApart,
    Wanted,
    What,
    own_rules,
)
from assistant.core.club.settings import Settings, SwapBy, SwapRule
from assistant.enrolment import learn_voices, separation_in_words, setup_words
from assistant.errors import DeviceError, KeepingError, SettingsError, VoicesError
from assistant.listening.voices import Separation, Voices
from assistant.pages.board import Notices
from assistant.pages.setup_page import SetUpBoard
from assistant.samples import FRAME_SAMPLES, Frame
from assistant.setting_up import Safe, SetUp
from assistant.terms import Seat
from tests.fakes import silence

OFFER = Offer(
    plans={name: open_plan(name) for name in ("four-block-tower", "little-boat", "four-tower-fort")},
    tell_apart=tuple(TellApart),
    microphones=(("", ""), ("3", "USB microphone")),
    day="2027-01-12",
    until="2027-07-11",
    wording=1,
)
NEXT, BACK, BEGIN = Do(Deed.NEXT), Do(Deed.BACK), Do(Deed.BEGIN)
BOAT = Choose(What.PLAN, "little-boat")
BY_KEY = Choose(What.TELL_APART, "keys")


def after(*orders: SetUpOrder, state: SettingUp | None = None) -> SettingUp:
    """What comes of these orders."""
    reached = state or SettingUp(OFFER)
    for order in orders:
        reached = reached.receive(order)
    return reached


def refused(state: SettingUp, order: SetUpOrder) -> str:
    with pytest.raises(SettingsError) as why:
        state.receive(order)
    return str(why.value)


AT_VOICES = after(NEXT, BOAT, NEXT, NEXT, NEXT)
AT_CONSENT = after(NEXT, BOAT, NEXT, NEXT, BY_KEY, NEXT)


# --- one thing after the other ----------------------------------------------------------------------------------------------


def test_a_parent_who_knows_no_option_presses_next() -> None:
    state = after(NEXT, BOAT, NEXT, NEXT, BY_KEY, NEXT, NEXT, BEGIN)
    assert state.stage is Stage.BEGUN
    assert state.wanted.settings == Settings()
    assert state.wanted.keep is Consent.NOTHING


def test_without_a_model_there_is_no_next() -> None:
    assert refused(after(NEXT), NEXT) == "Choose a model first."


def test_a_model_that_is_not_for_so_many_children_is_no_longer_chosen() -> None:
    fort = after(NEXT, Choose(What.PLAN, "four-tower-fort"), BACK)
    assert fort.wanted.plan == "four-tower-fort"
    two = after(Choose(What.CHILDREN, "2"), state=fort)
    assert two.wanted.plan == ""
    assert list(two.plans) == ["four-block-tower", "little-boat"]


def test_voices_are_only_asked_for_where_they_tell_who_speaks() -> None:
    assert AT_VOICES.stage is Stage.VOICES
    assert AT_CONSENT.stage is Stage.CONSENT
    assert after(BACK, state=AT_CONSENT).stage is Stage.SOUND


def test_setting_up_and_clearing_away_must_fit_into_the_length() -> None:
    state = after(NEXT, BOAT, NEXT, Choose(What.LENGTH, "10"), Choose(What.SET_UP, "5"))
    assert "fill the whole session" in refused(state, NEXT)
    assert after(Choose(What.CLEAR_AWAY, "2"), NEXT, state=state).stage is Stage.SOUND


def test_what_was_chosen_becomes_settings() -> None:
    names = (Choose(What.NAME, " Ada\n Lee\u202e ", Seat.A), Choose(What.NAME, "Bo", Seat.C))
    state = after(*names, NEXT, BOAT, NEXT, Choose(What.SWAP, "10min"), Choose(What.LENGTH, "30"))
    assert state.wanted.settings == Settings(
        swap=SwapRule(SwapBy.MINUTES, 10), length_s=1800, names={Seat.A: "Ada Lee", Seat.C: "Bo"}
    )
    assert after(*[BACK] * 2, Choose(What.CHILDREN, "2"), state=state).wanted.settings.names == {Seat.A: "Ada Lee"}


def test_two_children_are_not_called_the_same() -> None:
    said = "Two children are called 'ada'. Add a letter to one of them."
    twins = after(Choose(What.NAME, "Ada", Seat.A), Choose(What.NAME, "ada", Seat.B))
    assert twins.told == said and refused(twins, NEXT) == said
    assert after(Choose(What.NAME, "Ada M", Seat.A), NEXT, state=twins).told == ""
    hidden = after(Choose(What.NAME, "Ada", Seat.A), Choose(What.NAME, "Ada", Seat.C), Choose(What.CHILDREN, "2"))
    assert after(NEXT, state=hidden).stage is Stage.PLAN
    assert refused(after(Choose(What.CHILDREN, "3"), state=hidden), NEXT).startswith("Two children are called")


@pytest.mark.parametrize(
    ("at", "order"),
    [
        (SettingUp(OFFER), Choose(What.CHILDREN, "4")),
        (SettingUp(OFFER), Choose(What.CHILDREN, "²")),
        (SettingUp(OFFER), Choose(What.NAME, "x" * 25, Seat.A)),
        (SettingUp(OFFER), Choose(What.NAME, "Ada", Seat.FACILITATOR)),
        (SettingUp(OFFER), Choose(What.SMALL_CHILD, "perhaps")),
        (SettingUp(OFFER), BOAT),  # not asked yet
        (SettingUp(OFFER), BACK),
        (SettingUp(OFFER), BEGIN),
        (after(NEXT), Choose(What.PLAN, "castle")),
        (after(NEXT, BOAT, NEXT), Choose(What.LENGTH, "91")),
        (after(NEXT, BOAT, NEXT), Choose(What.LENGTH, "-1")),
        (after(NEXT, BOAT, NEXT), Choose(What.LENGTH, "9" * 300)),
        (after(NEXT, BOAT, NEXT), Choose(What.SET_UP, "0" * 9 + "99")),
        (after(NEXT, BOAT, NEXT), Choose(What.SWAP, "sometimes")),
        (after(NEXT, BOAT, NEXT, NEXT), Choose(What.MICROPHONE, "7")),
        (after(NEXT, BOAT, NEXT, NEXT), Choose(What.VOLUME, "11")),
        (AT_VOICES, NEXT),  # nobody has had a turn
        (AT_VOICES, Do(Deed.LISTEN, Seat.UNSURE)),
        (AT_CONSENT, Do(Deed.ANSWER, level=Consent.WORDS)),  # nobody is asked
        (AT_CONSENT, Choose(What.KEEP, "everything")),
        (AT_CONSENT, Passphrase("four cakes")),  # none is needed
        (AT_CONSENT, Do(Deed.ASK_IN_TERMINAL)),
        (AT_CONSENT, Do(Deed.LISTEN, Seat.A)),
    ],
)
def test_what_cannot_be_is_refused_in_a_sentence(at: SettingUp, order: SetUpOrder) -> None:
    assert refused(at, order).endswith(".")


def test_own_rules_are_few_and_short_enough_to_be_read_from_the_table() -> None:
    assert own_rules(" No shoes.\n\n We knock. ") == ("No shoes.", "We knock.")
    for text in ("a\nb\nc\nd", "x" * 33):
        with pytest.raises(SettingsError):
            own_rules(text)


# --- consent ----------------------------------------------------------------------------------------------------------------


def answers(*levels: Consent) -> list[SetUpOrder]:
    return [Choose(What.KEEP, "words"), *(Do(Deed.ANSWER, level=level) for level in levels)]


WORDS, TIMELINE, NO = Consent.WORDS, Consent.TIMELINE, Consent.NOTHING


def test_everybody_is_asked_and_the_lowest_answer_is_what_may_be_kept() -> None:
    state = after(*answers(WORDS, TIMELINE, WORDS, WORDS, WORDS, WORDS), state=AT_CONSENT)
    assert state.asking and state.asking.now == (Seat.C, Giver.CHILD)
    assert refused(state, NEXT).startswith("Not everybody has been asked.")
    state = after(Do(Deed.ANSWER, level=WORDS), state=state)
    assert state.asking and state.asking.ledger.level is TIMELINE
    assert after(NEXT, state=state).stage is Stage.READY


def test_any_no_wins_and_ends_the_questions() -> None:
    state = after(*answers(WORDS, WORDS, WORDS, WORDS, NO), state=AT_CONSENT)
    assert state.asking and state.asking.now is None and state.asking.ledger.level is NO
    assert after(NEXT, state=state).stage is Stage.READY
    again = after(Do(Deed.ASK_AGAIN), state=state)
    assert again.asking and again.asking.now == (Seat.A, Giver.GUARDIAN)


def test_a_press_that_comes_too_late_answers_for_nobody_else() -> None:
    asked = after(Choose(What.KEEP, "words"), state=AT_CONSENT)
    press = Do(Deed.ANSWER, level=WORDS, at=asked.at)
    assert asked.at == "consent A guardian"
    answered = after(press, state=asked)
    assert answered.at == "consent B guardian"
    assert refused(answered, press) == "That was pressed before the page had moved on, and nothing was done."
    assert refused(after(NEXT), Do(Deed.NEXT, at="who")).endswith("nothing was done.")


VOICES = Consent.VOICES
YES, REFUSED = Do(Deed.ANSWER, level=VOICES), Do(Deed.ANSWER, level=NO)
TO_KEEP_VOICES = (Choose(What.KEEP, "voices"), Passphrase("four cakes", "four cakes"))
ASKED = [(Seat.A, Giver.GUARDIAN), (Seat.B, Giver.GUARDIAN), (Seat.C, Giver.GUARDIAN), (Seat.FACILITATOR, Giver.ADULT)]
ASKED += [(Seat.A, Giver.CHILD), (Seat.B, Giver.CHILD), (Seat.C, Giver.CHILD)]


def test_voices_are_asked_about_apart_when_everybody_has_agreed_to_the_words() -> None:
    state, asked, places = after(*TO_KEEP_VOICES, state=AT_CONSENT), [], []
    while state.asking and state.asking.now:
        asked.append((state.asking.is_about_voices, state.asking.now))
        places.append(state.at)
        state = after(YES, state=state)
    assert asked == [(False, one) for one in ASKED] + [(True, one) for one in ASKED]
    assert len(set(places)) == 14
    assert state.asking and state.asking.ledger.level is VOICES


@pytest.mark.parametrize("who", range(7))
def test_any_no_to_the_voices_ends_that_question_and_leaves_the_words(who: int) -> None:
    state = after(*TO_KEEP_VOICES, *[YES] * (7 + who), REFUSED, state=AT_CONSENT)
    assert state.asking and state.asking.now is None and state.asking.ledger.level is WORDS
    assert after(NEXT, state=state).stage is Stage.READY


@pytest.mark.parametrize(("answer", "level"), [(TIMELINE, TIMELINE), (NO, NO)])
def test_nobody_is_asked_about_voices_where_somebody_would_rather_not_keep_the_words(answer: Consent, level: Consent) -> None:
    state = after(*TO_KEEP_VOICES, YES, YES, Do(Deed.ANSWER, level=answer), state=AT_CONSENT)
    while state.asking and state.asking.now:
        assert not state.asking.is_about_voices
        state = after(YES, state=state)
    assert state.asking and state.asking.ledger.level is level


def test_another_child_at_the_table_is_another_question() -> None:
    agreed = after(*answers(*[WORDS] * 7), state=AT_CONSENT)
    two = after(*[BACK] * 4, Choose(What.CHILDREN, "2"), NEXT, BOAT, NEXT, NEXT, NEXT, state=agreed)
    assert two.stage is Stage.CONSENT
    assert two.asking and two.asking.ledger.level is NO and two.asking.now == (Seat.A, Giver.GUARDIAN)


# --- the passphrase ---------------------------------------------------------------------------------------------------------

LOCKED = replace(AT_CONSENT, offer=replace(OFFER, is_locked=True))


@pytest.mark.parametrize(
    ("state", "keep", "locking"),
    [
        (AT_CONSENT, "nothing", None),
        (AT_CONSENT, "words", None),
        (AT_CONSENT, "voices", Locking.NEW),
        (LOCKED, "nothing", None),
        (LOCKED, "timeline", Locking.OPEN),
        (LOCKED, "voices", Locking.OPEN),
    ],
)
def test_which_passphrase_is_asked_for_before_anybody_is_asked_anything(
    state: SettingUp, keep: str, locking: Locking | None
) -> None:
    chosen = after(Choose(What.KEEP, keep), state=state)
    assert chosen.locking is locking
    if locking is None:
        return
    assert chosen.asking is None
    assert refused(chosen, NEXT) == "The passphrase is missing. Type it, or keep nothing."
    typed = after(Passphrase("four cakes", "four cakes", at=chosen.at), state=chosen)
    assert typed.asking and typed.asking.now == (Seat.A, Giver.GUARDIAN)
    assert refused(typed, Passphrase("four cakes")) == "No passphrase is needed now."
    assert after(Choose(What.KEEP, "nothing"), NEXT, state=typed).stage is Stage.READY


def test_a_shared_session_takes_its_passphrase_in_the_terminal_alone() -> None:
    shared = replace(LOCKED, offer=replace(LOCKED.offer, in_terminal=True))
    chosen, here = after(Choose(What.KEEP, "words"), state=shared), after(Choose(What.KEEP, "words"), state=LOCKED)
    assert refused(chosen, Passphrase(PHRASE)) == "The passphrase is typed in the terminal, not here, because of --share."
    assert refused(here, Do(Deed.ASK_IN_TERMINAL)) == "The passphrase is typed on this page."
    assert after(Do(Deed.ASK_IN_TERMINAL), state=chosen).asking


# --- with a microphone around it --------------------------------------------------------------------------------------------


class Heard:
    """A microphone that has sound for some, and is unplugged for others."""

    def __init__(self, unplugged: bool = False) -> None:
        self.asked: list[Seat | None] = []
        self._unplugged = unplugged

    def open(self, wanted: Wanted, seat: Seat | None) -> AbstractContextManager[Iterable[Frame]]:
        self.asked.append(seat)
        if self._unplugged:
            raise VoicesError("It is unplugged.")
        return nullcontext(spoken(20))


def spoken(seconds: float) -> Iterator[Frame]:
    """Half a second of it loud."""
    loud = (8000 * np.sin(np.arange(FRAME_SAMPLES) / 5)).astype(np.int16).tobytes()
    return (Frame(frame.start_sample, loud) if frame.start_sample < 8000 else frame for frame in silence(seconds))


class Known(Voices):
    """Voices that know whoever spoke for fifteen seconds, the second time that B speaks."""

    def __init__(self) -> None:
        self.heard: list[Seat] = []
        self._known: dict[Seat, bool] = {}

    @property
    def seats(self) -> tuple[Seat, ...]:
        return tuple(self._known)

    def forget(self, seat: Seat) -> None:
        del self._known[seat]

    def enrol(self, seat: Seat, samples: NDArray[np.int16]) -> None:
        self.heard.append(seat)
        if self.heard.count(Seat.B) == 1 and seat is Seat.B:
            raise VoicesError("Seat B: too quiet.")
        assert len(samples) == 15 * 16_000
        self._known[seat] = True

    def separation(self) -> Separation | None:
        return Separation(9, 1, 10, (Seat.A, Seat.B)) if len(self.heard) > 1 else None


PHRASE = "four o'clock is cake time"


class OneSafe:
    """Opens with one passphrase."""

    def __init__(self) -> None:
        self.taken: list[tuple[Locking, str]] = []

    def take(self, which: Locking, passphrase: Passphrase) -> None:
        if passphrase.typed != PHRASE:
            raise KeepingError("It is another one.")
        self.taken.append((which, passphrase.typed))

    def ask(self, which: Locking) -> None:
        self.taken.append((which, "in the terminal"))


def run(
    *orders: SetUpOrder,
    sound: Heard | None = None,
    voices: Voices | None = None,
    missing: str = "",
    offer: Offer = OFFER,
    safe: Safe | None = None,
) -> tuple[SettingUp, list[SettingUp]]:
    """A whole set-up whose page sends these orders, each when the one before has been followed; and all that was posted.

    ``missing``: what is wrong the first time that the session would begin.
    """
    tries = iter([missing])

    def try_out(state: SettingUp) -> None:
        if wrong := next(tries, ""):
            raise DeviceError(wrong)

    told: list[SettingUp] = []
    left = list(orders)

    class Page(Notices[SettingUp, SetUpOrder]):
        def post(self, snapshot: SettingUp) -> None:
            told.append(snapshot)
            super().post(snapshot)

        def orders(self) -> Iterator[SetUpOrder]:
            if left and self.newest[1].listening is None:
                yield left.pop(0)

    first = SettingUp(offer)
    board: SetUpBoard = Page(first)
    hearing, saying = (sound or Heard(), voices or Known()), lambda volume: None
    return SetUp(first, board, *hearing, saying, try_out, safe or OneSafe()).follow(), told


TO_VOICES = (NEXT, BOAT, NEXT, NEXT, NEXT)
TO_THE_END = (NEXT, NEXT, BEGIN)


def listen(seat: Seat) -> Do:
    return Do(Deed.LISTEN, seat)


def test_voices_are_learnt_one_after_the_other_and_a_refusal_is_said() -> None:
    sound, voices = Heard(), Known()
    learn = (listen(Seat.A), listen(Seat.B), listen(Seat.B), Do(Deed.NOT_NOW, Seat.C), listen(Seat.FACILITATOR))
    done, told = run(*TO_VOICES, *learn, *TO_THE_END, sound=sound, voices=voices)
    assert done.enrolling == Enrolling(
        (Seat.A, Seat.B, Seat.C, Seat.FACILITATOR), {Seat.A: True, Seat.B: True, Seat.C: False, Seat.FACILITATOR: True}
    )
    assert voices.heard == [Seat.A, Seat.B, Seat.B, Seat.FACILITATOR]
    assert "Seat B: too quiet." in [state.enrolling.refusal for state in told]
    assert done.separation == "These voices can be told apart well."
    assert [seat for seat in sound.asked if seat] == voices.heard


def test_a_voice_is_forgotten_where_somebody_would_rather_not_or_does_not_play_after_all() -> None:
    voices, others = Known(), [Do(Deed.NOT_NOW, seat) for seat in (Seat.B, Seat.C, Seat.FACILITATOR)]
    run(*TO_VOICES, listen(Seat.A), *others, Do(Deed.NOT_NOW, Seat.A), *TO_THE_END, voices=voices)
    assert list(voices.seats) == []
    two: tuple[SetUpOrder, ...] = (*[BACK] * 4, Choose(What.CHILDREN, "2"), NEXT, NEXT, NEXT, NEXT, listen(Seat.A))
    rest = [Do(Deed.NOT_NOW, seat) for seat in (Seat.B, Seat.FACILITATOR)]
    learnt = (listen(Seat.A), Do(Deed.NOT_NOW, Seat.B), listen(Seat.C))
    run(*TO_VOICES, *learnt, *two, *rest, *TO_THE_END, voices=voices)
    assert list(voices.seats) == [Seat.A]


def test_while_somebody_speaks_the_page_is_told_how_loud_and_how_long() -> None:
    others = [Do(Deed.NOT_NOW, seat) for seat in (Seat.B, Seat.C, Seat.FACILITATOR)]
    _, told = run(*TO_VOICES, listen(Seat.A), *others, *TO_THE_END)
    speaking = [state for state in told if state.listening is Seat.A and state.hearing]
    assert 14 < max(state.left_s for state in speaking) <= 15
    assert min(state.left_s for state in speaking) < 1
    assert {state.hearing.room for state in speaking if state.hearing} >= {Room.LOUD, Room.QUIET, Room.NOTHING}


def test_a_microphone_that_is_gone_is_a_sentence_and_keys_are_left() -> None:
    done, told = run(NEXT, BOAT, NEXT, NEXT, BY_KEY, NEXT, NEXT, BEGIN, sound=Heard(unplugged=True))
    assert "It is unplugged." in [state.told for state in told]
    assert done.wanted.tell_apart is TellApart.KEYS


def test_what_is_missing_at_the_start_is_said_on_the_page_and_begin_can_be_pressed_again() -> None:
    done, told = run(NEXT, BOAT, NEXT, NEXT, BY_KEY, NEXT, NEXT, BEGIN, BEGIN, missing="There is no loudspeaker.")
    assert (Stage.READY, "There is no loudspeaker.") in [(state.stage, state.told) for state in told]
    assert done.stage is Stage.BEGUN


def test_there_is_no_next_while_a_field_shows_what_will_not_do() -> None:
    said = "'120' is no choice here. Take a whole number from 1 to 90."
    wrong = (Choose(What.LENGTH, "120"), NEXT)
    done, told = run(NEXT, BOAT, NEXT, *wrong, Choose(What.LENGTH, "60"), NEXT, BY_KEY, NEXT, NEXT, BEGIN)
    refusals = [(state.stage, state.wanted.length_min) for state in told if state.told == said]
    assert refusals == [(Stage.CLUB, 45), (Stage.CLUB, 45)]
    assert done.wanted.length_min == 60
    back, _ = run(NEXT, BOAT, NEXT, *wrong, BACK, NEXT, NEXT, BY_KEY, NEXT, NEXT, BEGIN)  # the field shows what is true again
    assert back.wanted.length_min == 45


def test_a_microphone_each_needs_to_know_which_is_whose() -> None:
    each = Choose(What.TELL_APART, "microphones")
    pressed = Do(Deed.NEXT, at="sound")  # as the page sends it
    some, all_three = (Choose(What.CHANNELS, text) for text in ("A=1,B=2", "A=1,B=2,C=3"))
    done, told = run(NEXT, BOAT, NEXT, NEXT, each, pressed, some, pressed, all_three, pressed, NEXT, BEGIN)
    notes = [state.told for state in told]
    nobodys, not_all = "Say which channel is whose microphone, such as A=1,B=2,C=3.", "There is no microphone for seat C."
    assert notes.index(nobodys) < notes.index(f"{not_all} Name one for each child: A=1,B=2.")
    assert done.wanted.channels == "A=1,B=2,C=3"


BEFORE_CONSENT = (NEXT, BOAT, NEXT, NEXT, BY_KEY, NEXT)


def test_a_wrong_passphrase_is_a_sentence_and_can_be_typed_again() -> None:
    safe = OneSafe()
    typed = (Choose(What.KEEP, "words"), Passphrase("four cakes"), REFUSED, Passphrase(PHRASE), REFUSED)
    done, told = run(*BEFORE_CONSENT, *typed, NEXT, BEGIN, offer=LOCKED.offer, safe=safe)
    notes = [state.told for state in told]
    assert notes.index("It is another one.") < notes.index("Nobody is asked anything now.")
    assert safe.taken == [(Locking.OPEN, PHRASE)]
    assert done.asking and len(done.asking.ledger.receipts) == 1


def test_no_state_that_is_shown_holds_a_passphrase() -> None:
    typed = (Choose(What.KEEP, "voices"), Passphrase("four cakes", "four pies"), Passphrase(PHRASE, PHRASE), REFUSED)
    _, told = run(*BEFORE_CONSENT, *typed, NEXT, BEGIN)
    for state in (*told, *typed):
        assert "four cakes" not in repr(state) and "four pies" not in repr(state) and "cake time" not in repr(state)


def test_the_page_says_that_the_terminal_asks_and_waits_until_it_has() -> None:
    safe, shared = OneSafe(), replace(LOCKED.offer, in_terminal=True)
    _, told = run(
        *BEFORE_CONSENT, Choose(What.KEEP, "words"), Do(Deed.ASK_IN_TERMINAL), REFUSED, NEXT, BEGIN, offer=shared, safe=safe
    )
    assert "Type the passphrase in the terminal now. This page waits for it." in [state.told for state in told]
    assert safe.taken == [(Locking.OPEN, "in the terminal")]


# --- in words ---------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("found", "said"),
    [
        (None, "Two voices have to be known"),
        (Separation(19, 1, 20, (Seat.A, Seat.B)), "can be told apart well"),
        (Separation(14, 6, 20, (Seat.A, Seat.B)), "Ada and B are much alike"),
        (Separation(8, 12, 20, (Seat.A, Seat.B)), "Ada and B can hardly be told apart"),
        (Separation(18, 0, 20, (Seat.A, Seat.B)), "can hardly be told apart"),  # two told wrong
        (Separation(0, 20, 20, (Seat.A, Seat.B)), "can hardly be told apart"),
    ],
)
def test_how_well_voices_can_be_told_apart(found: Separation | None, said: str) -> None:
    names = {Seat.A: "Ada"}
    assert said in separation_in_words(found, lambda seat: names.get(seat, seat.value), setup_words()["voices"])


@pytest.mark.parametrize(
    ("loudness", "share", "room"),
    [
        (Loudness(-120, -120), 0, Room.NOTHING),
        (Loudness(-30, -120), 0.5, Room.QUIET),
        (Loudness(-60, -60), 0, Room.QUIET),
        (Loudness(-45, -50), 0.25, Room.SOME),
        (Loudness(-3, -20), 0.95, Room.LOUD),
    ],
)
def test_how_loud_it_is(loudness: Loudness, share: float, room: Room) -> None:
    assert loudness.share == pytest.approx(share)
    assert loudness.room is room


def test_the_terminal_asks_in_the_same_order_and_asks_again(monkeypatch: pytest.MonkeyPatch) -> None:
    console, voices = Console(file=io.StringIO(), width=200), Known()
    pressed = iter(["", "", "", "n", ""])

    def answer(question: str) -> str:
        console.print(question)
        return next(pressed)

    monkeypatch.setattr(console, "input", answer)
    learn_voices(voices, replace(Settings(), names={Seat.A: "Ada"}), lambda: nullcontext(spoken(20)), console)
    assert isinstance(console.file, io.StringIO)
    shown = console.file.getvalue()
    assert voices.heard == [Seat.A, Seat.B, Seat.B, Seat.FACILITATOR]
    for said in ("when Ada is ready", "Seat B: too quiet.", "C is not known by voice", "These voices can be told apart well."):
        assert said in shown
