"""What keeping voices costs a session, and how large they are: the demonstration's six minutes, into a locked store.

``python -m tests.benchmarks.keeping``
"""

import tempfile
from pathlib import Path
from time import perf_counter

import numpy as np

from assistant.assembly import demo_folder
from assistant.core.club.consent import Consent
from assistant.devices.files import open_recording
from assistant.outputs.keeping.store import LOCKED_FILE, open_store
from assistant.samples import SAMPLE_RATE, clock_face
from tests.killing import DAY, PASSPHRASE, agreed, locked_store


def main() -> None:
    """Print the figures."""
    recording = open_recording(demo_folder() / "session.flac")
    with tempfile.TemporaryDirectory() as name:
        folder = locked_store(Path(name))
        before = (folder / LOCKED_FILE).stat().st_size
        with open_store(folder, DAY, PASSPHRASE) as store:
            keeping, spent = store.keep(agreed(Consent.VOICES), DAY), []
            for frame in recording:
                began = perf_counter()
                keeping.hear(frame)
                spent.append((perf_counter() - began) * 1e3)
            keeping.finish()
        size = (folder / LOCKED_FILE).stat().st_size - before
        began = perf_counter()
        with open_store(folder, DAY, PASSPHRASE) as store:
            opened = perf_counter()
            store.delete([keeping.number])
        deleted = perf_counter()
    hours = recording.length_samples / SAMPLE_RATE / 3600
    pieces = sorted(spent)[-len(spent) // 33 :]
    print(f"{clock_face(recording.length_samples)} of sound: {size / 1e6:.1f} MB, {size / 1e6 / hours:.0f} MB an hour")
    most = f"median {np.median(pieces):.1f} ms, 99 % {np.percentile(pieces, 99):.1f} ms, most {max(spent):.1f} ms"
    print(f"a frame, mean {np.mean(spent):.2f} ms of its 30 ms; the one in 33 that writes a piece: {most}")
    print(f"opening the store {opened - began:.2f} s, deleting the session {deleted - opened:.2f} s")


if __name__ == "__main__":
    main()
