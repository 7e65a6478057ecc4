"""Two ways to say a cue: aloud, or only for as long as it would take.

What lives here: when a cue is over. What must not: which cue, and when it begins.
"""

from collections.abc import Callable
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

Sound = NDArray[np.int16]
"""int16 mono at 16 kHz, shape ``[samples]``."""

Render = Callable[[str], Sound]
"""A text to its sound; :meth:`assistant.devices.voice.Voice.render` is the real one."""


def no_sound(text: str) -> Sound:
    """A voice that says nothing: the cue is only shown."""
    return np.zeros(0, np.int16)


class Playing(Protocol):
    """Plays sounds, one at a time; :class:`assistant.devices.player.Player` is the real one."""

    def play(self, sound: Sound) -> None:
        """Begin to play, and return at once."""
        ...

    @property
    def is_playing(self) -> bool:
        """Whether the last sound is still being played."""
        ...


class TimedSpeaker:
    """Says nothing, but takes the time of it, so that a recording meets the same session as a room would.

    Args:
        render: makes the sound, for its length.
        aloud: also play it here, when somebody listens along at real pace.
    """

    def __init__(self, render: Render, aloud: Playing | None = None) -> None:
        self._render = render
        self._aloud = aloud
        self._end = 0
        self.said: list[tuple[int, Sound]] = []
        """Every cue so far: the sample it began at, and its sound."""

    def say(self, text: str, sample: int) -> None:
        """Begin to say this at this sample."""
        sound = self._render(text)
        self._end = sample + len(sound)
        self.said.append((sample, sound))
        if self._aloud:
            self._aloud.play(sound)

    def is_over(self, sample: int) -> bool:
        """Whether at this sample the text would have been said to its end."""
        return sample >= self._end


class RoomSpeaker:
    """Says cues aloud; one is over when the loudspeaker says so, however late it began."""

    def __init__(self, render: Render, player: Playing) -> None:
        self._render = render
        self._player = player

    def say(self, text: str, sample: int) -> None:
        """Begin to say this now; ``sample`` does not matter in a room."""
        self._player.play(self._render(text))

    def is_over(self, sample: int) -> bool:
        """Whether the loudspeaker has fallen silent."""
        return not self._player.is_playing
