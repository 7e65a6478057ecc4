"""The opening of the club: each says its letter and a rhyme, and the tool learns the voices, in memory only.

What lives here: asking, listening, asking again. What must not: what makes a voice usable (:mod:`assistant.listening.voices`
says that), or a device.
"""

from collections.abc import Callable, Iterable
from contextlib import AbstractContextManager
from itertools import takewhile

import numpy as np
from numpy.typing import NDArray
from rich.console import Console
from rich.progress import track

from assistant.core.club.settings import Settings
from assistant.errors import VoicesError
from assistant.listening.voices import Voices
from assistant.samples import FRAME_SAMPLES, Frame, to_samples
from assistant.terms import Seat

SECONDS = 15  # the network was measured with this much of each voice
SKIP = "n"

Listening = Callable[[], AbstractContextManager[Iterable[Frame]]]
"""Opens the microphone anew."""


def learn_voices(voices: Voices, settings: Settings, listening: Listening, console: Console) -> None:
    """Learn the voice of each child and of the adult, asking again where one cannot be used.

    Raises:
        DeviceError: the microphone is gone.
    """
    console.print(f"Each says its letter and a rhyme, or reads a rule, for {SECONDS} seconds. Voices are forgotten at the end.")
    for seat in (*settings.seats, Seat.FACILITATOR):
        who = "the adult" if seat is Seat.FACILITATOR else settings.name(seat)
        while console.input(f"Press Enter when {who} is ready ({SKIP} and Enter: not now). ").strip().lower() != SKIP:
            try:
                voices.enrol(seat, _listen(listening, who, console))
                break
            except VoicesError as error:
                console.print(str(error), soft_wrap=True)
        else:
            console.print(f"{who} is not known by voice: mark those turns by key.")


def _listen(listening: Listening, who: str, console: Console) -> NDArray[np.int16]:
    with listening() as frames:
        wanted = takewhile(lambda frame: frame.start_sample < to_samples(SECONDS), frames)
        count = to_samples(SECONDS) // FRAME_SAMPLES
        shown = track(wanted, f"listening to {who}", total=count, console=console, transient=True)
        return np.frombuffer(b"".join(frame.pcm for frame in shown), np.int16)
