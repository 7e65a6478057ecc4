"""Build the demonstration's sound and its truth from ``script.txt``.

    python -m venv some-folder && some-folder/bin/pip install -r demo_audio/requirements.txt
    some-folder/bin/python -m demo_audio.build          # about six minutes on one core

writes, beside this file::

    session.flac              the session, 16 kHz, mono, 16 bit
    voices/A.flac B C F       about 15 s of each seat, to enrol from
    truth.rttm, truth.json    who speaks when, and what it does (README.md explains every field)

The packages stand in a folder of their own, because the sound was made with a later ONNX Runtime than Tray Turns may use.
It is no part of ``make demo`` or ``make test``: both use what lies here. With the same packages it gives the same samples.

What lives here: the time line, the mix, the truth. What must not: how a voice sounds (``speaking``) or a room (``room``).
"""

import json
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
import soundfile

from assistant.core.club.rota import role_of
from assistant.core.plans.plan import Piece
from assistant.samples import SAMPLE_RATE, to_samples, to_seconds
from assistant.terms import Act, Cue, Seat
from demo_audio import room
from demo_audio.room import Sound
from demo_audio.scenario import FOLDER, Knocks, Line, RolesAre, Scenario, Silence, StepBegins, Until, read_scenario
from demo_audio.speaking import say

NAME = "demo"
SEED = 8  # of the knocks, the echo and the room tone
SPEECH_DB = -22.0  # RMS of an utterance, under full scale; about -23 LUFS over the session
SEAT_DB = {Seat.A: 0.0, Seat.B: -0.5, Seat.C: 0.5, Seat.FACILITATOR: -1.5}  # the adult sits farther away
HUSH_DB = -48.0  # of the room tone, under speech
KNOCK_PEAK_DB = -11.0  # of the loudest knock, under full scale; speech peaks at about -5
AFTER_CUE_S = 0.7  # nobody speaks this long after the tool
AFTER_END_S = 0.5


@dataclass(frozen=True, slots=True)
class Spoken:
    """An utterance with its place."""

    line: Line
    start: int
    sound: Sound
    step: int
    roles: RolesAre | None

    @property
    def end(self) -> int:
        """The first sample after it."""
        return self.start + len(self.sound)


@dataclass(slots=True)
class TimeLine:
    """Where everything has been put so far. ``end`` is the end of all speech and silence, in samples."""

    scenario: Scenario
    chance: np.random.Generator
    end: int = 0
    step: int = 0
    roles: RolesAre | None = None
    spoken: list[Spoken] = field(default_factory=list)
    knocks: list[tuple[int, Sound]] = field(default_factory=list)
    cues: list[dict[str, Any]] = field(default_factory=list)
    rounds: list[dict[str, Any]] = field(default_factory=list)

    def put(self) -> "TimeLine":
        """Put everything in the script on the line."""
        for entry in self.scenario.entries:
            match entry:
                case Line():
                    self._line(entry)
                case Knocks():
                    start = self.end + to_samples(entry.pause_s)
                    self.knocks += [(start + knock.at, knock.sound) for knock in room.burst(entry.count, self.chance)]
                case Silence():
                    self._silence(entry)
                case Until():
                    self._until(entry)
                case StepBegins():
                    self.step = entry.number
                case RolesAre():
                    self._roles(entry)
        return self

    def _line(self, line: Line) -> None:
        start = self.end + to_samples(line.pause_s)
        self.spoken.append(Spoken(line, start, say(line.seat, line.text), self.step, self.roles))
        self.end = max(self.end, self.spoken[-1].end)
        print(f"{to_seconds(start):7.2f}  {line.seat}  {line.text}")

    def _until(self, until: Until) -> None:
        if self.end > to_samples(until.time_s):
            raise ValueError(f"The script is {to_seconds(self.end) - until.time_s:.1f} s late at {until.time_s} s.")
        self.end = to_samples(until.time_s)

    def _silence(self, silence: Silence) -> None:
        asked, self.end = self.end, self.end + to_samples(silence.pause_s + silence.length_s + AFTER_CUE_S)
        self.cues.append(
            {
                "cue": silence.cue.value,
                "after_step": self._steps_done(),
                **_at("asked", asked),
                **_at("silent_until", self.end),
            }
        )

    def _roles(self, roles: RolesAre) -> None:
        self.roles = roles
        last = self.spoken[-1].line.does.act if self.spoken else None
        why = {Act.STEP_DONE: Cue.SWAP, Act.PASS: Cue.PASS}.get(last or Act.OTHER, Cue.BEGIN)
        self.rounds.append(
            {
                "round": roles.round,
                "why": why.value,
                "after_step": self._steps_done(),
                "roles": {seat.value: role.value for seat, role in roles.roles},
                **_at("sample", self.end),
            }
        )

    def _steps_done(self) -> int:
        return sum(one.line.does.act is Act.STEP_DONE for one in self.spoken)


# --- sound --------------------------------------------------------------------------------------------------------------


def session_sound(line: TimeLine) -> Sound:
    """The whole mix, full scale 1."""
    sound = room.hush(line.end + to_samples(AFTER_END_S), line.chance) * _gain(SPEECH_DB + HUSH_DB)
    for one in line.spoken:
        _add(sound, one.start, room.echo(_levelled(one.sound, one.line.seat), line.chance))
    for start, knock in line.knocks:
        _add(sound, start, room.echo(knock * _gain(KNOCK_PEAK_DB), line.chance))
    return sound


def voice_sound(lines: tuple[Line, ...], chance: np.random.Generator) -> Sound:
    """The enrolment of one seat, in the same room."""
    pieces = []
    for line in lines:
        pieces += [np.zeros(to_samples(max(line.pause_s, 0.3))), _levelled(say(line.seat, line.text), line.seat)]
    sound = room.echo(np.concatenate(pieces), chance)
    return sound + room.hush(len(sound), chance) * _gain(SPEECH_DB + HUSH_DB)


def _gain(decibel: float) -> float:
    return float(10 ** (decibel / 20))


def _levelled(speech: Sound, seat: Seat) -> Sound:
    return speech * _gain(SPEECH_DB + SEAT_DB[seat])


def _add(sound: Sound, start: int, more: Sound) -> None:
    end = min(start + len(more), len(sound))
    sound[start:end] += more[: end - start]


def _write(path: Path, sound: Sound) -> None:
    if np.abs(sound).max() >= 1:
        raise ValueError(f"{path.name} would clip.")
    soundfile.write(path, np.round(sound * 32_767).astype(np.int16), SAMPLE_RATE, subtype="PCM_16")


# --- truth --------------------------------------------------------------------------------------------------------------


def truth(line: TimeLine, length: int) -> dict[str, Any]:
    """Everything that was said and done, as README.md explains it."""
    scenario = line.scenario
    segments = list(_segments(line))
    return {
        "name": NAME,
        "sample_rate": SAMPLE_RATE,
        "length": length,
        "seed": SEED,
        "settings": {
            "plan": scenario.plan_name,
            "seats": ["A", "B", "C"],
            "length_s": scenario.length_s,
            "set_up_s": scenario.set_up_s,
            "clear_away_s": scenario.clear_away_s,
            "swap_every_steps": scenario.swap_every,
            "notice_min": scenario.notice_min,
        },
        "seats": {seat.value: {"age_group": _age_group(seat)} for seat in SEAT_DB},
        "turns": list(_turns(segments)),
        "segments": segments,
        "steps": list(_steps(line)),
        "rounds": line.rounds,
        "cues": line.cues,
        "rattles": list(_rattles(line)),
    }


def rttm(line: TimeLine) -> str:
    """Who speaks when, one line a segment."""
    rows = (
        f"SPEAKER {NAME} 1 {to_seconds(one.start):.5f} {to_seconds(len(one.sound)):.5f} <NA> <NA> {one.line.seat} <NA> <NA>\n"
        for one in line.spoken
    )
    return "".join(rows)


def _at(name: str, sample: int) -> dict[str, Any]:
    return {name: sample, f"{name}_s": round(to_seconds(sample), 5)}


def _age_group(seat: Seat) -> str:
    return "adult" if seat is Seat.FACILITATOR else "child"


def _segments(line: TimeLine) -> Iterator[dict[str, Any]]:
    turn, piece, before = -1, 0, None
    fits: tuple[Piece, ...] = ()
    asked: dict[str, str] = {}
    step = 0
    for one in line.spoken:
        turn, piece = (turn, piece + 1) if one.line.seat is before else (turn + 1, 0)
        before = one.line.seat
        does = one.line.does
        if one.step != step:
            step, asked = one.step, {}
        if does.act is Act.REQUEST:
            asked |= dict(does.attributes)
            fits = _fitting(line.scenario, step, asked)
        yield {
            "seat": one.line.seat.value,
            **_at("start", one.start),
            **_at("end", one.end),
            "text": one.line.text,
            "turn": turn,
            "piece": piece,
            "age_group": _age_group(one.line.seat),
            "step": one.step or None,
            "role": role_of(one.roles.roles, one.line.seat) if one.roles else None,
            "act": does.act.value,
            "attributes": [list(pair) for pair in does.attributes],
            "where": does.where,
            "fits": [each.key for each in fits] if does.act is Act.REQUEST else None,
            "repair": does.repair,
            "mends": does.mends,
            "prompt": does.prompt,
            "praise": does.praise,
        }


def _fitting(scenario: Scenario, step: int, asked: dict[str, str]) -> tuple[Piece, ...]:
    """The pieces still on the tray that are all that was asked for in this step."""
    tray = [piece for later in scenario.plan.steps[step - 1 :] for piece in later.put]
    return tuple(piece for piece in tray if asked.items() <= piece.attributes.items())


def _turns(segments: list[dict[str, Any]]) -> Iterator[dict[str, Any]]:
    end_before = None
    for turn in range(segments[-1]["turn"] + 1):
        own = [one for one in segments if one["turn"] == turn]
        start, end = own[0]["start"], own[-1]["end"]
        yield {
            "turn": turn,
            "seat": own[0]["seat"],
            **_at("start", start),
            **_at("end", end),
            "offset_s": None if end_before is None else round(to_seconds(start - end_before), 5),
            "text": " ".join(one["text"] for one in own),
            "pieces": len(own),
        }
        end_before = end


def _steps(line: TimeLine) -> Iterator[dict[str, Any]]:
    done = (one for one in line.spoken if one.line.does.act is Act.STEP_DONE)
    for one in done:
        yield {"step": one.step, "segment": line.spoken.index(one), "seat": one.line.seat.value, **_at("done", one.end)}


def _rattles(line: TimeLine) -> Iterator[dict[str, Any]]:
    for start, knock in sorted(line.knocks, key=lambda pair: pair[0]):
        end = start + len(knock)
        yield {
            **_at("start", start),
            **_at("end", end),
            "peak_db": round(20 * float(np.log10(np.abs(knock).max())) + KNOCK_PEAK_DB, 1),
            "over_speech": any(start < one.end and one.start < end for one in line.spoken),
        }


def main() -> None:
    """Build everything."""
    scenario = read_scenario()
    line = TimeLine(scenario, np.random.default_rng(SEED)).put()
    sound = session_sound(line)
    _write(FOLDER / "session.flac", sound)
    for seat in SEAT_DB:
        lines = tuple(each for each in scenario.voices if each.seat is seat)
        _write(FOLDER / "voices" / f"{seat.value}.flac", voice_sound(lines, np.random.default_rng(SEED)))
    (FOLDER / "truth.rttm").write_text(rttm(line), encoding="utf-8")
    (FOLDER / "truth.json").write_text(json.dumps(truth(line, len(sound)), indent=1) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
