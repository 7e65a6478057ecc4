"""A writer that is killed in mid-session, and what its store holds afterwards. Used by the tests and by ``make soak``.

``python -m tests.killing 300`` kills three hundred writers, every tenth of which keeps voices in a locked store.
"""

import random
import signal
import subprocess
import sys
import tempfile
from pathlib import Path

import numpy as np
from sqlcipher3 import dbapi2

from assistant.core.club.consent import Consent, Ledger, Receipt, ask_order
from assistant.events import Event, Heard, Word
from assistant.outputs.keeping.sound import PIECE_FRAMES, samples_of
from assistant.outputs.keeping.store import lock_store, open_store
from assistant.samples import FRAME_SAMPLES, Frame, to_samples
from assistant.terms import Seat

SEATS = (Seat.A, Seat.B, Seat.C, Seat.FACILITATOR)
DAY, UNTIL = "2027-01-12", "2027-07-12"


def agreed(level: Consent = Consent.WORDS, until: str = UNTIL) -> Ledger:
    """A ledger in which everybody agreed to this level."""
    return Ledger(SEATS, tuple(Receipt(seat, giver, level, DAY, 1, until) for seat, giver in ask_order(SEATS)))


def an_event(number: int) -> Event:
    """One of a long row of events that can be told apart."""
    start, end = to_samples(number), to_samples(number + 0.5)
    return Heard(end, number, start, end, SEATS[number % 4], 0.2, (Word(f"word{number}", start, end),))


def write_for_ever(folder: Path) -> None:
    """Keep events until killed; after each, its number goes to standard output."""
    with open_store(folder, DAY) as store:
        keeping = store.keep(agreed(), DAY)
        number = 0
        while keeping.trouble is None:
            keeping.write(an_event(number))
            number += 1
            print(number, flush=True)


PASSPHRASE = "four o'clock is cake time"


def a_frame(number: int) -> Frame:
    """One of a long row of frames; no two of a few thousand sound alike."""
    sound = np.random.default_rng(number).integers(-9000, 9000, FRAME_SAMPLES).astype(np.int16)
    return Frame(number * FRAME_SAMPLES, sound.tobytes())


def quick_keys() -> None:
    """From here on in this process, SQLCipher makes a key of a passphrase in a moment; what it does else is its own test."""
    dbapi2.connect(":memory:").execute("PRAGMA cipher_default_kdf_iter = 4000").fetchall()


def locked_store(folder: Path) -> Path:
    """An empty locked store in this folder."""
    with open_store(folder, DAY):
        pass
    lock_store(folder, PASSPHRASE)
    return folder


def speak_for_ever(folder: Path) -> None:
    """Keep voices until killed; after each frame, its number goes to standard output."""
    with open_store(folder, DAY, PASSPHRASE) as store:
        keeping = store.keep(agreed(Consent.VOICES), DAY)
        number = 0
        while keeping.trouble is None:
            keeping.hear(a_frame(number))
            number += 1
            print(number, flush=True)


def kill_one(folder: Path, after: int, rng: random.Random) -> str:
    """Start a writer, kill it at a random moment after so many events, and say what is wrong with its store, if anything."""
    return wrong_with(folder, _killed("--write", folder, after, rng))


def kill_speaker(folder: Path, after: int, rng: random.Random) -> str:
    """The same with a writer that keeps voices, and so many frames."""
    return wrong_with_voices(folder, _killed("--speak", locked_store(folder), after, rng))


def _killed(how: str, folder: Path, after: int, rng: random.Random) -> int:
    """How many events or frames a writer reported before it was killed."""
    command = [sys.executable, "-m", "tests.killing", how, str(folder)]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as writer:
        assert writer.stdout
        for _ in range(after):
            writer.stdout.readline()
        try:
            writer.wait(timeout=rng.uniform(0, 0.02))
        except subprocess.TimeoutExpired:
            writer.send_signal(signal.SIGKILL)
        written = [int(line) for line in writer.stdout.read().splitlines() if line]
    return written[-1] if written else after


def wrong_with(folder: Path, safe: int) -> str:
    """What is wrong with a store whose writer reported ``safe`` events: more than one event after those is not possible."""
    with open_store(folder, DAY) as store:
        if problems := store.check():
            return " ".join(problems)
        sessions = store.sessions()
        events = store.events(sessions[-1].number) if sessions else []
    if events != [an_event(number) for number in range(len(events))]:
        return "the events are not a row from the first"
    return "" if safe <= len(events) <= safe + 1 else f"{safe} events were safe, {len(events)} are there"


def wrong_with_voices(folder: Path, heard: int) -> str:
    """What is wrong with a store whose writer reported so many frames: more than a second less is not possible."""
    with open_store(folder, DAY, PASSPHRASE) as store:
        if problems := store.check():
            return " ".join(problems)
        sessions = store.sessions()
        pieces = store.voices(sessions[-1].number) if sessions else []
    kept = sum(piece.end_sample - piece.start_sample for piece in pieces) // FRAME_SAMPLES
    for piece in pieces:
        numbers = range(piece.start_sample // FRAME_SAMPLES, piece.end_sample // FRAME_SAMPLES)
        if samples_of(piece).tobytes() != b"".join(a_frame(number).pcm for number in numbers):
            return f"the sound from frame {numbers[0]} on is not what was heard"
    if pieces and pieces[-1].end_sample != kept * FRAME_SAMPLES:
        return "the sound has a hole"
    return "" if heard - PIECE_FRAMES <= kept <= heard + 1 else f"{heard} frames were heard, {kept} are there"


def main(times: int) -> int:
    """Kill so many writers and print what came of it."""
    rng = random.Random(8)
    bad: list[str] = []
    for number in range(times):
        with tempfile.TemporaryDirectory() as folder:
            kill, most = (kill_speaker, 400) if number % 10 == 9 else (kill_one, 60)
            bad += filter(None, [kill(Path(folder), rng.randrange(1, most), rng)])
        if (number + 1) % 50 == 0:
            print(f"{number + 1} writers killed, {len(bad)} stores not as they should be", flush=True)
    fine = f"{times} kills: every store opened, was sound, and lacked at most the event being written, or a second of sound."
    print("\n".join(bad) or fine)
    return 1 if bad else 0


if __name__ == "__main__":
    quick_keys()
    if sys.argv[1] in ("--write", "--speak"):
        (write_for_ever if sys.argv[1] == "--write" else speak_for_ever)(Path(sys.argv[2]))
    else:
        sys.exit(main(int(sys.argv[1])))
