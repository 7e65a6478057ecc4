"""The voice renders cues in memory: the same each time, from any thread, at a known loudness, without printing."""

import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor

import numpy as np
import pytest

from assistant.devices import voice as voice_module
from assistant.devices.voice import Voice
from assistant.errors import DeviceError

SWAP = "We swap now. Seat A is the builder. Seat B is the supplier."


def rms_dbfs(samples: np.typing.NDArray[np.int16]) -> float:
    return float(20 * np.log10(np.sqrt(np.mean(samples.astype(float) ** 2)) / 32_768))


def seconds(samples: np.typing.NDArray[np.int16]) -> float:
    return len(samples) / 16_000


def test_a_cue_takes_about_as_long_as_its_words_at_the_chosen_pace() -> None:
    """12 words at 140 a minute are 5.1 s, at 100 7.2 s, at 200 3.6 s (arithmetic)."""
    assert seconds(Voice(rate_wpm=100).render(SWAP)) == pytest.approx(7.2, rel=0.15)
    assert seconds(Voice(rate_wpm=200).render(SWAP)) == pytest.approx(3.6, rel=0.15)
    assert seconds(Voice().render(SWAP)) == pytest.approx(5.1, rel=0.15)


def test_the_same_text_is_the_same_sound_though_others_came_between() -> None:
    voice = Voice()
    first = voice.render(SWAP).tobytes()
    voice.render("Two more steps, then we swap.")
    Voice("ko").render("안녕하세요")
    assert voice.render(SWAP).tobytes() == first


def test_a_rendered_cue_cannot_be_spoilt_by_who_plays_it() -> None:
    with pytest.raises(ValueError, match="read-only"):
        Voice().render(SWAP)[0] = 1


@pytest.mark.parametrize("text", ["One minute left.", SWAP, "The club is over. See you next time."])
def test_loudness(text: str) -> None:
    loud, half = Voice().render(text), Voice(volume=0.5).render(text)
    assert -22 < rms_dbfs(loud) < -19.9
    assert np.abs(loud).max() <= 32_768 * 10 ** (-1 / 20) + 1
    # Half is 6 dB less; espeak's flutter moves the peak, and with it the limit, by up to half a decibel.
    assert rms_dbfs(loud) - rms_dbfs(half) == pytest.approx(6, abs=0.6)
    assert not Voice(volume=0).render(text).any()


def test_no_long_silence_at_either_end_so_that_the_ears_are_muted_no_longer_than_needed() -> None:
    loud = np.flatnonzero(np.abs(Voice().render("One minute left.").astype(int)) > 300)
    assert loud[0] < 16_000 * 0.05
    assert len(Voice().render("One minute left.")) - loud[-1] < 16_000 * 0.1


def test_voices_differ_and_do_not_leak_into_one_another() -> None:
    here, there = Voice(), Voice(name="en+f3", rate_wpm=180)
    assert here.render("Hello.").tobytes() != there.render("Hello.").tobytes()
    assert seconds(here.render(SWAP)) > 1.2 * seconds(there.render(SWAP))


def test_from_many_threads_at_once_each_gets_its_own_text_whole() -> None:
    texts = ["one"] + [f"{number} more steps, then we swap" for number in range(2, 10)]
    alone = Voice()
    lengths = {text: len(alone.render(text)) for text in texts}
    with ThreadPoolExecutor(8) as pool:
        rendered = list(pool.map(Voice().render, texts * 4))
    for text, samples in zip(texts * 4, rendered, strict=True):
        assert len(samples) == pytest.approx(lengths[text], rel=0.02)


def test_seat_a_is_called_by_its_letter_and_not_uh() -> None:
    """The letter sounds as "eigh" in "eight": the spelling "Eigh" is read /eɪ/ too, and the article is shorter."""
    letter, article = Voice().render("A passes."), Voice().render("a passes.")
    assert len(letter) == pytest.approx(len(Voice().render("Eigh passes.")), rel=0.02)
    assert len(letter) > 1.05 * len(article)


def test_nothing_to_say_is_no_sound() -> None:
    assert Voice().render("").size == Voice().render(" \n").size == 0


def test_a_language_that_espeak_does_not_speak() -> None:
    with pytest.raises(DeviceError, match="no voice 'klingonese'"):
        Voice("Klingonese")


@pytest.mark.parametrize("wrong", [{"rate_wpm": 20}, {"rate_wpm": 900}, {"volume": 1.5}, {"volume": -0.1}])
def test_a_pace_or_volume_out_of_range_is_refused(wrong: dict[str, float]) -> None:
    with pytest.raises(ValueError, match="words a minute"):
        Voice(**wrong)  # type: ignore[arg-type]


def test_without_pyttsx3_one_sentence_says_what_to_install(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "pyttsx3", None)
    monkeypatch.setattr(voice_module, "_engine", voice_module._engine.__wrapped__)
    monkeypatch.setattr(voice_module, "_rendered", voice_module._rendered.__wrapped__)
    with pytest.raises(DeviceError, match="Install the package espeakng-loader, or espeak-ng"):
        Voice()


@pytest.mark.parametrize("held", ["", "import sys; sys.held = sys.modules[Voice.__module__]"], ids=["let go", "held on to"])
def test_it_prints_nothing(held: str) -> None:
    program = f"from assistant.devices.voice import Voice; Voice().render({SWAP!r}); {held}"
    said = subprocess.run([sys.executable, "-B", "-c", program], capture_output=True, check=True)
    assert (said.stdout, said.stderr) == (b"", b"")
