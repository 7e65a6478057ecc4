"""What may be written, at each level of consent."""

import json
from pathlib import Path

import numpy as np
import pytest
import soundfile

from assistant.errors import KeepingError
from assistant.events import Corrected, CueAsked, Event, Heard, Request, Tallied, Understood, Word
from assistant.outputs.exports.records import as_record
from assistant.outputs.exports.rttm import rttm_lines
from assistant.outputs.keeping import Consent, Keeper
from assistant.samples import FRAME_SAMPLES, Frame
from assistant.terms import Act, Cue, Role, Seat

WORDS = (Word("the", 16_000, 20_000), Word("crimson", 20_000, 30_000))
REQUEST = Request(1, (("colour", "red"),), 1, ("on", "top"), 8, 2, 2)
EVENTS: list[Event] = [
    CueAsked(100, Cue.SWAP, "We swap now. Wilhelmina is the engineer."),
    Heard(40_000, 1, 16_000, 32_000, Seat.A, 0.2, WORDS),
    Understood(40_000, 1, Seat.A, Role.ENGINEER, Act.REQUEST, request=REQUEST),
    Heard(60_000, 2, 48_000, 56_000, Seat.UNSURE, 0.0, WORDS),
    Tallied(70_000, Seat.B, "shared the wheel with Wilhelmina"),
]


@pytest.mark.parametrize("attempt", ["events", "rttm", "mix"])
def test_without_consent_nothing_is_written(attempt: str, tmp_path: Path) -> None:
    keeper, path = Keeper(Consent.NOTHING), tmp_path / "file"
    with pytest.raises(KeepingError, match="no consent"):
        if attempt == "events":
            with keeper.event_file(path):
                pass
        elif attempt == "rttm":
            keeper.rttm(path, EVENTS)
        else:
            keeper.mix(path, [], [])
    assert list(tmp_path.iterdir()) == []


def test_consent_to_words_is_not_consent_to_voices(tmp_path: Path) -> None:
    with pytest.raises(KeepingError, match="voices"):
        Keeper(Consent.WORDS).mix(tmp_path / "mix.wav", [], [])
    assert list(tmp_path.iterdir()) == []


def test_the_timeline_holds_no_word_that_anybody_said_and_no_name() -> None:
    text = json.dumps([as_record(event, Consent.TIMELINE) for event in EVENTS])
    for secret in ("crimson", "red", "Wilhelmina", "wheel", "top"):
        assert secret not in text
    heard, understood = json.loads(text)[1:3]
    assert heard["words"] == 2
    assert understood["request"]["attributes"] == ["colour"]
    assert understood["request"]["fits_after"] == 2


def test_with_consent_to_words_they_are_there(tmp_path: Path) -> None:
    path = tmp_path / "events.jsonl"
    with Keeper(Consent.WORDS).event_file(path) as file:
        for event in EVENTS:
            file.write(event)
    records = [json.loads(line) for line in path.read_text().splitlines()]
    assert [record["event"] for record in records] == ["CueAsked", "Heard", "Understood", "Heard", "Tallied"]
    assert records[1]["words"][1]["text"] == "crimson"


def test_rttm_is_as_its_standard_says_with_corrections_applied() -> None:
    # NIST, Rich Transcription 2009 evaluation plan, appendix A (from memory): type file channel start length ortho subtype
    # speaker confidence lookahead.
    lines = rttm_lines([*EVENTS, Corrected(80_000, 2, Seat.UNSURE, Seat.B)], "our kitchen")
    assert lines == [
        "SPEAKER our_kitchen 1 1.00000 1.00000 <NA> <NA> A <NA> <NA>\n",
        "SPEAKER our_kitchen 1 3.00000 0.50000 <NA> <NA> B <NA> <NA>\n",
    ]
    assert all(len(line.split()) == 10 for line in lines)


def test_rttm_is_read_back_by_a_second_reader(tmp_path: Path) -> None:
    from pyannote.database.util import load_rttm

    path = tmp_path / "club.rttm"
    Keeper(Consent.TIMELINE).rttm(path, EVENTS)
    annotation = load_rttm(str(path))["club"]  # type: ignore[no-untyped-call]
    assert [(segment.start, segment.end, label) for segment, _, label in annotation.itertracks(yield_label=True)] == [
        (1.0, 2.0, "A"),
        (3.0, 3.5, "unsure"),
    ]


def test_the_mix_is_the_sound_with_each_cue_at_its_place(tmp_path: Path) -> None:
    rng = np.random.default_rng(1)
    sound = rng.integers(-1000, 1000, FRAME_SAMPLES * 5).astype(np.int16)
    cue = rng.integers(-1000, 1000, 700).astype(np.int16)
    frames = [Frame(start, sound[start : start + FRAME_SAMPLES].tobytes()) for start in range(0, len(sound), FRAME_SAMPLES)]
    path = tmp_path / "mix.wav"
    Keeper(Consent.VOICES).mix(path, frames, [(500, cue), (2000, cue)])
    mixed, rate = soundfile.read(path, dtype="int16")
    expected = sound.copy()
    expected[500:1200] += cue
    expected[2000:2400] += cue[:400]
    assert rate == 16_000
    np.testing.assert_array_equal(mixed, expected)


def test_a_loud_cue_over_a_loud_sound_is_clipped_and_does_not_wrap(tmp_path: Path) -> None:
    loud = np.full(FRAME_SAMPLES, 30_000, np.int16)
    path = tmp_path / "mix.wav"
    Keeper(Consent.VOICES).mix(path, [Frame(0, loud.tobytes())], [(0, loud)])
    assert soundfile.read(path, dtype="int16")[0].min() == 32_767


def test_a_place_where_nobody_may_write_is_a_sentence(tmp_path: Path) -> None:
    with pytest.raises(KeepingError, match="cannot be written"):
        Keeper(Consent.TIMELINE).rttm(tmp_path / "no such folder" / "f.rttm", EVENTS)
