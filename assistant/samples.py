"""Time, counted in samples.

What lives here: the one sample rate, the one frame length, and the way between samples and seconds.
What must not: a clock. Nothing in this package asks what time it is; the frames that were heard are the time.
"""

from typing import NamedTuple

from assistant.terms import Loss

SAMPLE_RATE = 16_000  # Hz; webrtcvad, Silero, the voice network and the recognisers all take it
FRAME_MS = 30  # one of the three lengths webrtcvad accepts (10, 20, 30)
FRAME_SAMPLES = SAMPLE_RATE * FRAME_MS // 1000  # 480
FRAME_BYTES = FRAME_SAMPLES * 2  # 960, int16 mono


def to_seconds(samples: int) -> float:
    """A length or a place on the time line, in seconds."""
    return samples / SAMPLE_RATE


def to_samples(seconds: float) -> int:
    """The nearest whole number of samples to a length in seconds."""
    return round(seconds * SAMPLE_RATE)


def clock_face(samples: int) -> str:
    """A place on the time line as minutes and seconds, ``"4:07"``, rounded down as a clock is."""
    minutes, seconds = divmod(samples // SAMPLE_RATE, 60)
    return f"{minutes}:{seconds:02d}"


class Frame(NamedTuple):
    """30 ms of sound: int16 mono at 16 kHz, and the sample at which it begins. A jump in ``start_sample`` is lost sound.

    Where each seat has a microphone of its own, ``pcm`` is their mix and ``channels`` holds each alone, in the order in which
    the seats were named. ``lost`` is why sound is missing before it, where it is. A microphone also says how much sound already
    waited when this was handed on (``behind_samples``), and how fast sound comes: ``speed`` 1 is as many samples as promised.
    """

    start_sample: int
    pcm: bytes
    channels: tuple[bytes, ...] = ()
    lost: Loss | None = None
    behind_samples: int = 0
    speed: float = 1.0

    @property
    def end_sample(self) -> int:
        """The first sample after the frame."""
        return self.start_sample + FRAME_SAMPLES
