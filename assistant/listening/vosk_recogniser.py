"""The recogniser that a family chooses: Vosk, with a model that lies on this machine.

What lives here: Vosk, and nothing of it is seen outside. What must not: looking for a model or fetching one. Vosk is handed a
path and nothing else: asked for a model by name or language it would download one, and end the program where it cannot.
"""

import ctypes
import json
import os
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

from assistant.errors import ModelError
from assistant.events import Word
from assistant.samples import SAMPLE_RATE, to_samples

PIECE_BYTES = 2 * to_samples(0.3)  # so often a partial result is asked for
_UNKNOWN = "[unk]"  # how many models write "a word that I do not know"
_C = ctypes.CDLL("msvcrt" if os.name == "nt" else None)  # the C library; its Windows name is from memory, and not tried


class Vosk:
    """Vosk with one model.

    Args:
        model_path: the folder that holds ``am/final.mdl`` (or ``final.mdl``, in older models).

    Raises:
        ModelError: there is no Vosk for this machine, or no model in that folder.
    """

    def __init__(self, model_path: Path) -> None:
        self.name = f"Vosk {model_path.name}"
        self._vosk = _vosk()
        self._model = _model(self._vosk, model_path)
        self._grammar: tuple[str, ...] = ()

    def limited_to(self, phrases: Sequence[str]) -> "Vosk":
        """A recogniser with the same model that hears nothing but these words and phrases, and "unknown" where it can."""
        limited = object.__new__(Vosk)
        limited.name = f"{self.name}, {len(phrases)} phrases"
        limited._vosk = self._vosk
        limited._model = self._model
        limited._grammar = (*phrases, *([_UNKNOWN] if self._model.vosk_model_find_word(_UNKNOWN) >= 0 else []))
        return limited

    def recognise(self, pcm: bytes, start_sample: int, partial: Callable[[str], None] | None = None) -> tuple[Word, ...]:
        """The words of one stretch; see :class:`assistant.listening.recognise.Recogniser`.

        Args:
            partial: told, about three times for each second of sound, what the words seem to be so far.
        """
        decoder = self._decoder()
        results: list[dict[str, Any]] = []
        for at in range(0, len(pcm), PIECE_BYTES):
            if decoder.AcceptWaveform(pcm[at : at + PIECE_BYTES]):  # it found a pause, and begins anew
                results.append(json.loads(decoder.Result()))
            if partial:
                partial(_text([*results, {"text": json.loads(decoder.PartialResult())["partial"]}]))
        results.append(json.loads(decoder.FinalResult()))
        last = len(pcm) // 2
        return tuple(
            Word(
                word["word"].lower(),
                start_sample + min(to_samples(word["start"]), last),
                start_sample + min(to_samples(word["end"]), last),
            )
            for result in results
            for word in result.get("result", ())
            if word["word"] != _UNKNOWN
        )

    def _decoder(self) -> Any:
        """A new one for each stretch, that remembers nothing of the last.

        Before it takes features, Vosk adds noise to the sound from C's ``rand``. The same seed each time makes it the same
        noise, so that the same sound has the same words.
        """
        _C.srand(1)
        grammar = (json.dumps(self._grammar, ensure_ascii=False),) if self._grammar else ()
        decoder = self._vosk.KaldiRecognizer(self._model, SAMPLE_RATE, *grammar)
        decoder.SetWords(True)
        return decoder


def _text(results: list[dict[str, Any]]) -> str:
    return " ".join(result["text"] for result in results if result["text"])


def _vosk() -> Any:
    try:
        import vosk
    except (ImportError, OSError, TypeError) as error:  # TypeError is how it refuses a platform
        raise ModelError("Vosk does not exist for this machine. Use --recogniser moonshine.") from error
    vosk.SetLogLevel(-1)
    return vosk


def _model(vosk: Any, path: Path) -> Any:
    if not any((path / place).is_file() for place in ("am/final.mdl", "final.mdl")):
        raise ModelError(f"{path} is no Vosk model: it holds no am/final.mdl. Unpack a Vosk model there.")
    try:
        return vosk.Model(str(path))
    except Exception as error:  # Vosk raises nothing more particular
        raise ModelError(f"The Vosk model in {path} is damaged. Delete that folder and unpack or fetch it again.") from error
