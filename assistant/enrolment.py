"""The opening of the club: each says its letter and a rhyme, and the tool learns the voices, in memory only.

What lives here: learning one voice, and how well the voices can be told apart, for the terminal and the set-up page alike; and
the terminal's way of asking. What must not: whose turn it is (:mod:`assistant.core.club.setting_up` says that), what makes a
voice usable (:mod:`assistant.listening.voices` says that), or a device.
"""

from collections.abc import Callable, Iterable, Mapping
from contextlib import AbstractContextManager
from itertools import takewhile
from typing import Any

import numpy as np
from numpy.typing import NDArray
from rich.console import Console
from rich.markup import escape
from rich.progress import track
from rich.text import Text

from assistant.core.club.setting_up import Enrolling, enrolling
from assistant.core.club.settings import Settings
from assistant.core.club.setup_words import read_setup_words
from assistant.devices.shelf import shared_text
from assistant.errors import VoicesError
from assistant.listening.voices import Separation, Voices
from assistant.samples import FRAME_SAMPLES, Frame, to_samples
from assistant.terms import Seat

SECONDS = 15  # the network was measured with this much of each voice
SKIP = "n"
WELL_RIGHT, WELL_UNSURE = 0.95, 0.10  # what the tool aims at in a session: of those answered, and of all
HARDLY_UNSURE = 0.5  # chosen: with every other turn open, keys or microphones are less work

Listening = Callable[[], AbstractContextManager[Iterable[Frame]]]
"""Opens the microphone anew."""


def setup_words() -> Mapping[str, Any]:
    """The words of ``shared/setup``.

    Raises:
        SharedError: some of them are missing.
    """
    return read_setup_words(shared_text("setup/en.toml"))


def learn(voices: Voices, state: Enrolling, seat: Seat, sound: NDArray[np.int16]) -> Enrolling:
    """Learn this seat's voice, or say why not.

    Args:
        sound: int16 [n] at 16 kHz.
    """
    try:
        voices.enrol(seat, sound)
    except VoicesError as error:
        return state.refused(str(error))
    return state.learnt(seat)


def separation_in_words(found: Separation | None, name: Callable[[Seat], str], words: Mapping[str, str]) -> str:
    """How well the voices can be told apart.

    Args:
        name: what to call a seat.
        words: the table ``voices`` of ``shared/setup``.
    """
    if found is None:
        return words["nobody"]
    well = found.share_right >= WELL_RIGHT and found.share_unsure <= WELL_UNSURE
    hardly = found.share_right < WELL_RIGHT or found.share_unsure > HARDLY_UNSURE
    one, other = map(name, found.closest)
    return words["well" if well else "hardly" if hardly else "alike"].format(one=one, other=other)


# --- in the terminal ------------------------------------------------------------------------------------------------------


def learn_voices(voices: Voices, settings: Settings, listening: Listening, console: Console) -> None:
    """Learn the voice of each child and of the adult, asking again where one cannot be used; then say how alike they are.

    Raises:
        DeviceError: the microphone is gone.
    """
    words = setup_words()["voices"]

    def name(seat: Seat) -> str:
        return str(words["adult"]) if seat is Seat.FACILITATOR else settings.name(seat)

    console.print(words["how"].format(seconds=SECONDS), soft_wrap=True)
    state = enrolling(settings)
    while seat := state.next:
        state = _ask(voices, state, seat, name(seat), listening, console)
        said = state.refusal or ("" if state.asked.get(seat) else words["unknown"].format(name=name(seat)))
        if said:
            console.print(said, soft_wrap=True)
    console.print(separation_in_words(voices.separation(), name, words), soft_wrap=True)


def _ask(voices: Voices, state: Enrolling, seat: Seat, who: str, listening: Listening, console: Console) -> Enrolling:
    if _answer(f"Press Enter when {who} is ready ({SKIP} and Enter: not now). ", console) == SKIP:
        return state.not_now(seat)
    return learn(voices, state, seat, _listen(listening, who, console))


def _answer(question: str, console: Console) -> str:
    try:
        return console.input(Text(question)).strip().lower()
    except EOFError as error:
        advice = "Add --voices, --channels or --no-voices."
        raise VoicesError(f"Nobody is at the keyboard, so no voice can be learnt. {advice}") from error


def _listen(listening: Listening, who: str, console: Console) -> NDArray[np.int16]:
    with listening() as frames:
        wanted = takewhile(lambda frame: frame.start_sample < to_samples(SECONDS), frames)
        count = to_samples(SECONDS) // FRAME_SAMPLES
        shown = track(wanted, f"listening to {escape(who)}", total=count, console=console, transient=True)
        return np.frombuffer(b"".join(frame.pcm for frame in shown), np.int16)
