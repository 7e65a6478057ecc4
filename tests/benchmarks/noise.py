"""How much noise hearing stands: ``python -m tests.benchmarks.noise``.

The demonstration's recording with steady noise laid over it, as a fan makes (each octave has the same power), so that speech
stands out by so many decibels as ``tray-turns setup`` measures it. Each row is a whole session.
"""

import sys
from collections.abc import Iterable, Iterator
from functools import partial

import numpy as np
from numpy.typing import NDArray

from assistant.devices.files import Recording
from assistant.listening.levels import Level, Meter, noise_of, speech_of
from assistant.samples import FRAME_SAMPLES, Frame
from tests.benchmarks.demo import Figures, measure, travel, true_story

OVER_NOISE_DB = (30, 20, 15, 10, 5)
_HEADINGS = ("Speech over noise", "Units found", "Who right, over 1 s", "`?`", "Boundaries", "Attribute words", "Steps done")


def noise(length: int) -> NDArray[np.float64]:
    """Pink noise of this many samples: each octave has the same power."""
    spectrum = np.fft.rfft(np.random.default_rng(1).normal(0, 1, length))
    return np.fft.irfft(spectrum / np.sqrt(np.arange(len(spectrum)) + 1), length)


def levels(sound: NDArray[np.float64]) -> list[Level]:
    """The level of each frame."""
    meter = Meter()
    starts = range(0, len(sound) - FRAME_SAMPLES + 1, FRAME_SAMPLES)
    return [meter.hear(Frame(at, sound[at : at + FRAME_SAMPLES].astype(np.int16).tobytes())) for at in starts]


def noisy(recording: Recording, over_noise_db: float) -> Iterator[Frame]:
    """The recording under so much noise."""
    sound = np.frombuffer(b"".join(frame.pcm for frame in recording), np.int16).astype(np.float64)
    hum = noise(len(sound))
    hum *= 1_000 / np.std(hum)
    louder_db = speech_of(levels(sound)) - over_noise_db - noise_of(levels(hum))
    mixed = np.clip(sound + hum * 10 ** (louder_db / 20), -32_768, 32_767).astype(np.int16)
    for start in range(0, len(mixed), FRAME_SAMPLES):
        yield Frame(start, mixed[start : start + FRAME_SAMPLES].tobytes())


def row(over_noise_db: float, figures: Figures) -> Iterable[str]:
    """The figures of one session, in the order of the headings."""
    told, words = figures.who, figures.words
    yield f"{over_noise_db:g} dB"
    yield f"{len(figures.start_errors_s)} of {len(true_story()['segments'])}"
    yield f"{told.right} of {told.answered}"
    yield f"{told.units - told.answered} of {told.units}"
    yield f"{figures.boundary_error_s * 1000:.0f} ms"
    yield f"F1 {words.f1:.2f}"
    building = figures.summary.building
    yield f"{building.steps_done} of {building.steps_in_plan}"


def main() -> None:
    """Prints the table."""
    sys.stdout.write("| " + " | ".join(_HEADINGS) + " |\n|" + "---|" * len(_HEADINGS) + "\n")
    for over_noise_db in OVER_NOISE_DB:
        figures = measure(*travel(pace=partial(noisy, over_noise_db=over_noise_db)))
        sys.stdout.write("| " + " | ".join(row(over_noise_db, figures)) + " |\n")
        sys.stdout.flush()


if __name__ == "__main__":
    main()
