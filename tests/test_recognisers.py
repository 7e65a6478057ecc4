"""What was said, and when: the embedded recogniser, Vosk with a real model, and the aligner between words and sound."""

import subprocess
import sys
from pathlib import Path

import jiwer
import numpy as np
import pytest
from numpy.typing import NDArray

from assistant.devices.voice import Voice
from assistant.errors import ModelError
from assistant.events import Word
from assistant.listening.alignment import Aligner
from assistant.listening.moonshine import Moonshine
from assistant.listening.wording import spoken

START = 160_000  # the stretch begins ten seconds into the session


def silence(seconds: float) -> NDArray[np.int16]:
    return np.zeros(round(seconds * 16_000), np.int16)


def said(*texts: str, gap_s: float = 0.3, language: str = "en") -> tuple[bytes, list[int]]:
    """The texts one after the other with silence around each, and the sample at which each begins."""
    voice = Voice(language)
    sound, begins = silence(gap_s), []
    for text in texts:
        begins.append(START + len(sound))
        sound = np.concatenate([sound, voice.render(text), silence(gap_s)])
    return sound.tobytes(), begins


def assert_in_order_and_inside(words: tuple[Word, ...], pcm: bytes) -> None:
    edges = [edge for word in words for edge in (word.start_sample, word.end_sample)]
    assert edges == sorted(edges)
    assert edges[0] >= START and edges[-1] <= START + len(pcm) // 2


# --- from written to spoken ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("written", "expected"),
    [
        ("We need two Long red bricks, please!", "we need two long red bricks please"),
        ("It's on the left-hand side \u2014 isn\u2019t it?", "it's on the left hand side isn't it"),
        ("Which one?  There are 3.", "which one there are three"),
        ("12, 20, 21 and 100", "twelve twenty twenty one and one hundred"),
        ("105 of 999", "one hundred and five of nine hundred and ninety nine"),
        ("the 1st, 2nd, 3rd, 12th and 21st", "the first second third twelfth and twenty first"),
        ("the 20th & the 9th", "the twentieth and the ninth"),
        ("a 2x4, 50% off, 0 left", "a two x four fifty percent off zero left"),
        ("1,250 and 007", "one two five zero and zero zero seven"),
        ("'Cause \u2018red\u2019 is \u201cred\u201d...", "cause red is red"),
        ("\u00bd a brick", "half a brick"),
        ("caf\u00e9 cr\u00e8me", "caf\u00e9 cr\u00e8me"),
        ("... - ?!", ""),
        ("", ""),
    ],
)
def test_written_text_becomes_spoken_words(written: str, expected: str) -> None:
    """Numbers are read as British people read them (common practice, no source)."""
    assert " ".join(spoken(written)) == expected


# --- word times ---------------------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def aligner() -> Aligner:
    return Aligner()


def test_words_that_were_put_down_apart_are_found_where_they_were_put(aligner: Aligner) -> None:
    words = ("put", "the", "yellow", "piece", "behind", "seven", "long", "bricks")
    pcm, begins = said(*words)
    placed = aligner.align(pcm, words, START)
    assert tuple(word.text for word in placed) == words
    late_ms = [abs(word.start_sample - begin) / 16 for word, begin in zip(placed, begins, strict=True)]
    assert np.median(late_ms) <= 30
    assert max(late_ms) <= 100


def test_running_words_are_in_order_and_inside_their_stretch(aligner: Aligner) -> None:
    pcm, _ = said("put the big blue one on top of the little green one")
    placed = aligner.align(pcm, "put the big blue one on top of the little green one".split(), START)
    assert_in_order_and_inside(placed, pcm)
    assert len(placed) == 12
    assert all(word.end_sample > word.start_sample for word in placed)


def test_words_that_were_misheard_still_find_a_place(aligner: Aligner) -> None:
    pcm, _ = said("take two red bricks please", gap_s=0.1)
    for heard in ("make to red bricks please", "take two read brakes peas", "the two red"):
        assert_in_order_and_inside(aligner.align(pcm, heard.split(), START), pcm)


def test_a_word_that_no_dictionary_knows_gets_the_room_between_its_neighbours(aligner: Aligner) -> None:
    pcm, begins = said("red", "bricks", "please", gap_s=0.5)
    words = aligner.align(pcm, ("red", "zzyzx", "please"), START)
    assert [word.text for word in words] == ["red", "zzyzx", "please"]
    assert words[0].end_sample == words[1].start_sample
    assert words[1].end_sample == words[2].start_sample == pytest.approx(begins[2], abs=1_600)


def test_words_that_cannot_fit_are_spread_evenly(aligner: Aligner) -> None:
    pcm = silence(0.1).tobytes()
    words = aligner.align(pcm, "which one of them is it then".split(), START)
    assert [word.start_sample - START for word in words] == [1_600 * part // 7 for part in range(7)]
    assert words[-1].end_sample == START + 1_600
    only_unknown = aligner.align(pcm, ("zzyzx", "qwrtp"), START)
    assert [(word.start_sample - START, word.end_sample - START) for word in only_unknown] == [(0, 800), (800, 1_600)]


def test_after_a_stretch_that_does_not_fit_the_next_one_does(aligner: Aligner) -> None:
    aligner.align(silence(1).tobytes(), ("red",), START)
    aligner.align(b"", ("red",), START)
    assert aligner.align(b"", (), START) == ()
    pcm, begins = said("red")
    assert aligner.align(pcm, ("red",), START)[0].start_sample == pytest.approx(begins[0], abs=1_600)


# --- the embedded recogniser --------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def moonshine() -> Moonshine:
    return Moonshine()


def test_moonshine_hears_requests(moonshine: Moonshine) -> None:
    """Plain synthetic speech; speech.md's own figure for such voices was 19 % of words wrong."""
    texts = [
        "Put the red one on top.",
        "Which one? There are three.",
        "Can you find the small yellow piece?",
        "Now we need the green one.",
    ]
    heard = []
    for text in texts:
        pcm, _ = said(text, gap_s=0.1)
        words = moonshine.recognise(pcm, START)
        assert_in_order_and_inside(words, pcm)
        heard.append(" ".join(word.text for word in words))
    assert jiwer.wer([" ".join(spoken(text)) for text in texts], heard) <= 0.2


def test_moonshine_hears_the_same_whatever_it_heard_before(moonshine: Moonshine) -> None:
    """Its own voice detector would carry its state over; see the module."""
    first, second = (said(text)[0] for text in ("Put the red one on top.", "Which one? There are three."))
    hiss = np.random.default_rng(1).normal(0, 900, 32_000).astype(np.int16).tobytes()
    alone = {pcm: moonshine.recognise(pcm, START) for pcm in (first, second)}
    for pcm in (second, first, hiss, first, first, second):
        assert moonshine.recognise(pcm, START) == alone.get(pcm, ())
    assert all(alone.values())


@pytest.mark.parametrize("seconds", [0.5, 2])
def test_moonshine_hears_nothing_in_silence(moonshine: Moonshine, seconds: float) -> None:
    assert moonshine.recognise(silence(seconds).tobytes(), START) == ()


def test_moonshine_says_who_it_is(moonshine: Moonshine) -> None:
    assert moonshine.name == "moonshine tiny-en (embedded)"


@pytest.mark.parametrize("samples", [0, 1, 159, 1_599])
def test_a_stretch_too_short_for_a_word_has_none(moonshine: Moonshine, samples: int) -> None:
    assert moonshine.recognise(bytes(2 * samples), START) == ()


def test_moonshine_prints_nothing(tmp_path: Path) -> None:
    program = "from assistant.listening.moonshine import Moonshine; Moonshine().recognise(bytes(64_000), 0)"
    ran = subprocess.run([sys.executable, "-B", "-c", program], capture_output=True, check=True)
    assert (ran.stdout, ran.stderr) == (b"", b"")


def test_where_there_is_no_moonshine_the_sentence_names_vosk(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "moonshine_voice", None)
    with pytest.raises(ModelError, match="does not exist for this machine. Use Vosk instead"):
        Moonshine()


def test_a_package_without_its_model_is_said_to_be_broken(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("moonshine_voice.get_assets_path", lambda: tmp_path)
    with pytest.raises(ModelError, match="not whole: encoder_model.ort, .* pip install --force-reinstall"):
        Moonshine()
