"""The recogniser that is there at once: moonshine's tiny English model, which its wheel carries.

What lives here: moonshine, and nothing of it is seen outside. What must not: a download; the model is named by its path, and
with a path moonshine opens no connection and writes no file.
"""

import os
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np
import soxr
from numpy.typing import NDArray

from assistant.errors import ModelError
from assistant.events import Word
from assistant.listening.alignment import Aligner
from assistant.listening.edits import edits
from assistant.listening.levels import FULL_SCALE
from assistant.listening.wording import spoken
from assistant.samples import SAMPLE_RATE, to_samples

SLOWINGS = (1.1, 1.0, 1.2)
"""How much slower, and so deeper, an utterance is heard each time. A child's pitch and formants are higher than those of the
adults that the model learnt from, and playing it slower lowers both (S. Ghai and R. Sinha, EURASIP Journal on Audio, Speech,
and Music Processing 2010, 318785: pitch, formants and speaking rate are what counts). How they were chosen: DEVELOPERS.md."""
SHORTEST_SAMPLES = to_samples(0.1)  # no word is shorter; chosen

# Its own threads spin while they wait: alone it takes half the processor time, and no longer (2 busy cores).
os.environ.setdefault("MOONSHINE_ORT_SINGLE_THREAD", "1")

# Its voice detector is one for the whole process and keeps its state from call to call: the same sound then gave other words
# after another sound (19 of 70 utterances), often with a "you" before them. The ears have judged by now that this is speech, so
# it is off (threshold 0): the same words each time, and fewer wrong ones (children's read speech 48 % in place of 55 %).
_OPTIONS = {"vad_threshold": "0", "identify_speakers": "false", "return_audio_data": "false"}
_NOTHING = ("you",)  # what the model writes where there is no speech at all: silence, hiss, rattling pieces
_FILES = ("encoder_model.ort", "decoder_model_merged.ort", "tokenizer.bin")
_OTHER_WAY = "Use Vosk instead: run `tray-turns models fetch`, or put a Vosk model into the folder models/."


class Moonshine:
    """moonshine tiny-en, with word times by alignment. English only.

    Raises:
        ModelError: there is no moonshine for this machine, or its model is not in the package.
    """

    name = "moonshine tiny-en (embedded)"

    def __init__(self, slowings: Sequence[float] = SLOWINGS) -> None:
        self._slowings = slowings
        self._transcriber = _opened()
        self._aligner = Aligner()

    def recognise(self, pcm: bytes, start_sample: int) -> tuple[Word, ...]:
        """The words of one stretch; see :class:`assistant.listening.recognise.Recogniser`."""
        if len(pcm) < 2 * SHORTEST_SAMPLES:
            return ()
        sound = np.divide(np.frombuffer(pcm, np.int16), FULL_SCALE, dtype=np.float32)
        words = self._agreed(sound)
        return self._aligner.align(pcm, words if words != _NOTHING else (), start_sample)

    def _agreed(self, sound: NDArray[np.float32]) -> tuple[str, ...]:
        """What was heard twice alike; where nothing was, what is nearest to all that was heard."""
        heard: list[tuple[str, ...]] = []
        for slowing in self._slowings:
            words = self._heard(sound if slowing == 1 else soxr.resample(sound, 1, slowing))
            if words in heard:
                return words
            heard.append(words)
        return min(heard, key=lambda words: sum(edits(words, other) for other in heard))

    def _heard(self, sound: NDArray[np.float32]) -> tuple[str, ...]:
        lines = self._transcriber.transcribe_without_streaming(sound.tolist(), SAMPLE_RATE).lines
        return spoken(" ".join(line.text for line in lines))


def _opened() -> Any:
    try:
        from moonshine_voice import ModelArch, get_assets_path
        from moonshine_voice.transcriber import Transcriber
    except (ImportError, OSError) as error:
        raise ModelError(f"The embedded recogniser does not exist for this machine. {_OTHER_WAY}") from error
    home = Path(get_assets_path()) / "tiny-en"
    if missing := [name for name in _FILES if not (home / name).is_file()]:
        raise ModelError(
            f"The embedded recogniser is not whole: {', '.join(missing)} is missing. "
            f"Run: pip install --force-reinstall moonshine-voice==0.1.0. {_OTHER_WAY}"
        )
    return Transcriber(str(home), ModelArch.TINY, options=_OPTIONS)
