"""Voices in the store: only where everybody agreed, only in a locked one, and gone when they have to go."""

import io
import random
from collections.abc import Iterable
from pathlib import Path

import numpy as np
import pytest
import soundfile
from numpy.typing import NDArray
from rich.console import Console

from assistant.assembly import open_texts
from assistant.cli import main
from assistant.club import Club, Wishes
from assistant.commands import kept_sessions
from assistant.core.club.consent import Consent, Giver
from assistant.errors import KeepingError
from assistant.outputs.keeping import Keeper
from assistant.outputs.keeping.sound import PIECE_FRAMES, Gathering, Piece, samples_of
from assistant.outputs.keeping.store import LOCKED_FILE, Keeping, open_store, unlock_store
from assistant.run import Road
from assistant.samples import FRAME_SAMPLES, SAMPLE_RATE, to_samples
from assistant.terms import Mark, Seat
from tests.fakes import ListSpeaker, ScriptedEars, a_session, conversation, marked
from tests.killing import DAY, PASSPHRASE, UNTIL, a_frame, agreed, kill_speaker, locked_store
from tests.test_exports import STORY
from tests.test_store import kept, raw

PAGE = 4096  # bytes of one page of the store, SQLite's and SQLCipher's default
FOREVER = "2999-01-01"


@pytest.fixture
def locked(tmp_path: Path) -> Path:
    return locked_store(tmp_path / "data")


def hear(keeping: Keeping, numbers: Iterable[int]) -> None:
    for number in numbers:
        keeping.hear(a_frame(number))


def sound(numbers: Iterable[int]) -> NDArray[np.int16]:
    return np.frombuffer(b"".join(a_frame(number).pcm for number in numbers), np.int16)


def spoken(folder: Path, frames: int = 100, until: str = FOREVER) -> int:
    """A session of three seconds, with its voices; its number."""
    with open_store(folder, DAY, PASSPHRASE) as store:
        keeping = store.keep(agreed(Consent.VOICES, until), DAY)
        keeping.write_all(STORY)
        hear(keeping, range(frames))
        keeping.finish()
        assert keeping.trouble is None
        return keeping.number


def pages(folder: Path) -> set[bytes]:
    """Every page of the store and its journal, as it lies on the disk; the journal's index has numbers of pages alone."""
    files = [path.read_bytes() for path in folder.iterdir() if not path.name.endswith("-shm")]
    return {whole[at : at + PAGE] for whole in files for at in range(0, len(whole), PAGE)}


# --- what is kept -----------------------------------------------------------------------------------------------------------


def test_what_was_heard_comes_back_sample_by_sample(locked: Path) -> None:
    number = spoken(locked)
    with open_store(locked, DAY, PASSPHRASE) as store:
        pieces = store.voices(number)
        assert [piece.start_sample // FRAME_SAMPLES for piece in pieces] == [0, 33, 66, 99]
        np.testing.assert_array_equal(np.concatenate([samples_of(piece) for piece in pieces]), sound(range(100)))
        assert store.sessions()[0].voice_samples == 100 * FRAME_SAMPLES
        assert store.events(number) == STORY
        assert store.check() == []


def test_a_piece_is_at_most_a_second() -> None:
    assert 0.9 * SAMPLE_RATE < PIECE_FRAMES * FRAME_SAMPLES <= SAMPLE_RATE


def test_a_stream_says_nothing_of_when_where_or_who() -> None:
    """RFC 9639, section 8: a block of metadata is its type (the last one's has 128 added), three bytes of length, its data."""
    gathering = Gathering()
    gathering.take(a_frame(0))
    piece = gathering.rest()
    assert piece
    at, blocks, is_last = 4, {}, False
    while not is_last:
        kind, length = piece.flac[at], int.from_bytes(piece.flac[at + 1 : at + 4])
        blocks[kind & 127], is_last = piece.flac[at + 4 : at + 4 + length], kind >= 128
        at += 4 + length
    assert blocks.keys() <= {0, 1, 4}  # how the stream is laid out, padding, comments
    maker = int.from_bytes(blocks[4][:4], "little")
    assert blocks[4][4 : 4 + maker].startswith(b"reference libFLAC") and blocks[4][4 + maker :] == bytes(4)  # and no comment


def test_nothing_of_it_can_be_read_in_the_raw_bytes(locked: Path) -> None:
    with open_store(locked, DAY, PASSPHRASE) as store:
        hear(store.keep(agreed(Consent.VOICES), DAY), range(40))
        assert b"flac" not in raw(locked)  # every stream begins with it (RFC 9639, section 6)
    assert b"flac" not in raw(locked)


@pytest.mark.parametrize("level", [Consent.TIMELINE, Consent.WORDS])
def test_below_the_level_of_voices_no_sound_is_kept(level: Consent, locked: Path) -> None:
    with open_store(locked, DAY, PASSPHRASE) as store:
        keeping = store.keep(agreed(level), DAY)
        hear(keeping, range(100))
        keeping.finish()
        assert store.voices(keeping.number) == []


def test_in_a_store_that_is_not_locked_voices_are_refused(tmp_path: Path) -> None:
    with open_store(tmp_path, DAY) as store:
        with pytest.raises(KeepingError, match=r"Lock it first: tray-turns data lock\.$"):
            store.keep(agreed(Consent.VOICES), DAY)
        assert store.sessions() == []


def test_while_there_are_voices_the_store_is_not_unlocked(locked: Path) -> None:
    number = spoken(locked)
    with pytest.raises(KeepingError, match="never kept unlocked"):
        unlock_store(locked, PASSPHRASE)
    with open_store(locked, DAY, PASSPHRASE) as store:
        store.delete([number])
    unlock_store(locked, PASSPHRASE)
    assert not (locked / LOCKED_FILE).exists()


# --- gone is gone -----------------------------------------------------------------------------------------------------------


def test_taken_back_in_mid_session_the_voices_are_gone_and_no_more_is_kept(locked: Path) -> None:
    with open_store(locked, DAY, PASSPHRASE) as store:
        kept(store, until=FOREVER)
        before = pages(locked)
        keeping = store.keep(agreed(Consent.VOICES), DAY)
        hear(keeping, range(120))
        with_voices = pages(locked) - before
        assert len(with_voices) > 20
        keeping.withdraw(Seat.B, Giver.CHILD, DAY)
        hear(keeping, range(120, 200))
        keeping.finish()
        assert store.voices(keeping.number) == []
        assert pages(locked) & with_voices == set()
        assert keeping.trouble is None and store.check() == []


def test_deleted_or_due_voices_are_gone_and_the_file_is_as_small_as_before(locked: Path) -> None:
    with open_store(locked, DAY, PASSPHRASE) as store:
        kept(store, until=FOREVER)
    before, size = pages(locked), (locked / LOCKED_FILE).stat().st_size
    spoken(locked, until=UNTIL)
    with_voices = pages(locked) - before
    with open_store(locked, UNTIL, PASSPHRASE) as store:  # its day has come
        assert [session.voice_samples for session in store.sessions()] == [0]
    assert pages(locked) & with_voices == set()
    assert (locked / LOCKED_FILE).stat().st_size == size


@pytest.mark.parametrize("number", range(3))
def test_a_writer_killed_at_any_moment_loses_at_most_a_second(number: int, tmp_path: Path) -> None:
    rng = random.Random(number)
    assert kill_speaker(tmp_path / "data", rng.randrange(1, 200), rng) == ""


def test_on_a_full_disk_the_club_goes_on_and_what_was_written_stays(locked: Path) -> None:
    with open_store(locked, DAY, PASSPHRASE) as store:
        keeping = store.keep(agreed(Consent.VOICES), DAY)
        [[there]] = store._db.execute("PRAGMA page_count").fetchall()
        store._db.execute(f"PRAGMA max_page_count = {there + 60}").fetchall()
        hear(keeping, range(1000))
        assert keeping.trouble is not None and "Make room on the disk" in str(keeping.trouble)
        assert 0 < len(store.voices(keeping.number)) < 30
        assert store.check() == []


def test_damaged_sound_is_named_and_the_rest_stays(locked: Path) -> None:
    number = spoken(locked)
    with open_store(locked, DAY, PASSPHRASE) as store:
        store._db.execute("UPDATE voice SET flac = substr(flac, 1, 20) WHERE start = 0")
        assert [problem[:40] for problem in store.check()] == ["Session 1: The sound kept from sample 0 "]
        assert store.events(number) == STORY


# --- through the club and the commands --------------------------------------------------------------------------------------


def followed(folder: Path, *marks: tuple[float, Mark, Seat | None]) -> Club:
    """Thirty seconds of a club in which voices are kept; the tool speaks when set-up is over."""
    talk = conversation((12.0, "A: the long blue one"), (16.0, "A: done"))
    road = Road(ScriptedEars(talk), a_session(), ListSpeaker())
    with open_store(folder, DAY, PASSPHRASE) as store:
        keeping = store.keep(agreed(Consent.VOICES, FOREVER), DAY)
        club = Club(road, Wishes(), Console(file=io.StringIO()), open_texts(), keeping=keeping)
        due = [marked(*mark) for mark in marks]
        road.marks = lambda: [due.pop(0)] if due and club.sample >= due[0].sample else []
        club.follow(a_frame(number) for number in range(1000))
    return club


def test_while_the_tool_speaks_its_ears_and_the_keeping_are_shut(locked: Path, tmp_path: Path) -> None:
    club = followed(locked)
    ears = club._road.ears
    assert isinstance(ears, ScriptedEars) and len(ears.shut) > 60
    heard = [number for number in range(1000) if number * FRAME_SAMPLES not in set(ears.shut)]
    with open_store(locked, DAY, PASSPHRASE) as store:
        pieces = store.voices(1)
    np.testing.assert_array_equal(np.concatenate([samples_of(piece) for piece in pieces]), sound(heard))

    Keeper(Consent.VOICES).voices(tmp_path / "one.flac", pieces)
    whole, rate = soundfile.read(tmp_path / "one.flac", dtype="int16")
    assert rate == SAMPLE_RATE and len(whole) == (heard[-1] + 1) * FRAME_SAMPLES
    silent = [start for start in ears.shut if start < len(whole)]
    assert all(not whole[start : start + FRAME_SAMPLES].any() for start in silent)


def test_a_child_that_says_stop_is_heard_no_more(locked: Path) -> None:
    club = followed(locked, (20, Mark.WITHDRAW, Seat.C))
    assert club.sample > to_samples(29)
    with open_store(locked, DAY, PASSPHRASE) as store:
        assert store.voices(1) == [] and store.sessions()[0].level is Consent.NOTHING


@pytest.fixture
def home(locked: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The locked store is this computer's own, and its passphrase is known."""
    monkeypatch.setattr(kept_sessions, "folder", lambda: locked)
    monkeypatch.setenv(kept_sessions.PASSPHRASE, PASSPHRASE)
    return locked


def test_an_export_has_the_voices_only_when_asked_for_by_name(home: Path, tmp_path: Path) -> None:
    spoken(home)
    assert main(["data", "export", "--to", str(tmp_path / "plain"), "--with-words"]) == 0
    assert b"flac" not in raw(tmp_path / "plain") and "It does not hold: voices" in (tmp_path / "plain/README.txt").read_text()
    assert main(["data", "export", "--to", str(tmp_path / "full"), "--with-voices"]) == 0
    about = (tmp_path / "full/README.txt").read_text()
    assert "session.flac" in about and "voices" not in about.split("It does not hold:")[1].splitlines()[0]
    np.testing.assert_array_equal(soundfile.read(tmp_path / "full/session.flac", dtype="int16")[0], sound(range(100)))


def test_voices_that_were_not_kept_cannot_be_exported(home: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    with open_store(home, DAY, PASSPHRASE) as store:
        kept(store, until=FOREVER)
    assert main(["data", "export", "--to", str(tmp_path / "out"), "--with-voices"]) == 2
    assert "voices of this session were not kept (words)" in capsys.readouterr().err
    assert not (tmp_path / "out").exists()


def test_list_says_how_much_sound_there_is(home: Path, capsys: pytest.CaptureFixture[str]) -> None:
    spoken(home)
    assert main(["data", "list"]) == 0
    assert "voices" in (told := capsys.readouterr().out) and "0:03 of sound" in told


def test_who_wants_to_keep_voices_is_told_first_to_lock(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(kept_sessions, "folder", lambda: tmp_path / "data")
    monkeypatch.setattr("builtins.input", lambda question: pytest.fail("somebody was asked"))
    recording = ["--from", "demo_audio/voices/A.flac", "--no-voices", "--quiet"]
    assert main(["session", "little-boat", *recording, "--keep", "voices"]) == 2
    assert "Voices are kept only in a locked store. Lock it first: tray-turns data lock." in capsys.readouterr().err
    assert not (tmp_path / "data").exists()


def test_a_hole_in_the_sound_is_silence_in_the_file(tmp_path: Path, locked: Path) -> None:
    with open_store(locked, DAY, PASSPHRASE) as store:
        keeping = store.keep(agreed(Consent.VOICES), DAY)
        hear(keeping, [0, 1, 2, 10, 11])
        keeping.finish()
        pieces: list[Piece] = store.voices(1)
    assert [(piece.start_sample // FRAME_SAMPLES, piece.end_sample // FRAME_SAMPLES) for piece in pieces] == [(0, 3), (10, 12)]
    Keeper(Consent.VOICES).voices(tmp_path / "one.flac", pieces)
    whole = soundfile.read(tmp_path / "one.flac", dtype="int16")[0]
    expected = np.zeros(12 * FRAME_SAMPLES, np.int16)
    expected[: 3 * FRAME_SAMPLES], expected[10 * FRAME_SAMPLES :] = sound(range(3)), sound([10, 11])
    np.testing.assert_array_equal(whole, expected)


def test_consent_to_words_is_not_consent_to_a_file_of_voices(tmp_path: Path) -> None:
    with pytest.raises(KeepingError, match="voices"):
        Keeper(Consent.WORDS).voices(tmp_path / "one.flac", [])
    assert list(tmp_path.iterdir()) == []


# --- names ------------------------------------------------------------------------------------------------------------------


def test_names_are_kept_apart_and_encrypted_and_shown_where_the_store_is_open(
    home: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    spoken(home)
    assert main(["data", "names", "A=Wendelin,B=Yrsa"]) == 0
    assert b"wendelin" not in raw(home)
    assert main(["data", "list"]) == 0
    assert "Names: A is Wendelin, B is Yrsa." in capsys.readouterr().out
    assert main(["data", "export", "--to", str(tmp_path / "out"), "--with-voices"]) == 0
    assert b"wendelin" not in raw(tmp_path / "out")
    assert main(["data", "names", "C=Zelda"]) == 0
    assert main(["data", "names"]) == 0
    told = capsys.readouterr().out
    assert "C is Zelda" in told and "Wendelin" not in told
    assert main(["data", "names", "--forget"]) == 0
    assert "No names are kept" in capsys.readouterr().out


def test_names_are_refused_in_a_store_that_is_not_locked(tmp_path: Path) -> None:
    with open_store(tmp_path, DAY) as store:
        with pytest.raises(KeepingError, match=r"Names are kept only in a locked store\. Lock it first"):
            store.keep_names({Seat.A: "Wendelin"})
        assert store.names() == {}
    assert b"wendelin" not in raw(tmp_path)


def test_forgotten_names_are_gone_and_then_the_store_can_be_unlocked(locked: Path) -> None:
    with open_store(locked, DAY, PASSPHRASE) as store:
        store.keep_names({Seat.A: "Wendelin"})
        with_names = pages(locked)
        with pytest.raises(KeepingError, match="never kept unlocked"):
            unlock_store(locked, PASSPHRASE)
        store.keep_names({})
        with open_store(locked, DAY, PASSPHRASE) as again:
            assert again.names() == {}
    assert len(pages(locked) - with_names) >= 1
    unlock_store(locked, PASSPHRASE)


def test_without_sqlcipher_locking_is_one_sentence(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(kept_sessions, "folder", lambda: tmp_path / "data")
    monkeypatch.setattr(kept_sessions, "getpass", lambda question: pytest.fail("a passphrase was asked for"))
    monkeypatch.setitem(__import__("sys").modules, "sqlcipher3", None)
    assert main(["data", "lock"]) == 2
    assert "pip install sqlcipher3" in capsys.readouterr().err
    assert not (tmp_path / "data").exists()
