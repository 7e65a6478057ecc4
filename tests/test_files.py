"""A recording gives the frames of what is in it, whatever its format, and says what is wrong with it in one sentence."""

import struct
import wave
from pathlib import Path

import numpy as np
import pytest
import soundfile
from numpy.typing import NDArray

from assistant.devices.files import open_recording, read_samples, real_pace
from assistant.errors import SourceError
from assistant.samples import FRAME_BYTES, FRAME_SAMPLES, Frame

Int16 = NDArray[np.int16]
Floats = NDArray[np.float64]


def tone(rate: int, seconds: float, hertz: float = 440.0) -> Floats:
    return 0.5 * np.sin(2 * np.pi * hertz * np.arange(round(rate * seconds)) / rate)


def noise(samples: int) -> Int16:
    return np.random.default_rng(1).integers(-20_000, 20_000, samples, dtype=np.int16)


def write_wave(path: Path, samples: Int16, rate: int = 16_000, channels: int = 1) -> Path:
    """With the standard library's own writer, so that reader and writer are not the same library."""
    with wave.open(str(path), "wb") as file:
        file.setnchannels(channels)
        file.setsampwidth(2)
        file.setframerate(rate)
        file.writeframes(samples.tobytes())
    return path


def heard(path: Path) -> Int16:
    return np.frombuffer(b"".join(frame.pcm for frame in open_recording(path)), np.int16)


# --- what is in the file comes out ------------------------------------------------------------------------------------


@pytest.mark.parametrize("samples", [2, 479, 480, 481, 48_000, 48_001])
def test_every_sample_comes_out_and_the_last_frame_is_filled_with_silence(tmp_path: Path, samples: int) -> None:
    recorded = noise(samples)
    recording = open_recording(write_wave(tmp_path / "a.wav", recorded))
    frames = list(recording)
    assert recording.length_samples == samples
    assert [frame.start_sample for frame in frames] == list(range(0, samples, FRAME_SAMPLES))
    assert {len(frame.pcm) for frame in frames} == {FRAME_BYTES}
    everything = np.frombuffer(b"".join(frame.pcm for frame in frames), np.int16)
    assert (everything[:samples] == recorded).all()
    assert not everything[samples:].any()


def test_a_sample_of_a_voice_is_read_whole_and_without_filling(tmp_path: Path) -> None:
    recorded = noise(16_001)
    assert (read_samples(write_wave(tmp_path / "A.wav", recorded)) == recorded).all()


@pytest.mark.parametrize(
    ("name", "subtype", "container"),
    [
        ("a.wav", "PCM_16", "WAV"),
        ("a.wav", "PCM_24", "WAV"),
        ("a.wav", "PCM_32", "WAV"),
        ("a.wav", "FLOAT", "WAV"),
        ("a.wav", "DOUBLE", "WAV"),
        ("a.wav", "PCM_24", "WAVEX"),
        ("a.wav", "FLOAT", "WAVEX"),
        ("a.flac", "PCM_16", "FLAC"),
        ("a.flac", "PCM_24", "FLAC"),
    ],
)
def test_lossless_formats_give_the_same_int16(tmp_path: Path, name: str, subtype: str, container: str) -> None:
    recorded = noise(5_000)
    soundfile.write(tmp_path / name, recorded / 32_768, 16_000, subtype, format=container)
    assert (read_samples(tmp_path / name) == recorded).all()


@pytest.mark.parametrize("rate", [8_000, 11_025, 16_000, 22_050, 44_100, 48_000])
@pytest.mark.parametrize("seconds", [0.5, 1.2345])
def test_any_rate_becomes_16_khz_with_its_length_and_place_in_time(tmp_path: Path, rate: int, seconds: float) -> None:
    soundfile.write(tmp_path / "a.wav", tone(rate, seconds), rate)
    got = read_samples(tmp_path / "a.wav") / 32_768
    assert len(got) == open_recording(tmp_path / "a.wav").length_samples == pytest.approx(seconds * 16_000, abs=1)
    inside = slice(400, -400)  # a resampler rings at a hard edge
    assert np.abs(got - tone(16_000, len(got) / 16_000))[inside].max() < 0.001  # so neither late, nor louder, nor higher


def test_ogg_is_read_and_stays_in_its_place(tmp_path: Path) -> None:
    soundfile.write(tmp_path / "a.ogg", tone(48_000, 2.0), 48_000)
    got = read_samples(tmp_path / "a.ogg") / 32_768
    assert len(got) == 32_000
    assert np.abs(got - tone(16_000, 2.0))[400:-400].max() < 0.02  # Vorbis loses a little


def test_two_channels_are_mixed(tmp_path: Path) -> None:
    left, right = noise(4_800) // 2 * 2, noise(9_600)[4_800:] // 2 * 2  # even, so that the mean is a whole number
    write_wave(tmp_path / "a.wav", np.column_stack([left, right]).reshape(-1), channels=2)
    assert (read_samples(tmp_path / "a.wav") == (left.astype(int) + right) // 2).all()


def test_channels_that_are_microphones_are_also_heard_each_alone(tmp_path: Path) -> None:
    first, unused, third = (noise(9_600)[at : at + 2_400] // 2 * 2 for at in (0, 2_400, 4_800))
    write_wave(tmp_path / "a.wav", np.column_stack([first, unused, third]).reshape(-1), channels=3)
    frames = list(open_recording(tmp_path / "a.wav", picked=(3, 1)))
    alone = [np.frombuffer(b"".join(frame.channels[place] for frame in frames), np.int16) for place in (0, 1)]
    assert (alone[0] == third).all() and (alone[1] == first).all()
    mix = np.frombuffer(b"".join(frame.pcm for frame in frames), np.int16)
    assert (mix == (first.astype(int) + third) // 2).all()


def test_the_mix_of_loud_microphones_is_not_clipped(tmp_path: Path) -> None:
    loud = np.repeat(np.array([32_767, -32_768], np.int16), 240)
    write_wave(tmp_path / "a.wav", np.column_stack([loud, loud, loud]).reshape(-1), channels=3)
    assert next(iter(open_recording(tmp_path / "a.wav", picked=(1, 2, 3)))).pcm == loud.tobytes()


def test_microphones_at_another_rate_stay_side_by_side(tmp_path: Path) -> None:
    both = np.column_stack([tone(44_100, 1.0), -tone(44_100, 1.0)])
    soundfile.write(tmp_path / "a.wav", both, 44_100)
    frames = list(open_recording(tmp_path / "a.wav", picked=(1, 2)))
    one, other = (np.frombuffer(b"".join(frame.channels[place] for frame in frames), np.int16) for place in (0, 1))
    assert np.abs(one + other.astype(int)).max() <= 2  # rounding
    assert np.abs(one[:16_000] / 32_768 - tone(16_000, 1.0))[400:-400].max() < 0.001


def test_a_float_file_over_full_scale_is_clipped_and_not_wrapped(tmp_path: Path) -> None:
    soundfile.write(tmp_path / "a.wav", np.array([0.0, 1.5, -1.5, 0.5]), 16_000, "FLOAT")
    assert read_samples(tmp_path / "a.wav").tolist() == [0, 32_767, -32_768, 16_384]


def test_what_is_not_a_number_is_silence_and_spoils_nothing_after_it(tmp_path: Path) -> None:
    soundfile.write(tmp_path / "a.wav", np.array([0.5, np.nan, np.inf * 0, 0.5, -0.5] * 100), 16_000, "FLOAT")
    assert read_samples(tmp_path / "a.wav")[:5].tolist() == [16_384, 0, 0, 16_384, -16_384]


def test_a_second_reading_gives_the_same(tmp_path: Path) -> None:
    recording = open_recording(write_wave(tmp_path / "a.wav", noise(100_000), rate=44_100))
    assert list(recording) == list(recording)


def test_a_recorder_that_did_not_know_the_length_is_believed(tmp_path: Path) -> None:
    """RIFF sizes of all ones are what a program writes that streams into a pipe (common practice, no source)."""
    raw = bytearray(write_wave(tmp_path / "a.wav", noise(16_000)).read_bytes())
    raw[4:8] = raw[40:44] = struct.pack("<I", 0xFFFF_FFFF)
    (tmp_path / "a.wav").write_bytes(raw)
    assert len(heard(tmp_path / "a.wav")) == 16_320  # 16,000 samples in whole frames


# --- what is wrong with a file ----------------------------------------------------------------------------------------


def refusal(path: Path) -> str:
    """The sentence that a file is refused with, at the start or where it is damaged."""
    with pytest.raises(SourceError) as caught:
        list(open_recording(path))
    return str(caught.value)


def test_no_such_file(tmp_path: Path) -> None:
    assert refusal(tmp_path / "club.wav") == f"There is no file {tmp_path}/club.wav. Check its name and folder."


def test_a_folder(tmp_path: Path) -> None:
    assert refusal(tmp_path) == f"{tmp_path} is a folder. Name one recording in it."


@pytest.mark.parametrize("content", [b"Dear diary, " * 100, b"RIFF\x24\0\0\0WAVEfmt ", b"fLaC", b"\0" * 5000])
def test_not_sound(tmp_path: Path, content: bytes) -> None:
    (tmp_path / "a.wav").write_bytes(content)
    assert refusal(tmp_path / "a.wav") == f"{tmp_path}/a.wav cannot be read as sound. Use a WAV, FLAC or Ogg file."


@pytest.mark.parametrize("whole", [False, True])
def test_empty(tmp_path: Path, whole: bool) -> None:
    if whole:
        write_wave(tmp_path / "a.wav", noise(0))
    else:
        (tmp_path / "a.wav").touch()
    assert refusal(tmp_path / "a.wav") == f"{tmp_path}/a.wav holds no sound: it is empty. Choose another recording."


@pytest.mark.parametrize(
    "samples",
    [
        np.zeros(50_000, np.int16),
        np.full(50_000, 900, np.int16),  # a dead input with an offset
        np.random.default_rng(2).integers(-10, 11, 50_000, dtype=np.int16),  # 5.8 RMS, -75 dBFS
    ],
    ids=["nothing", "offset", "hiss"],
)
def test_silent(tmp_path: Path, samples: Int16) -> None:
    assert "is silent from start to end" in refusal(write_wave(tmp_path / "a.wav", samples))


def test_one_word_in_a_long_silence_is_not_silent(tmp_path: Path) -> None:
    samples = np.zeros(500_000, np.int16)
    samples[490_000:495_000] = noise(5_000) // 100
    assert len(heard(write_wave(tmp_path / "a.wav", samples))) >= 500_000


def test_flac_without_a_length(tmp_path: Path) -> None:
    """STREAMINFO's 36-bit sample count may be 0, "unknown" (RFC 9639, section 8.2)."""
    soundfile.write(tmp_path / "a.flac", noise(16_000), 16_000)
    raw = bytearray((tmp_path / "a.flac").read_bytes())
    raw[21] &= 0xF0  # "fLaC", a block header of 4 bytes, then bits 108 to 143 of STREAMINFO
    raw[22:26] = bytes(4)
    (tmp_path / "a.flac").write_bytes(raw)
    assert "does not say how long it is" in refusal(tmp_path / "a.flac")


@pytest.mark.parametrize("name", ["a.wav", "a.flac", "a.ogg"])
def test_a_file_that_breaks_off_does_not_look_like_the_end(tmp_path: Path, name: str) -> None:
    soundfile.write(tmp_path / name, noise(16_000 * 20), 16_000)
    raw = (tmp_path / name).read_bytes()
    (tmp_path / name).write_bytes(raw[: len(raw) // 2])
    assert "breaks off or is damaged at 0:" in refusal(tmp_path / name)


def test_damage_in_the_middle_comes_after_the_good_part(tmp_path: Path) -> None:
    recorded = noise(16_000 * 20)
    soundfile.write(tmp_path / "a.flac", recorded, 16_000)
    raw = bytearray((tmp_path / "a.flac").read_bytes())
    raw[len(raw) // 2 : len(raw) // 2 + 400] = bytes(400)
    (tmp_path / "a.flac").write_bytes(raw)
    good = bytearray()
    with pytest.raises(SourceError, match=r"damaged at 0:0\d|damaged at 0:10"):
        for frame in open_recording(tmp_path / "a.flac"):
            good += frame.pcm
    samples = np.frombuffer(bytes(good), np.int16)
    assert len(samples) > 16_000 * 8
    assert (samples == recorded[: len(samples)]).all()


# --- real pace --------------------------------------------------------------------------------------------------------


class FakeClock:
    """Time that passes only in sleep, and when the listener says so."""

    def __init__(self) -> None:
        self.time_s = 100.0

    def sleep(self, seconds: float) -> None:
        self.time_s += seconds

    def now(self) -> float:
        return self.time_s


def test_a_frame_comes_when_its_last_sample_would_have_been_heard() -> None:
    clock = FakeClock()
    frames = [Frame(at * FRAME_SAMPLES, bytes(FRAME_BYTES)) for at in range(4)]
    came_s = [round(clock.now() - 100, 6) for _ in real_pace(frames, sleep=clock.sleep, now=clock.now)]
    assert came_s == [0.03, 0.06, 0.09, 0.12]


def test_after_a_slow_moment_the_late_frames_come_at_once() -> None:
    clock = FakeClock()
    frames = [Frame(at * FRAME_SAMPLES, bytes(FRAME_BYTES)) for at in range(5)]
    came_s = []
    for frame in real_pace(frames, sleep=clock.sleep, now=clock.now):
        came_s.append(round(clock.now() - 100, 6))
        if frame.start_sample == 0:
            clock.sleep(0.07)
    assert came_s == [0.03, 0.1, 0.1, 0.12, 0.15]


def test_real_pace_changes_no_frame(tmp_path: Path) -> None:
    recording = open_recording(write_wave(tmp_path / "a.wav", noise(5_000)))
    clock = FakeClock()
    assert list(real_pace(recording, sleep=clock.sleep, now=clock.now)) == list(recording)


@pytest.mark.parametrize(("channels", "there"), [(1, "channel 1 alone"), (2, "channels 1 to 2")])
def test_a_channel_that_the_recording_has_not(tmp_path: Path, channels: int, there: str) -> None:
    path = write_wave(tmp_path / "a.wav", noise(4_800), channels=channels)
    with pytest.raises(SourceError, match=f"a.wav has {there}, and no channel 3. Change --channels."):
        open_recording(path, picked=(1, 3))
