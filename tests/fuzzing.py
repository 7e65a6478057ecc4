"""Broken files of every kind that Tray Turns opens: each gives what it should or a sentence, never a traceback.

``python -m tests.fuzzing 600`` goes on for ten minutes and prints how many files of each kind were tried. The seed is printed
with whatever goes wrong. The tests go on for a minute in all.
"""

import io
import random
import sys
import tempfile
from collections import Counter
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from time import monotonic

import numpy as np
import soundfile

from assistant.commands.review import review_page
from assistant.core.club.consent import Consent
from assistant.core.measures.progress import Goal
from assistant.core.plans.plan import read_plan
from assistant.devices.files import open_recording
from assistant.devices.shelf import plan_names, plan_text, shared_text
from assistant.errors import KeepingError, PlanError, SourceError
from assistant.events import Event
from assistant.outputs.exports.bundle import bundle
from assistant.outputs.exports.records import json_lines, read_json_lines
from assistant.outputs.keeping.sound import Gathering, samples_of
from assistant.outputs.keeping.store import FILE, LOCKED_FILE, open_store
from assistant.terms import Seat
from tests.killing import DAY, PASSPHRASE, UNTIL, a_frame, agreed, locked_store, quick_keys
from tests.test_exports import STORY


def broken(whole: bytes, rng: random.Random) -> bytes:
    """The same with a few bytes changed, taken out or doubled, or its end cut off; most often near the start."""
    data = bytearray(whole)
    for _ in range(rng.choice((1, 1, 2, 5, 30))):
        at = rng.randrange(min(len(data), rng.choice((60, 400, len(data)))) or 1)
        match rng.randrange(5):
            case 0:
                data[at : at + 1] = bytes([rng.randrange(256)])
            case 1:
                del data[at : at + rng.randrange(1, 20)]
            case 2:
                data[at:at] = data[at : at + rng.randrange(1, 20)]
            case 3:
                data[at : at + 4] = rng.choice((b"\xff\xff\xff\xff", b"\x00\x00\x00\x00", b"\x7f\xff\xff\xff", b"-1e9"))
            case 4 if rng.random() < 0.2:
                del data[at:]
    return bytes(data)


def a_store(folder: Path, rng: random.Random) -> None:
    """A broken store: what can still be read of it is events and goals."""
    path = folder / FILE
    if not path.exists():
        with open_store(folder, DAY) as store:
            store.keep(agreed(), DAY).write_all(STORY)
            store.keep_goal(Goal("waited", words="asks first"), UNTIL)
    _broken_store(path, "", rng)


def a_locked_store(folder: Path, rng: random.Random) -> None:
    """The same encrypted, with voices and names in it."""
    path = folder / LOCKED_FILE
    if not path.exists():
        with open_store(locked_store(folder), DAY, PASSPHRASE) as store:
            keeping = store.keep(agreed(Consent.VOICES), DAY)
            keeping.write_all(STORY)
            for number in range(40):
                keeping.hear(a_frame(number))
            store.keep_names({Seat.A: "Wendelin"})
    _broken_store(path, PASSPHRASE, rng)


def _broken_store(path: Path, passphrase: str, rng: random.Random) -> None:
    folder, whole = path.parent, path.read_bytes()
    try:
        path.write_bytes(broken(whole, rng))
        with open_store(folder, DAY, passphrase) as store:
            store.check()
            assert all(isinstance(one.goal, Goal) for one in store.goals()) and isinstance(store.names(), dict)
            for kept in store.sessions():
                assert all(isinstance(event, Event) for event in store.events(kept.number))
    except KeepingError as error:
        assert str(error)
    finally:
        for left in folder.iterdir():
            left.unlink()
        path.write_bytes(whole)


def a_piece_of_sound(folder: Path, rng: random.Random) -> None:
    """A broken FLAC stream: as many samples as there should be, or a sentence."""
    gathering = Gathering()
    gathering.take(a_frame(rng.randrange(1000)))
    piece = gathering.rest()
    assert piece
    try:
        assert len(samples_of(replace(piece, flac=broken(piece.flac, rng)))) == piece.end_sample - piece.start_sample
    except KeepingError as error:
        assert "sound kept from" in str(error)


def a_file_of_events(folder: Path, rng: random.Random) -> None:
    """Broken JSON Lines: what can be read goes into every format, and onto the review."""
    whole = json_lines(STORY, rng.choice((Consent.TIMELINE, Consent.WORDS))).encode()
    text = broken(whole, rng).decode("utf-8", errors="replace")
    try:
        events = list(read_json_lines(text.splitlines(), "fuzzed"))
    except SourceError as error:
        assert "fuzzed, line" in str(error)
        return
    bundle(events, Consent.WORDS, shared_text("consent/en.toml"), shared_text("dictionary/en.toml"), frozenset())
    review_page(events)


def a_plan(folder: Path, rng: random.Random) -> None:
    """A broken plan: a plan, or all that is wrong with it."""
    whole = plan_text(rng.choice(plan_names()))[0].encode()
    try:
        read_plan(broken(whole, rng).decode("utf-8", errors="replace"), "fuzzed.toml")
    except PlanError as error:
        assert error.problems


def a_recording(folder: Path, rng: random.Random) -> None:
    """A recording with a broken header: its frames, or a sentence."""
    sound = np.random.default_rng(rng.randrange(2**32)).integers(-3000, 3000, 8_000).astype(np.int16)
    whole = io.BytesIO()
    ending = rng.choice(("wav", "flac", "ogg"))
    soundfile.write(whole, sound, rng.choice((8_000, 16_000, 44_100)), format=ending)
    path = folder / f"fuzzed.{ending}"
    path.write_bytes(broken(whole.getvalue(), rng))
    try:
        for number, _ in enumerate(open_recording(path)):
            if number > 2_000:  # a header may promise hours; a minute of them is enough
                break
    except SourceError as error:
        assert "fuzzed" in str(error)


KINDS: dict[str, Callable[[Path, random.Random], None]] = {
    "stores": a_store, "locked stores": a_locked_store, "pieces of sound": a_piece_of_sound,
    "files of events": a_file_of_events, "plans": a_plan, "recordings": a_recording,
}  # fmt: skip


def attempt(kind: str, seed: int, folder: Path) -> None:
    """One broken file; whatever goes wrong names its seed."""
    try:
        KINDS[kind](folder, random.Random(f"{kind} {seed}"))
    except Exception as error:
        error.add_note(f"{kind}, seed {seed}")
        raise


def main(seconds: float) -> int:
    """Go on for so long; 1 when anything went wrong."""
    tried: Counter[str] = Counter()
    end, seed = monotonic() + seconds, 0
    with tempfile.TemporaryDirectory() as folder:
        places = {kind: Path(folder) / kind for kind in KINDS}
        for place in places.values():
            place.mkdir()
        while monotonic() < end:
            seed += 1
            for kind, place in places.items():
                attempt(kind, seed, place)
                tried[kind] += 1
    print(", ".join(f"{count} {kind}" for kind, count in tried.items()) + ": no traceback.")
    return 0


if __name__ == "__main__":
    quick_keys()
    sys.exit(main(float(sys.argv[1])))
