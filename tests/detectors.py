"""The speech detector's network beside the published one, which the moonshine-voice wheel carries whole."""

from collections.abc import Callable
from typing import Any

import numpy as np
from numpy.typing import NDArray

from assistant.listening.networks import Network, open_detector, open_network
from assistant.listening.speech import SLOT_SAMPLES
from assistant.samples import SAMPLE_RATE

PUBLISHED = Network("published detector", 2_421_272, "a620103ef77fbdae23c7798b9271506a48a883997e55f851d2884551e0947437")
"""Silero VAD 6.2, with both its sample rates."""
Judge = Callable[[NDArray[np.float32]], float]


def slots_of(samples: NDArray[np.int16]) -> list[NDArray[np.float32]]:
    """Float32 [1, 576] each: the 64 samples before a slot, and its 512."""
    padded = np.concatenate((np.zeros(64), samples / 32768)).astype(np.float32)[np.newaxis]
    return [padded[:, start : start + 64 + SLOT_SAMPLES] for start in range(0, len(samples) - SLOT_SAMPLES, SLOT_SAMPLES)]


def ours() -> Judge:
    """Our network, from a blank state on: a probability for each slot in turn."""
    session = open_detector()
    state: dict[str, Any] = dict.fromkeys(("hidden", "cell"), np.zeros((1, 1, 128), dtype=np.float32))

    def judge(sound: NDArray[np.float32]) -> float:
        probability, state["hidden"], state["cell"] = session.run(None, {"sound": sound, **state})
        return float(probability[0, 0])

    return judge


def published() -> Judge:
    """The published network, from a blank state on."""
    session = open_network(PUBLISHED)
    state: dict[str, Any] = {"state": np.zeros((2, 1, 128), dtype=np.float32)}

    def judge(sound: NDArray[np.float32]) -> float:
        probability, state["state"] = session.run(None, {"input": sound, "sr": np.array(SAMPLE_RATE), **state})
        return float(probability[0, 0])

    return judge
