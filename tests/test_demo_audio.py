"""The demonstration's truth agrees with itself, its script, the plan, the rules of the club, and its sound."""

import json
import re
from collections import Counter
from itertools import pairwise
from typing import Any

import numpy as np
import pytest
import soundfile
from numpy.typing import NDArray
from pyannote.core import Annotation, Segment, Timeline
from pyannote.database.util import load_rttm

from assistant.assembly import demo_folder, open_plan
from assistant.commands.sessions import DEMO_SETTINGS
from assistant.core.club.rota import after_pass, next_round
from assistant.core.plans.plan import Plan
from assistant.events import CueAsked
from assistant.samples import FRAME_SAMPLES, SAMPLE_RATE, to_samples
from assistant.terms import Act, Cue, Mark, Praise, Prompt, Repair, Role, Seat
from demo_audio.scenario import Knocks, Line, ScriptError, read_scenario
from tests.fakes import a_session, marked
from tests.test_session import tell

FOLDER = demo_folder()
STORY: dict[str, Any] = json.loads((FOLDER / "truth.json").read_text(encoding="utf-8"))
SEGMENTS: list[dict[str, Any]] = STORY["segments"]
SCENARIO = read_scenario()
LINES = [entry for entry in SCENARIO.entries if isinstance(entry, Line)]

UNIT_PAUSE = to_samples(0.2)  # a silence this long divides inter-pausal units
ECHO = to_samples(0.25)  # the room goes on a little after each sound
LOUDEST_HUSH_DB = -60.0  # of 30 ms in which nobody speaks and nothing knocks


@pytest.fixture(scope="module")
def plan() -> Plan:
    return open_plan(STORY["settings"]["plan"])


@pytest.fixture(scope="module")
def sound() -> NDArray[np.float32]:
    return np.asarray(soundfile.read(FOLDER / "session.flac", dtype="float32")[0])


def level_db(sound: NDArray[np.float32]) -> NDArray[np.float32]:
    """The level of every 10 ms."""
    windows = sound[: len(sound) // 160 * 160].reshape(-1, 160)
    return np.asarray(10 * np.log10(np.mean(windows**2, axis=1) + 1e-12))


def overlaps(one: dict[str, Any], other: dict[str, Any]) -> bool:
    return bool(one["start"] < other["end"] and other["start"] < one["end"])


def done_before(sample: int) -> int:
    return sum(step["done"] <= sample for step in STORY["steps"])


# --- with its script ----------------------------------------------------------------------------------------------------


def test_the_truth_says_what_the_script_says() -> None:
    said = [(line.seat, line.text, line.does.act, line.does.where, line.does.mends) for line in LINES]
    assert said == [(one["seat"], one["text"], one["act"], one["where"], one["mends"]) for one in SEGMENTS]


def test_every_pause_is_the_script_s() -> None:
    """Not where the tool speaks or the clock is waited for: there the script fixes the time, not the pause."""
    end, between = 0, list(SCENARIO.entries)
    for one in SEGMENTS:
        skipped = []
        while not isinstance(entry := between.pop(0), Line):
            skipped.append(entry)
        if all(isinstance(other, Knocks) for other in skipped):
            assert one["start"] - end == to_samples(entry.pause_s), one["text"]
        end = max(end, one["end"])


@pytest.mark.parametrize(
    ("line", "what"),
    [
        ("A | soon | other | Hello.", "soon"),
        ("A | 0.5 | request purple | The purple one.", "purple"),
        ("D | 0.5 | other | Hello.", "D"),
        ("-- stepp 3", "a heading is"),
    ],
)
def test_a_line_that_cannot_be_read_is_named(line: str, what: str, tmp_path: Any) -> None:
    script = tmp_path / "script.txt"
    script.write_text(f"plan: little-boat\n{line}\n", encoding="utf-8")
    with pytest.raises(ScriptError, match=rf"script\.txt, line 2: .*{what}"):
        read_scenario(script)


# --- with itself --------------------------------------------------------------------------------------------------------


def test_segments_lie_in_order_inside_the_sound() -> None:
    assert SEGMENTS == sorted(SEGMENTS, key=lambda one: (one["start"], one["end"]))
    assert all(0 <= one["start"] < one["end"] <= STORY["length"] for one in SEGMENTS)
    assert all(before["end"] <= after["start"] for before, after in pairwise(SEGMENTS) if before["seat"] == after["seat"])


def test_seconds_are_the_samples() -> None:
    places = [*SEGMENTS, *STORY["turns"], *STORY["steps"], *STORY["rounds"], *STORY["cues"], *STORY["rattles"]]
    for place in places:
        for name in place.keys() & {"start", "end", "done", "sample", "asked", "silent_until"}:
            assert place[f"{name}_s"] == pytest.approx(place[name] / SAMPLE_RATE, abs=1e-5)


def test_a_turn_is_the_units_of_one_seat_that_no_other_divides() -> None:
    turns = STORY["turns"]
    assert all(before["seat"] != after["seat"] for before, after in pairwise(turns))
    for turn in turns:
        own = [one for one in SEGMENTS if one["turn"] == turn["turn"]]
        assert (turn["start"], turn["end"], turn["pieces"]) == (own[0]["start"], own[-1]["end"], len(own))
        assert turn["text"] == " ".join(one["text"] for one in own)
    for before, after in pairwise(turns):
        assert after["offset_s"] == pytest.approx((after["start"] - before["end"]) / SAMPLE_RATE, abs=1e-5)


def test_rttm_says_the_same_to_an_outside_reader() -> None:
    tracks = load_rttm(str(FOLDER / "truth.rttm"))[STORY["name"]].itertracks(yield_label=True)  # type: ignore[no-untyped-call]
    read = sorted((to_samples(span.start), to_samples(span.end), seat) for span, _, seat in tracks)
    assert read == sorted((one["start"], one["end"], one["seat"]) for one in SEGMENTS)


def test_it_holds_what_a_demonstration_must() -> None:
    acts = Counter(one["act"] for one in SEGMENTS)
    assert all(acts[act] for act in Act)
    assert {one["repair"] for one in SEGMENTS} >= set(Repair)
    assert {one["prompt"] for one in SEGMENTS} >= set(Prompt)
    assert {one["praise"] for one in SEGMENTS} >= set(Praise)
    assert {one["cue"] for one in STORY["cues"]} == set(Cue) - {Cue.ROLES}
    assert {one["over_speech"] for one in STORY["rattles"]} == {True, False}
    assert [one["why"] for one in STORY["rounds"]] == [Cue.BEGIN, Cue.SWAP, Cue.SWAP, Cue.PASS]


def test_long_waits_and_overlaps_by_an_outside_library() -> None:
    speakers = Annotation()
    for one in SEGMENTS:
        speakers[Segment(one["start_s"], one["end_s"]), one["start"]] = one["seat"]
    assert len(speakers.get_overlap()) == sum(overlaps(one, other) for one, other in pairwise(SEGMENTS)) >= 2
    silent_for_the_tool = Timeline(Segment(cue["asked_s"], cue["silent_until_s"] + 0.5) for cue in STORY["cues"])
    waits = [gap for gap in speakers.get_timeline().gaps().extrude(silent_for_the_tool) if 4 <= gap.duration <= 6]
    assert len(waits) >= 2


# --- with the plan and the rules of the club ----------------------------------------------------------------------------


def test_the_settings_are_the_demonstration_s() -> None:
    assert STORY["settings"] == {
        "plan": "little-boat",
        "seats": list(DEMO_SETTINGS.seats),
        "length_s": DEMO_SETTINGS.length_s,
        "set_up_s": DEMO_SETTINGS.set_up_s,
        "clear_away_s": DEMO_SETTINGS.clear_away_s,
        "swap_every_steps": DEMO_SETTINGS.swap.every,
        "notice_min": DEMO_SETTINGS.notice_min,
    }


def test_every_step_is_built_once_and_by_the_builder(plan: Plan) -> None:
    assert [step["step"] for step in STORY["steps"]] == [step.number for step in plan.steps]
    for step in STORY["steps"]:
        said = SEGMENTS[step["segment"]]
        assert (said["act"], said["role"], said["end"]) == (Act.STEP_DONE, Role.BUILDER, step["done"])
        assert said["step"] == step["step"] == done_before(said["start"]) + 1


def test_what_was_asked_for_in_a_step_leads_to_its_piece(plan: Plan) -> None:
    for step in plan.steps:
        tray = Counter(piece.key for later in plan.steps[step.number - 1 :] for piece in later.put)
        asked: dict[str, str] = {}
        fits: list[str] = []
        for one in SEGMENTS:
            if one["step"] == step.number and one["act"] == Act.REQUEST:
                asked |= dict(one["attributes"])
                fits = [key for key in tray if asked.items() <= plan.pieces[key].attributes.items()]
                assert sorted(one["fits"]) == sorted(fits), one["text"]
        assert fits == [piece.key for piece in step.put]


def test_an_open_request_is_mended_after_it_was_asked_back() -> None:
    opened = [at for at, one in enumerate(SEGMENTS) if one["fits"] and len(one["fits"]) > 1]
    assert len(opened) == 2
    for at in opened:
        assert SEGMENTS[at + 1]["repair"] == Repair.RESTRICTED_REQUEST
        mend = next(one for one in SEGMENTS[at + 1 :] if one["act"] == Act.REQUEST)
        assert mend["mends"] and len(mend["fits"]) == 1


def test_the_same_words_are_open_with_two_red_pieces_on_the_tray_and_enough_with_one() -> None:
    red = [len(one["fits"]) for one in SEGMENTS if one["attributes"] == [["colour", "red"]]]
    assert red == [2, 1]


def test_attributes_are_the_words_that_were_said_about_the_piece() -> None:
    values = {value for piece in open_plan("little-boat").pieces.values() for value in piece.attributes.values()}
    for one in SEGMENTS:
        if one["act"] == Act.REQUEST:
            about = one["text"].lower().rstrip(".").removesuffix(one["where"]) if one["where"] else one["text"].lower()
            words = [word for word in re.findall("[a-z]+", about) if word in values]
            assert words == [value for _, value in one["attributes"]], one["text"]
            assert one["where"] in one["text"].lower()
            assert one["role"] == Role.ENGINEER


def test_roles_are_the_rota_s_and_the_pass_s() -> None:
    rounds = [tuple((Seat(seat), Role(role)) for seat, role in one["roles"].items()) for one in STORY["rounds"]]
    seats = DEMO_SETTINGS.seats
    rota = [next_round(seats, ())]
    while len(rota) < 3:
        rota.append(next_round(seats, rota))
    passing = next(one for one in SEGMENTS if one["act"] == Act.PASS)
    assert rounds == [*rota, after_pass(rota[-1], Seat(passing["seat"]))]


def test_the_club_s_own_rules_ask_for_the_cues_that_the_truth_expects() -> None:
    """A session that is told of each step and pass by key, at the sample where it was said to the end."""
    told = [marked(step["done"] / SAMPLE_RATE, Mark.STEP_DONE) for step in STORY["steps"]]
    told += [marked(one["end_s"], Mark.PASS, Seat(one["seat"])) for one in SEGMENTS if one["act"] == Act.PASS]
    made = tell(a_session(settings=DEMO_SETTINGS), told, until_s=361)
    asked = [(event.cue, event.sample) for event in made if isinstance(event, CueAsked)]
    assert [cue for cue, _ in asked] == [cue["cue"] for cue in STORY["cues"]]
    for (_, sample), cue in zip(asked, STORY["cues"], strict=True):
        assert 0 <= sample - cue["asked"] <= FRAME_SAMPLES
        assert cue["after_step"] == done_before(cue["asked"])


# --- with the sound -----------------------------------------------------------------------------------------------------


def test_the_files_are_16_khz_mono_16_bit_and_small() -> None:
    files = [FOLDER / "session.flac", *(FOLDER / "voices" / f"{seat}.flac" for seat in STORY["seats"])]
    for file in files:
        info = soundfile.info(file)
        assert (info.samplerate, info.channels, info.subtype) == (SAMPLE_RATE, 1, "PCM_16")
    assert soundfile.info(files[0]).frames == STORY["length"]
    assert all(10 <= soundfile.info(file).duration <= 20 for file in files[1:])  # what a seat needs to enrol
    assert sum(file.stat().st_size for file in FOLDER.rglob("*") if file.is_file()) < 8_000_000


def test_nothing_clips_and_speech_is_well_above_the_room(sound: NDArray[np.float32]) -> None:
    assert np.abs(sound).max() < 0.95
    for one in SEGMENTS:
        said = level_db(sound[one["start"] : one["end"]])
        assert float(np.percentile(said, 75)) > LOUDEST_HUSH_DB + 25, one["text"]


def test_where_nobody_speaks_and_nothing_knocks_there_is_only_the_room(sound: NDArray[np.float32]) -> None:
    quiet = np.ones(len(sound), dtype=bool)
    for one in [*SEGMENTS, *STORY["rattles"]]:
        quiet[one["start"] : one["end"] + ECHO] = False
    windows = len(sound) // FRAME_SAMPLES
    free = quiet[: windows * FRAME_SAMPLES].reshape(windows, -1).all(axis=1)
    power = np.mean(sound[: windows * FRAME_SAMPLES].reshape(windows, -1) ** 2, axis=1)
    assert float(10 * np.log10(power[free].max())) < LOUDEST_HUSH_DB


def test_nobody_speaks_and_nothing_knocks_while_the_tool_speaks() -> None:
    for cue in STORY["cues"]:
        span = {"start": cue["asked"], "end": cue["silent_until"]}
        assert not [one for one in [*SEGMENTS, *STORY["rattles"]] if overlaps(one, span)], cue["cue"]


def test_speech_begins_and_ends_where_the_truth_says(sound: NDArray[np.float32]) -> None:
    """Before the start there is the room; within 30 ms on either side of a boundary there is speech."""
    busy = [*SEGMENTS, *STORY["rattles"]]
    for one in SEGMENTS:
        around = {"start": one["start"] - ECHO, "end": one["end"] + ECHO}
        if any(other is not one and overlaps(other, around) for other in busy):
            continue
        before = level_db(sound[one["start"] - 800 : one["start"]])
        first, last = level_db(sound[one["start"] :][:480]), level_db(sound[: one["end"]][-480:])
        assert before.max() < LOUDEST_HUSH_DB < min(first.max(), last.max()) - 5, one["text"]


def test_no_utterance_holds_a_silence_that_would_divide_it(sound: NDArray[np.float32]) -> None:
    for one in SEGMENTS:
        said = level_db(sound[one["start"] : one["end"]])
        silent = "".join("0" if level < said.max() - 40 else "1" for level in said)
        assert max(map(len, silent.split("1"))) * 160 < UNIT_PAUSE, one["text"]


def test_knocks_are_where_the_truth_says(sound: NDArray[np.float32]) -> None:
    for one in STORY["rattles"]:
        assert one["over_speech"] == any(overlaps(one, other) for other in SEGMENTS)
        if not one["over_speech"]:
            peak = 20 * np.log10(np.abs(sound[one["start"] : one["end"]]).max())
            assert peak > one["peak_db"] - 3
