"""A writer that is killed in mid-session, and what its store holds afterwards. Used by the tests and by ``make soak``.

``python -m tests.killing 300`` kills three hundred writers.
"""

import random
import signal
import subprocess
import sys
import tempfile
from pathlib import Path

from assistant.core.club.consent import Consent, Ledger, Receipt, ask_order
from assistant.events import Event, Heard, Word
from assistant.outputs.keeping.store import open_store
from assistant.samples import to_samples
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


def kill_one(folder: Path, after: int, rng: random.Random) -> str:
    """Start a writer, kill it at a random moment after so many events, and say what is wrong with its store, if anything."""
    command = [sys.executable, "-m", "tests.killing", "--write", str(folder)]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as writer:
        assert writer.stdout
        for _ in range(after):
            writer.stdout.readline()
        try:
            writer.wait(timeout=rng.uniform(0, 0.02))
        except subprocess.TimeoutExpired:
            writer.send_signal(signal.SIGKILL)
        written = [int(line) for line in writer.stdout.read().splitlines() if line]
    safe = written[-1] if written else after
    return wrong_with(folder, safe)


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


def main(times: int) -> int:
    """Kill so many writers and print what came of it."""
    rng = random.Random(8)
    bad: list[str] = []
    for number in range(times):
        with tempfile.TemporaryDirectory() as folder:
            bad += filter(None, [kill_one(Path(folder), rng.randrange(1, 60), rng)])
        if (number + 1) % 50 == 0:
            print(f"{number + 1} writers killed, {len(bad)} stores not as they should be", flush=True)
    print("\n".join(bad) or f"{times} kills: every store opened, was sound, and lacked at most the event being written.")
    return 1 if bad else 0


if __name__ == "__main__":
    if sys.argv[1] == "--write":
        write_for_ever(Path(sys.argv[2]))
    else:
        sys.exit(main(int(sys.argv[1])))
