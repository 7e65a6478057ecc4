"""What comes in at the door, however odd: a sentence and an exit code, never a traceback, never an option that does nothing."""

import argparse
import os
import signal
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
import soundfile

from assistant.cli import door, main
from assistant.commands import paper, plans, set_up_page, starting
from assistant.commands.choosing import Choice
from assistant.core.club.setting_up import TellApart
from assistant.core.plans.plan import read_plan
from assistant.devices.files import open_recording, read_samples
from assistant.devices.models import vosk_models
from assistant.devices.shelf import plan_text
from assistant.errors import PlanError, SourceError

RUN = (sys.executable, "-B", "-m", "assistant")
OURS = plan_text("little-boat")[0]


def told(capsys: pytest.CaptureFixture[str], *arguments: str) -> str:
    """The sentence with which a command refuses its arguments."""
    try:
        assert main(arguments) == 2
    except SystemExit as left:  # argparse speaks for itself
        assert left.code == 2
    return capsys.readouterr().err


@pytest.mark.parametrize(
    ("line", "says"),
    [
        ("session little-boat --set-up nan", "'nan' is no number from 0 to 90"),
        ("review evening.jsonl --to x.html", "a file made with --events goes behind --events"),
        ("data delete two", "'two' is no number; `tray-turns data list` shows them"),
        ("print little-boat --to x.pdf --clear-away inf", "'inf' is no number"),
        ("print little-boat --to x.pdf --youngest=-3", "'-3' is no number from 0 to 120"),
        ("print little-boat --to x.pdf --youngest inf", "'inf' is no number"),
        ("calendar --first 2027-01-12 --at 16:00+05:00 --to x.ics", "has an offset"),
        ("calendar --first 9999-12-30 --at 16:00 --to x.ics", "go past the year 9999"),
        ("rota --names A=Ada,A=Bo", "seat A twice"),
        ("rota --names A=Ada,B=ada", "Two children are called 'ada'"),
        ("rota --names A=Ada,B=c", "Two children are called 'C'"),  # whom nobody gave a name
        ("warm-up match-the-picture --names A=b", "Two children are called 'B'"),
        ("session little-boat --quiet --names A=B", "Two children are called 'B'"),
        ("rota --passed 2:B,2:C", "round 2 twice"),
        ("review", "Where does the review go?"),
        ("session little-boat --keep-words", "without --events"),
        ("session little-boat --keep-days 3", "without --keep"),
        ("session little-boat --realtime", "without --from"),
        ("session little-boat --quiet --channels ,", "The channels ',' name nobody"),
        ("analyse x.wav --plan little-boat --rttm ev\udce9.rttm", "its name must be plain text"),
        (f"plan show {'long' * 70}", "File name too long"),
        (f"plan new {'long/' * 1000} --title x", "File name too long"),
        (f"analyse {'long' * 70} --plan little-boat", "File name too long"),
    ],
)
def test_refused_in_words(line: str, says: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert says in told(capsys, *line.split())


def test_a_day_named_twice_is_one_day(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    to = tmp_path / "club.ics"
    assert main(("calendar", "--first", "2027-01-12", "--at", "16:00", "--on", "TU,TU", "--to", str(to))) == 0
    assert "6 dates" in capsys.readouterr().out
    assert b"COUNT=6" in to.read_bytes()


# --- plans ----------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("letter", [r"\u0000", r"\u001b[31m", r"\u0085", r"\u007f"])
def test_a_plan_with_a_control_character(letter: str) -> None:
    with pytest.raises(PlanError, match="control character"):
        read_plan(OURS.replace('title = "', f'title = "{letter}', 1), "mine.toml")


def test_a_plan_whose_key_nests_deeper_than_python_calls() -> None:
    with pytest.raises(PlanError, match="not a word of the plan format"):
        read_plan(f"{'.'.join('a' * 3000)} = 1\n{OURS}", "mine.toml")


def _with_photo(photo: str) -> str:
    return OURS.replace("[[step]]\n", f'[[step]]\nphoto = "{photo}"\n', 1)


def test_a_photo_with_an_endless_name() -> None:
    with pytest.raises(PlanError, match="photo has 5000 letters. There is place for 255"):
        read_plan(_with_photo("a" * 5000), "mine.toml")


@pytest.mark.parametrize(("photo", "says"), [("list.jpg", "is no picture"), (".", "'.' of step 1 is not there")])
def test_a_photo_that_is_none_is_found_by_the_check_and_by_print(
    photo: str, says: str, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    (tmp_path / "list.jpg").write_text("a shopping list")
    plan = tmp_path / "mine.toml"
    plan.write_text(_with_photo(photo), encoding="utf-8-sig")  # as an editor on Windows saves it
    assert says in told(capsys, "plan", "check", str(plan))
    said = told(capsys, "print", str(plan), "--to", str(tmp_path / "x.pdf"))
    assert says in said
    assert "BytesIO" not in said


# --- sound and models -----------------------------------------------------------------------------------------------------


def test_a_recording_that_is_too_slow_for_speech(tmp_path: Path) -> None:
    path = tmp_path / "slow.wav"
    soundfile.write(path, np.tile([0.5, -0.5], 100), 1)
    with pytest.raises(SourceError, match="too few for speech"):
        open_recording(path)


@pytest.mark.skipif(sys.platform != "linux", reason="only Linux has names that are no text")
def test_a_recording_whose_name_is_no_text(tmp_path: Path) -> None:
    path = tmp_path / os.fsdecode(b"caf\xe9.wav")
    soundfile.write(os.fsencode(path), np.tile([0.5, -0.5], 480), 16_000)
    assert len(list(open_recording(path))) == 2


def test_infinity_is_as_loud_as_it_gets(tmp_path: Path) -> None:
    path, loud = tmp_path / "loud.wav", np.full(480, np.inf, np.float32)
    loud[1], loud[2] = -np.inf, np.nan
    soundfile.write(path, loud, 16_000, "FLOAT")
    assert read_samples(path)[:4].tolist() == [32_767, -32_768, 0, 32_767]


def test_days_to_keep_are_taken_where_the_page_asks_whether_anything_is_kept() -> None:
    starting.refuse_in_vain(door().parse_args(["session", "--pages", "--keep-days", "3"]))


@pytest.mark.parametrize(("channels", "offered"), [(1, False), (2, True)])
def test_a_microphone_each_is_offered_where_the_recording_has_one_each(channels: int, offered: bool, tmp_path: Path) -> None:
    path = tmp_path / "club.wav"
    soundfile.write(path, np.tile([0.5, -0.5], (channels, 1200)).T, 16_000)
    options = door().parse_args(["session", "--pages", "--from", str(path)])
    assert (TellApart.MICROPHONES in set_up_page.offer_of(options, Choice({})).tell_apart) is offered


def test_a_model_that_is_half_unpacked_is_no_model(tmp_path: Path) -> None:
    for name in (".vosk-model-small-en.unpacking", "vosk-model-small-de"):
        (tmp_path / name / "am").mkdir(parents=True)
        (tmp_path / name / "am" / "final.mdl").touch()
    assert [path.name for path in vosk_models(tmp_path)] == ["vosk-model-small-de"]


# --- streams and signals --------------------------------------------------------------------------------------------------


def _shell(line: str, **more: str) -> subprocess.CompletedProcess[str]:
    run = " ".join(RUN)
    return subprocess.run(
        ["bash", "-c", line.format(run=run)], capture_output=True, text=True, timeout=60, env=os.environ | more
    )


@pytest.mark.skipif(sys.platform != "linux", reason="/dev/full and bash")
@pytest.mark.parametrize(
    ("line", "code", "says"),
    [
        ("{run} plan show little-boat >/dev/full", 2, "tray-turns: The output cannot be written (No space left on device)"),
        ("{run} warm-up match-the-picture --quiet <&-", 0, ""),
        ("{run} plan show little-boat >&-", 0, ""),
    ],
)
def test_streams_that_are_full_or_closed(line: str, code: int, says: str) -> None:
    done = _shell(line)
    assert (done.returncode, done.stderr.startswith(says)) == (code, True)
    assert "Traceback" not in done.stderr
    assert "Exception ignored" not in done.stderr


@pytest.mark.skipif(sys.platform != "linux", reason="bash")
def test_output_that_cannot_say_it_all() -> None:
    done = _shell("{run} plan show little-boat", PYTHONIOENCODING="ascii")
    assert (done.returncode, done.stderr) == (0, "")
    assert " ? " in done.stdout  # 2 × long red block


def test_ctrl_c_that_an_import_made_another_error_of(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def struck(options: object) -> int:
        try:
            raise KeyboardInterrupt
        except PackageNotFoundError:  # type: ignore[name-defined]  # noqa: F821  # as in a library whose import was struck
            return 0

    monkeypatch.setattr(plans, "_run_list", struck)
    assert main(("plan", "list")) == 128 + signal.SIGINT
    assert "broken off" in capsys.readouterr().err


def test_small_parts_are_spoken_of_unless_somebody_says_how_old_everybody_is() -> None:
    commands = argparse.ArgumentParser().add_subparsers()
    paper.add_parsers(commands)
    assert commands.choices["print"].parse_args(["little-boat", "--to", "x.pdf"]).youngest == 0
