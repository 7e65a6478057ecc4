"""Exports: what each holds, and that a second library reads the same out of it."""

import csv
import io
import json
from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import pandas
import pysubs2
import pytest
import rustling
import webvtt
from hypothesis import given, settings
from hypothesis import strategies as st
from pympi import Eaf
from pympi.Praat import TextGrid

from assistant.core.club.consent import Consent
from assistant.core.measures.record import read_record
from assistant.devices.shelf import shared_text
from assistant.errors import SourceError
from assistant.events import CueStarted, Event, Lost, Marked, Muted, Paused, Refused, RolesSet, SessionOpened, Tallied
from assistant.outputs.exports.chat import chat
from assistant.outputs.exports.elan import elan
from assistant.outputs.exports.records import KINDS, as_record, at_level, from_record, json_lines, read_json_lines
from assistant.outputs.exports.rttm import rttm_lines
from assistant.outputs.exports.tables import COLUMNS, csv_table, dictionary
from assistant.outputs.exports.textgrid import textgrid
from assistant.outputs.exports.vtt import vtt
from assistant.samples import to_samples
from assistant.terms import Cue, Loss, Mark, Repair, Role, Seat
from tests.fakes import ListSpeaker, ScriptedEars, a_session, conversation, silence
from tests.test_any_session import sessions
from tests.told import Story, asked

SECRETS = ("wilhelmina", "crimson", "grandma", "bossy", "bathtub")
SWAP = "We swap now. Wilhelmina is the engineer."


def a_story() -> list[Event]:
    """Two requests, one repair, one break; with names and words where names and words can be."""
    story = Story()
    story.then(SessionOpened(0, "Wilhelmina's bathtub", story.seats, 8, to_samples(60)))
    story.says("A", 1, 2, "the crimson one", asked(1, after=3, kinds=2, colour="crimson", where="beside grandma"))
    story.says("B", 2.4, 3, "which one", repair=Repair.RESTRICTED_REQUEST)
    story.says("A", 3.2, 4.5, "wilhelmina the long one", asked(1, after=1, colour="crimson", size="long"))
    story.done(1)
    story.says("?", 5, 5.5, "no")
    story.says("F", 6, 7, "well done wilhelmina")
    story.then(CueStarted(to_samples(8), Cue.SWAP, SWAP, 100, False))
    story.then(RolesSet(to_samples(8), 2, ((Seat.A, Role.SUPPLIER), (Seat.B, Role.BUILDER), (Seat.C, Role.ENGINEER))))
    story.then(Muted(to_samples(10), to_samples(8), to_samples(10)))
    story.then(Lost(to_samples(11), to_samples(10), to_samples(11), Loss.AWAY))
    story.then(Tallied(to_samples(12), Seat.B, "was bossy"), Paused(to_samples(13)))
    story.then(Refused(to_samples(13), Mark.PASS, "bossy"), Marked(to_samples(13), Mark.TALLY, Seat.B, None, "was bossy"))
    return story.ends(20)


STORY = a_story()
TIMELINE = at_level(STORY, Consent.TIMELINE)
FORMATS: dict[str, Callable[[Sequence[Event]], str]] = {
    "textgrid": textgrid,
    "elan": elan,
    "chat": chat,
    "vtt": vtt,
    "csv": csv_table,
    "rttm": lambda events: "".join(rttm_lines(events, "club")),
    "jsonl": lambda events: json_lines(events, Consent.TIMELINE),
}


@pytest.mark.parametrize("name", FORMATS)
def test_an_export_of_the_timeline_holds_no_word_and_no_name(name: str) -> None:
    text = FORMATS[name](TIMELINE).lower()
    assert [secret for secret in SECRETS if secret in text] == []
    assert len(text) > 100


def test_a_reason_out_of_a_closed_set_stays_and_one_that_was_once_left_out_is_unknown() -> None:
    lost = Lost(to_samples(11), to_samples(10), to_samples(11), Loss.AWAY)
    record = as_record(lost, Consent.TIMELINE)
    assert from_record(record) == lost
    assert from_record(record | {"why": ""}) == replace(lost, why=Loss.UNKNOWN)


@pytest.mark.parametrize("name", sorted(FORMATS.keys() - {"rttm", "jsonl"}))
def test_with_consent_to_words_they_are_there(name: str) -> None:
    assert "crimson" in FORMATS[name](at_level(STORY, Consent.WORDS))


# --- each read by a second library ------------------------------------------------------------------------------------------


def test_textgrid_read_by_pympi_and_by_rustling(tmp_path: Path) -> None:
    path = tmp_path / "club.TextGrid"
    path.write_text(textgrid(TIMELINE), encoding="utf-8")
    tiers = {tier.name: tier for tier in TextGrid(str(path)).tiers}
    assert list(tiers) == ["A", "B", "C", "F", "unsure", "muted", "lost", "moments"]
    assert [one for one in tiers["A"].intervals if one[2]] == [(1, 2, "request, 3 fit"), (3.2, 4.5, "request, 1 fit")]
    assert [one for one in tiers["muted"].intervals if one[2]] == [(8, 10, "muted")]
    assert [one for one in tiers["lost"].intervals if one[2]] == [(10, 11, "lost")]
    assert (8, "cue: swap; roles: A supplier, B builder, C engineer") in list(tiers["moments"].get_intervals())
    names = [tier.name for tier in rustling.read_textgrid(str(path)).tiers()[0]]
    assert names == list(tiers)


def test_elan_read_by_rustling_and_by_pympi(tmp_path: Path) -> None:
    path = tmp_path / "club.eaf"
    path.write_text(elan(TIMELINE), encoding="utf-8")
    tiers = rustling.read_elan(str(path)).tiers()[0]
    found = {name: [(one.start_time, one.end_time, one.value) for one in tier.annotations] for name, tier in tiers.items()}
    assert found["A"] == [(1000, 2000, "request, 3 fit"), (3200, 4500, "request, 1 fit")]
    assert found["B does"] == [(2400, 3000, "repair, restricted request")]
    assert found["unsure"] == [(5000, 5500, "other")]
    assert Eaf(str(path)).get_annotation_data_for_tier("muted") == [(8000, 10000, "muted")]
    assert Eaf(str(path)).get_annotation_data_for_tier("lost") == [(10000, 11000, "lost")]


def test_an_elan_file_does_not_say_when_it_was_written() -> None:
    assert 'DATE="1970-01-01T00:00:00+00:00"' in elan(TIMELINE)


def test_chat_read_by_rustling_without_words_and_with_them(tmp_path: Path) -> None:
    path = tmp_path / "session.cha"
    path.write_text(chat(TIMELINE), encoding="utf-8")
    read = rustling.read_chat(str(path))
    assert [(one.participant, one.time_marks) for one in read.utterances()] == [
        ("CHA", (1000, 2000)), ("CHB", (2400, 3000)), ("CHA", (3200, 4500)), ("UNI", (5000, 5500)), ("ADU", (6000, 7000)),
    ]  # fmt: skip
    path.write_text(chat(STORY, words_kept=True), encoding="utf-8")
    words = rustling.read_chat(str(path)).words(by_utterance=True)
    assert words[1][:2] == ["which", "one"]


def test_webvtt_read_by_pysubs2_and_by_webvtt(tmp_path: Path) -> None:
    text = vtt(at_level(STORY, Consent.WORDS))
    read = pysubs2.SSAFile.from_string(text, format_="vtt")
    assert [(one.start, one.end) for one in read][:3] == [(1000, 2000), (2400, 3000), (3200, 4500)]
    assert "which one" in read[1].plaintext
    captions = webvtt.from_string(text)
    assert [caption.voice for caption in captions.captions] == ["A", "B", "A", "unsure", "F"]


def test_csv_read_by_pandas() -> None:
    table = pandas.read_csv(io.StringIO(csv_table(TIMELINE)))
    assert list(table.columns) == list(COLUMNS)
    assert list(table["seat"]) == ["A", "B", "A", "unsure", "F"]
    assert list(table["fits_after"].dropna()) == [3, 1]
    assert table["text"].isna().all()


def test_json_lines_read_by_pandas() -> None:
    table = pandas.read_json(io.StringIO(json_lines(TIMELINE, Consent.TIMELINE)), lines=True)
    assert len(table) == len(STORY)
    assert set(table["event"]) <= set(KINDS)


# --- there and back ---------------------------------------------------------------------------------------------------------


def test_a_whole_session_comes_back_from_json_lines_as_it_was() -> None:
    from assistant.run import Road

    ears = ScriptedEars(conversation((12.0, "A: the long blue one"), (14.5, "B: which one"), (16.0, "A: done")))
    events = list(Road(ears, a_session(), ListSpeaker()).travel(silence(121)))
    assert list(read_json_lines(json_lines(events, Consent.WORDS).splitlines(), "club.jsonl")) == events
    assert len({type(event) for event in events}) > 12


def test_what_was_not_kept_comes_back_empty_and_the_rest_as_it_was() -> None:
    was, now = read_record(STORY), read_record(TIMELINE)
    for then, after in zip(was.utterances, now.utterances, strict=True):
        assert (after.seat, after.span, after.role) == (then.seat, then.span, then.role)
    assert {one.words for one in now.utterances} == {()}
    first = now.utterances[0].meaning
    assert first and first.request
    assert first.request.attributes == (("colour", ""),)
    assert first.request.where == ("", "")


@given(sessions(), st.sampled_from([Consent.TIMELINE, Consent.WORDS]))
@settings(max_examples=30)
def test_any_session_goes_there_and_back_and_into_every_format(events: list[Event], level: Consent) -> None:
    events.sort(key=lambda event: event.sample)
    reduced = at_level(events, level)
    assert list(read_json_lines(json_lines(events, level).splitlines(), "any")) == reduced
    for export in FORMATS.values():
        export(reduced)


def test_our_own_titles_may_stay_and_a_family_s_may_not() -> None:
    opened = SessionOpened(0, "Little boat", (), 8, 0)
    [kept] = at_level([opened], Consent.TIMELINE, {"Little boat"})
    [dropped] = at_level([opened], Consent.TIMELINE)
    assert (kept.plan, dropped.plan) == ("Little boat", "")  # type: ignore[attr-defined]


@pytest.mark.parametrize(
    ("line", "problem"),
    [
        ("{", "Expecting"),
        ("[]", "not an object"),
        ('{"event": "Sneezed", "sample": 1}', "no event 'Sneezed'"),
        ('{"event": "Paused"}', "sample"),
        ('{"event": "Paused", "sample": "soon"}', "sample cannot be 'soon'"),
        ('{"event": "Paused", "sample": true}', "sample cannot be True"),
        ('{"event": "PhaseBegan", "sample": 1, "phase": "tea"}', "tea"),
        ('{"event": "Paused", "sample": NaN}', "NaN"),
        ('{"event": "RolesSet", "sample": 1, "round": 1, "roles": [["A"]]}', "2 parts"),
        ('{"event": "RolesSet", "sample": 1, "round": 1, "roles": 5}', "not a list"),
        ('{"event": "Paused", "sample": -5}', "sample cannot be -5"),
        ('{"event": "Paused", "sample": 1' + 23 * "0" + "}", "sample cannot be 1000"),
        ('{"event": "StepUndone", "sample": 1, "step": -1}', "step cannot be -1"),
        ('{"event": "StepUndone", "sample": 1, "step": 1000001}', "step cannot be 1000001"),
        ('{"event": "Muted", "sample": 9, "start_sample": 9, "end_sample": 8}', "ends before it starts"),
        ('{"event": "Paused", "sample": 0}', "goes back in time"),
    ],
)
def test_a_line_that_holds_no_event_is_a_sentence_with_its_place(line: str, problem: str) -> None:
    with pytest.raises(SourceError, match="club.jsonl, line 2") as caught:
        list(read_json_lines(['{"event": "Paused", "sample": 1}', line], "club.jsonl"))
    assert problem in str(caught.value)


ANY_JSON = st.recursive(
    st.none() | st.booleans() | st.integers(-3, 10**9) | st.floats() | st.text(max_size=5),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=5), inner, max_size=3),
    max_leaves=5,
)


@given(st.sampled_from(sorted(KINDS)), st.data())
@settings(max_examples=300)
def test_no_record_whatever_is_a_traceback(kind: str, data: st.DataObject) -> None:
    lines = json_lines(STORY, Consent.WORDS).splitlines()
    whole: dict[str, Any] = next((json.loads(line) for line in lines if f'"{kind}"' in line), {})
    broken = {name: data.draw(ANY_JSON) if data.draw(st.booleans()) else value for name, value in whole.items()}
    broken["event"] = kind
    try:
        event = from_record(broken)
    except ValueError:
        return
    for export in FORMATS.values():
        export([event])


# --- the dictionary ---------------------------------------------------------------------------------------------------------


def test_every_column_and_every_field_is_explained() -> None:
    rows = list(csv.DictReader(io.StringIO(dictionary(shared_text("dictionary/en.toml")))))
    explained = {(row["file"], row["name"]) for row in rows}
    assert {("session.csv", name) for name in COLUMNS} <= explained
    assert {("events.jsonl", f"{kind}.sample") for kind in KINDS} <= explained
    assert all(row["meaning"].endswith(".") for row in rows)
