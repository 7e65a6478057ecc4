"""What was said: the contract that every recogniser meets.

What lives here: the contract. What must not: any one engine.
"""

from typing import Protocol

from assistant.events import Word


class Recogniser(Protocol):
    """Turns one stretch of speech into words."""

    name: str
    """One line that says which engine and model this is."""

    def recognise(self, pcm: bytes, start_sample: int) -> tuple[Word, ...]:
        """The words in a stretch of speech, in their order, in lower case, without punctuation.

        Args:
            pcm: int16 mono at 16 kHz.
            start_sample: where the stretch begins on the time line; the words' times are on the same line.
        """
        ...
