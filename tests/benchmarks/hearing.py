"""How well the ears hear: ``python -m tests.benchmarks.hearing FOLDER [--against] [--recogniser auto|moonshine|vosk|none]``.

FOLDER is a session or holds several. A session is a folder with ``truth.json`` (``segments`` and ``turns`` with ``seat``,
``start``, ``end`` in samples at 16 kHz, and ``text`` where the words are known), one or more recordings of it, and 10 to 20 s
of each seat: ``enrol_A_CONDITION.flac``, ``enrol_A_room.flac`` or ``enrol_A.flac`` beside it, or ``voices/A.flac``.

``--against`` also runs a plain alternative: webrtcvad with a fixed hangover, and always the nearest voice.

DER is pyannote.metrics' diarization error rate, ``?`` counting as a wrong seat. Its collar is the whole width that is left out
around each true boundary, half before and half after. Boundaries and offsets are measured on pairs: a true stretch and a heard
one that share most with each other. Processor time is this process's, all threads, and depends on the machine; its ratios
less so.
"""

import argparse
import json
import sys
import time
import warnings
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from pathlib import Path
from statistics import median, quantiles
from typing import Any, TypeVar

import numpy as np
import webrtcvad
from numpy.typing import NDArray
from pyannote.core import Annotation, Segment
from pyannote.metrics.diarization import DiarizationErrorRate

from assistant.core.words.lexicon import Label, Lexicon, read_lexicon
from assistant.devices.files import read_samples
from assistant.devices.shelf import shared_text
from assistant.engines import open_recogniser
from assistant.events import Heard, Word
from assistant.listening.handover import OverlapNetwork
from assistant.listening.listener import Listener
from assistant.listening.recognise import Recogniser
from assistant.listening.speech import Detector, Silero, frames_of
from assistant.listening.voices import VoiceNetwork, Voices
from assistant.samples import FRAME_SAMPLES, SAMPLE_RATE, Frame, to_seconds
from assistant.terms import Seat
from tests.benchmarks.scoring import Harmonic, Stretch, boundary_errors_s, overlap_of_counts, pairs, who

COLLARS_S = (0.0, 0.25)
Samples = NDArray[np.int16]
Result = TypeVar("Result")


# --- sessions -----------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Recording:
    """One recording of one session, with its truth."""

    name: str
    path: Path
    voices: dict[Seat, Path]
    stretches: tuple[Stretch, ...]
    turns: tuple[Stretch, ...]
    texts: tuple[str | None, ...]
    """What was said in each turn, None where that is not known."""


def recordings(folder: Path) -> Iterator[Recording]:
    """Every recording of every session in a folder, or of the one session that it is."""
    for truth_path in sorted([*folder.glob("truth.json"), *folder.glob("*/truth.json")]):
        home = truth_path.parent
        truth = json.loads(truth_path.read_text(encoding="utf-8"))
        for path in sorted(path for path in home.glob("*.flac") if not path.stem.startswith("enrol_")):
            yield Recording(
                name=f"{truth['name']} {path.stem}",
                path=path,
                voices={Seat(seat): _voice(home, seat, path.stem) for seat in truth["seats"]},
                stretches=tuple(map(_stretch, truth["segments"])),
                turns=tuple(map(_stretch, truth["turns"])),
                texts=tuple(turn["text"] for turn in truth["turns"]),
            )


def _voice(home: Path, seat: str, condition: str) -> Path:
    """The enrolment that was heard as this condition was: a room's in a room."""
    names = (
        [f"enrol_{seat}_{condition}"] + [f"enrol_{seat}_room"] * (condition != "clean") + [f"enrol_{seat}", f"voices/{seat}"]
    )
    return next(path for name in names if (path := home / f"{name}.flac").is_file())


def _stretch(entry: dict[str, Any]) -> Stretch:
    return Stretch(entry["start"], entry["end"], Seat(entry["seat"]))


# --- ears ---------------------------------------------------------------------------------------------------------------


@dataclass
class Stopwatch:
    """Processor time by stage, in seconds."""

    spent_s: dict[str, float] = field(default_factory=dict)

    def timed(self, stage: str, work: Callable[..., Result]) -> Callable[..., Result]:
        """The same work, its time written down."""

        def run(*given: Any) -> Result:
            began = time.process_time()
            try:
                return work(*given)
            finally:
                self.spent_s[stage] = self.spent_s.get(stage, 0.0) + time.process_time() - began

        return run


class NoWords:
    """A recogniser for when only places and seats matter."""

    name = "none"

    def recognise(self, pcm: bytes, start_sample: int) -> tuple[Word, ...]:
        """No words."""
        return ()


class Ears:
    """The project's own ears, stage by stage on the watch."""

    name = "ours"

    def __init__(self, recogniser: Recogniser) -> None:
        self._recogniser = recogniser
        self._network, self._overlap = VoiceNetwork(), OverlapNetwork()

    def hear(self, recording: Recording, watch: Stopwatch) -> list[Heard]:
        """What these ears hear in a recording."""
        voices = Voices(self._network, Detector(Silero()), self._overlap)
        for seat, path in recording.voices.items():
            voices.enrol(seat, read_samples(path))
        words = type("Watched", (), {"name": "", "recognise": staticmethod(watch.timed("words", self._recogniser.recognise))})()
        setattr(voices, "parts", watch.timed("voices", voices.parts))  # noqa: B010
        listener = Listener(Detector(Silero()), voices, words)
        frames = list(frames_of(read_samples(recording.path)))
        listen = watch.timed("all", lambda: [event for frame in frames for event in listener.hear(frame)] + listener.finish())
        return [event for event in listen() if isinstance(event, Heard)]


class PlainEars:
    """The plain alternative: webrtcvad, a fixed hangover, and always the nearest voice."""

    name = "plain"
    _MODE = 3
    _WINDOW, _VOICED = 4, 3  # frames: three of four begin speech
    _HANGOVER = 7  # frames: 210 ms without a voice end it

    def __init__(self) -> None:
        self._network = VoiceNetwork()

    def hear(self, recording: Recording, watch: Stopwatch) -> list[Heard]:
        """What these ears hear in a recording."""
        samples = read_samples(recording.path)
        known = {seat: self._network(read_samples(path)) for seat, path in recording.voices.items()}
        heard = []
        for number, (start, end) in enumerate(watch.timed("all", lambda: list(self._spans(frames_of(samples))))(), start=1):
            vector = self._network(samples[start:end])
            seat = max(known, key=lambda seat: float(vector @ known[seat]))  # noqa: B023
            heard.append(Heard(end, number, start, end, seat, 0.0, ()))
        return heard

    def _spans(self, frames: Iterable[Frame]) -> Iterator[tuple[int, int]]:
        vad = webrtcvad.Vad(self._MODE)
        recent: list[int] = []  # where the voiced frames of the window begin
        start, end, speaking = 0, 0, False
        for frame in frames:
            if vad.is_speech(frame.pcm, SAMPLE_RATE):
                recent.append(frame.start_sample)
                end = frame.end_sample
            recent = [place for place in recent if place > frame.start_sample - self._WINDOW * FRAME_SAMPLES]
            if not speaking and len(recent) >= self._VOICED:
                start, speaking = recent[0], True
            elif speaking and frame.end_sample - end >= self._HANGOVER * FRAME_SAMPLES:
                yield start, end
                speaking = False
        if speaking:
            yield start, end


# --- figures ------------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Errors:
    """Signed errors in milliseconds, heard minus true, and of how many."""

    of_ms: tuple[float, ...]
    expected: int

    def __str__(self) -> str:
        if len(self.of_ms) < 2:
            return "too few"
        sizes = sorted(map(abs, self.of_ms))
        ninetieth = quantiles(sizes, n=10, method="inclusive")[-1]
        return f"{median(sizes):.0f} / {ninetieth:.0f} / {median(self.of_ms):+.0f} ({len(sizes)} of {self.expected})"


def row(recording: Recording, ears: Ears | PlainEars, lexicon: Lexicon) -> tuple[str, ...]:
    """The figures of one recording with one pair of ears, in the order of ``HEADINGS``."""
    watch = Stopwatch()
    units = ears.hear(recording, watch)
    heard = [Stretch(unit.start_sample, unit.end_sample, unit.seat) for unit in units]
    length = len(read_samples(recording.path))
    speech, sound = _covered(recording.stretches, length), _covered(heard, length)
    told = who(recording.stretches, heard)
    matched = pairs(recording.stretches, heard)
    starts, ends = boundary_errors_s(matched)
    false_turns = sum(not any(unit.shared(true) for true in recording.stretches) for unit in heard)
    return (
        recording.name,
        ears.name,
        f"{to_seconds(int((speech & ~sound).sum())):.1f} / {to_seconds(int((sound & ~speech).sum())):.1f}",
        f"{told.share_right:.1%} of {told.answered}",
        f"{told.share_unsure:.1%}",
        " / ".join(f"{der(recording.stretches, heard, length, collar_s):.1%}" for collar_s in COLLARS_S),
        *(str(errors(errors_s, len(recording.stretches))) for errors_s in (starts, ends)),
        str(errors(starts + ends, 2 * len(recording.stretches))),
        str(_offset_errors(recording.turns, heard)),
        f"{false_turns / (to_seconds(length) / 60):.2f}",
        _words_found(recording, units, lexicon),
        *_times(watch, to_seconds(length)),
    )


def errors(errors_s: Iterable[float], expected: int) -> Errors:
    """These errors, of so many that there should be."""
    return Errors(tuple(error * 1000 for error in errors_s), expected)


HEADINGS = (
    "Recording",
    "Ears",
    "Speech missed / false (s)",
    "Who right, answered units over 1 s",
    "`?`",
    "DER, collar 0 / 0.25",
    "Start: median / 90th / bias (ms)",
    "End: median / 90th / bias (ms)",
    "Both: median / 90th / bias (ms)",
    "FTO: median / 90th / bias (ms)",
    "False turns a minute",
    "Attribute words F1",
    "Processor time, % of real time: detector and endpoint / voices / words",
    "Detector and endpoint : words",
)


def _covered(stretches: Iterable[Stretch], length: int) -> NDArray[np.bool_]:
    cover = np.zeros(length, dtype=np.bool_)
    for one in stretches:
        cover[max(one.start, 0) : one.end] = True
    return cover


def der(truth: Iterable[Stretch], heard: Iterable[Stretch], length: int, collar_s: float) -> float:
    """Diarization error rate over a recording of this many samples."""
    measure = DiarizationErrorRate(collar=collar_s)
    return float(measure(_annotation(truth), _annotation(heard), uem=Segment(0, to_seconds(length))))


def _annotation(stretches: Iterable[Stretch]) -> Annotation:
    annotation = Annotation()
    for track, one in enumerate(stretches):
        annotation[Segment(to_seconds(one.start), to_seconds(one.end)), track] = one.seat.value
    return annotation


def _offset_errors(turns: Sequence[Stretch], heard: Sequence[Stretch]) -> Errors:
    """Floor transfer offsets, heard minus true, wherever the floor went from one seat to another and both were heard."""
    matched = dict(pairs(turns, _turns(heard)))
    transfers = [(one, then) for one, then in pairwise(turns) if one.seat is not then.seat]
    errors_s = [
        to_seconds((matched[then].start - matched[one].end) - (then.start - one.end))
        for one, then in transfers
        if one in matched and then in matched
    ]
    return errors(errors_s, len(transfers))


def _turns(heard: Iterable[Stretch]) -> list[Stretch]:
    """The units of one seat that no other seat's divide."""
    turns: list[Stretch] = []
    for unit in sorted(heard, key=lambda unit: unit.start):
        if turns and turns[-1].seat is unit.seat:
            turns[-1] = Stretch(turns[-1].start, max(turns[-1].end, unit.end), unit.seat)
        else:
            turns.append(unit)
    return turns


def _words_found(recording: Recording, units: Sequence[Heard], lexicon: Lexicon) -> str:
    words = [word for unit in units for word in unit.words]
    found = Harmonic(0, 0, 0)
    for turn, text in zip(recording.turns, recording.texts, strict=True):
        if text is not None:
            here = [word.text for word in words if turn.start <= (word.start_sample + word.end_sample) // 2 < turn.end]
            found += overlap_of_counts(telling(text.split(), lexicon), telling(here, lexicon))
    return f"{found.f1:.2f} ({found.said} said)" if words else "-"


def telling(words: Iterable[str], lexicon: Lexicon) -> list[object]:
    """The attributes and numbers that these words name."""
    plain = [word.strip(".,?!").lower() for word in words]
    tokens = lexicon.scan(lexicon.normalise(plain), (Label.ATTRIBUTE, Label.NUMBER))
    return [token.pair or token.number for token in tokens if token.labels]


def _times(watch: Stopwatch, length_s: float) -> tuple[str, str]:
    spent = watch.spent_s
    voices, words = spent.get("voices", 0.0), spent.get("words", 0.0)
    road = spent["all"] - voices - words
    shares = " / ".join(f"{seconds / length_s:.2%}" for seconds in (road, voices, words))
    return shares, f"{road / words:.1%}" if words > road / 100 else "-"


def table(rows: Iterable[Sequence[str]]) -> Iterator[str]:
    """The rows as lines of Markdown, each as soon as it is known."""
    yield "| " + " | ".join(HEADINGS) + " |"
    yield "|" + "---|" * len(HEADINGS)
    for cells in rows:
        yield "| " + " | ".join(cells) + " |"


def main(argv: Sequence[str] | None = None) -> None:
    """Prints the table."""
    options = argparse.ArgumentParser(description="How well the ears hear.")
    options.add_argument("folder", type=Path, help="a session, or a folder of sessions")
    options.add_argument("--against", action="store_true", help="also run the plain alternative")
    options.add_argument("--recogniser", default="auto", choices=("auto", "moonshine", "vosk", "none"))
    chosen = options.parse_args(argv)
    warnings.filterwarnings("ignore", module="pyannote")
    words = NoWords() if chosen.recogniser == "none" else open_recogniser(chosen.recogniser)
    pairs_of_ears: list[Ears | PlainEars] = [Ears(words), *([PlainEars()] if chosen.against else [])]
    lexicon = read_lexicon(shared_text("lexicon/en.toml"), "shared/lexicon/en.toml")
    rows = (row(recording, ears, lexicon) for recording in recordings(chosen.folder) for ears in pairs_of_ears)
    for line in table(rows):
        sys.stdout.write(line + "\n")
        sys.stdout.flush()


if __name__ == "__main__":
    main()
