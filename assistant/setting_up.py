"""The set-up page with everything around it: orders, the microphone, the voices.

What lives here: following the page's orders, hearing how loud it is, and learning the voices, until the session begins. What
must not: what may follow what (:mod:`assistant.core.club.setting_up`), words for the page, opening a model.

    page ── orders ──► state ──► board ──► page
                         ▲
    microphone ── level, voices
"""

import time
from collections import deque
from collections.abc import Callable, Iterable, Iterator
from contextlib import AbstractContextManager
from dataclasses import replace
from typing import Protocol

import numpy as np

from assistant.core.club.setting_up import (
    Deed,
    Do,
    Enrolling,
    Locking,
    Passphrase,
    SettingUp,
    SetUpOrder,
    Stage,
    TellApart,
    Wanted,
)
from assistant.enrolment import SECONDS, learn, separation_in_words, setup_words
from assistant.errors import SettingsError, TrayTurnsError
from assistant.listening.gauge import Gauge
from assistant.listening.levels import Level, verdict
from assistant.listening.microphones import channels_from
from assistant.listening.voices import Voices
from assistant.pages.setup_page import SetUpBoard
from assistant.samples import Frame, to_samples, to_seconds
from assistant.terms import Seat

LOOK_EVERY_S = 0.05
TELL_EVERY = 7  # frames: five times a second the page is told how loud it is
QUIET_SHARE = 0.1  # of what was heard before an enrolment; its quietest part is the room
_HEARING = (Stage.SOUND, Stage.VOICES)


class Sound(Protocol):
    """Where the set-up hears: a microphone, or recordings that stand for it."""

    def open(self, wanted: Wanted, seat: Seat | None) -> AbstractContextManager[Iterable[Frame]]:
        """Frames from the microphone that was chosen; ``seat`` is who has been asked to speak, None for nobody."""
        ...


class Safe(Protocol):
    """Who opens the store, and has to know its passphrase; each of these raises where the passphrase will not do."""

    def take(self, which: Locking, passphrase: Passphrase) -> None:
        """Try the one that was typed on the page."""
        ...

    def ask(self, which: Locking) -> None:
        """Ask for it in the terminal, and try it."""
        ...


class SetUp:
    """One set-up.

    Args:
        state: what there is to choose from.
        board: where the page reads, and leaves its orders.
        sound: what hears.
        voices: in which nobody is known yet.
        say: says a cue at this volume, in the room.
        try_out: opens once what the session will need, and raises where that fails: then it does not begin.
        safe: where a passphrase goes; it is in no state, and so never shown.
    """

    def __init__(
        self,
        state: SettingUp,
        board: SetUpBoard,
        sound: Sound,
        voices: Voices,
        say: Callable[[float], None],
        try_out: Callable[[SettingUp], None],
        safe: Safe,
    ) -> None:
        self.state = state
        self._board = board
        self._sound = sound
        self._voices = voices
        self._say = say
        self._try_out = try_out
        self._safe = safe
        self._words = setup_words()
        self._room: deque[Level] = deque(maxlen=to_samples(10) // to_samples(0.03))
        self._deaf: tuple[str, Stage] | None = None  # this microphone could not be heard; not tried again by itself

    def follow(self) -> SettingUp:
        """Follow the page until everything is chosen and Begin was pressed.

        Raises:
            KeyboardInterrupt: it was given up in the terminal.
        """
        self._post()
        while self.state.stage is not Stage.BEGUN:
            self._obey()
            if self.state.listening:
                self._guarded(self._learn)
            elif self.state.stage in _HEARING and self._deaf != self._place:
                self._guarded(self._listen)
            else:
                time.sleep(LOOK_EVERY_S)
        return self.state

    @property
    def _place(self) -> tuple[str, Stage]:
        return self.state.wanted.microphone, self.state.stage

    def _guarded(self, hear: Callable[[], None]) -> None:
        """Hear; a microphone that cannot be heard is said on the page, and another can be chosen."""
        try:
            hear()
        except TrayTurnsError as error:
            self._deaf = self._place
            self._tell(replace(self.state, listening=None, told=str(error), hearing=None))

    # --- orders -----------------------------------------------------------------------------------------------------------

    def _obey(self) -> None:
        for order in self._board.orders():
            try:
                self._tell(self._after(order))
            except TrayTurnsError as error:
                self._tell(self.state.refused(order, str(error)))

    def _after(self, order: SetUpOrder) -> SettingUp:
        state, deed = self.state.receive(order), order.deed if isinstance(order, Do) else None
        if deed is Deed.NEXT and self.state.stage is Stage.SOUND:
            _check_channels(self.state.wanted)
        if deed is Deed.TRY_CUE:
            self._say(self.state.wanted.volume)
        if not self.state.has_passphrase and state.has_passphrase:
            self._unlock(order)
        if state.stage is Stage.BEGUN:
            self._try_out(state)
        for seat in self._voices.seats:
            if not state.enrolling.asked.get(seat):
                self._voices.forget(seat)
        return state

    def _unlock(self, order: SetUpOrder) -> None:
        """Raises where the passphrase will not do."""
        assert self.state.locking
        if isinstance(order, Passphrase):
            self._safe.take(self.state.locking, order)
            return
        self._tell(replace(self.state, told=self._words["passphrase"]["waiting"]))
        self._safe.ask(self.state.locking)

    def _tell(self, state: SettingUp) -> None:
        self.state = state
        self._post()

    def _post(self) -> None:
        self._board.post(self.state)

    # --- hearing ----------------------------------------------------------------------------------------------------------

    def _listen(self) -> None:
        """Show how loud it is, until something else is to be done."""
        place, gauge = self._place, Gauge()
        with self._sound.open(self.state.wanted, None) as frames:
            for number, frame in enumerate(frames):
                self._room.append(self._hear(gauge, frame, number))
                self._obey()
                if self.state.listening or self._place != place:
                    return
        self._deaf = self._place  # the recording that stands for a microphone is over

    def _learn(self) -> None:
        """Listen to one voice, and learn it; given up where somebody says not now."""
        seat, gauge, heard = self.state.listening, Gauge(), []
        assert seat is not None
        with self._sound.open(self.state.wanted, seat) as frames:
            for number, frame in enumerate(_at_most(frames, SECONDS)):
                heard.append((frame, self._hear(gauge, frame, number, SECONDS - to_seconds(frame.end_sample))))
                self._obey()
                if self.state.listening is not seat:
                    return
        sound = np.frombuffer(b"".join(frame.pcm for frame, _ in heard), np.int16)
        after = learn(self._voices, self.state.enrolling, seat, sound)
        separation = separation_in_words(self._voices.separation(), self._name, self._words["voices"])
        self._tell(self.state.listened(after, separation, self._verdict(after, [level for _, level in heard])))

    def _hear(self, gauge: Gauge, frame: Frame, number: int, left_s: float = 0.0) -> Level:
        level = gauge.hear(frame)
        if number % TELL_EVERY == 0:
            self._tell(replace(self.state, hearing=gauge.loudness, left_s=max(0.0, left_s)))
        return level

    def _verdict(self, after: Enrolling, spoken: list[Level]) -> str:
        """What is wrong with the sound of a voice that was learnt all the same; empty where nothing is."""
        if after.refusal or not spoken:
            return ""
        before = sorted(self._room or spoken, key=lambda level: level.rms_db)
        found = verdict(before[: max(1, round(len(before) * QUIET_SHARE))], spoken)
        return str(self._words["problem"][found.problem]) if found.problem else ""

    def _name(self, seat: Seat) -> str:
        return str(self._words["voices"]["adult"]) if seat is Seat.FACILITATOR else self.state.wanted.settings.name(seat)


def _check_channels(wanted: Wanted) -> None:
    """See whether each child has a microphone, where those tell who speaks."""
    if wanted.tell_apart is TellApart.MICROPHONES and not channels_from(wanted.channels, wanted.seats):
        raise SettingsError("Say which channel is whose microphone, such as A=1,B=2,C=3.")


def _at_most(frames: Iterable[Frame], seconds: float) -> Iterator[Frame]:
    for frame in frames:
        if frame.start_sample >= to_samples(seconds):
            return
        yield frame
