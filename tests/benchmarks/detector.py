"""What the speech detector's network costs, ours and the published one: ``python -m tests.benchmarks.detector``.

Processor time of one slot of 32 ms, the least of five rounds over the carried reader's speech, in turns.
"""

import time
from collections.abc import Callable

from tests.carried import reader
from tests.detectors import Judge, ours, published, slots_of

ROUNDS = 5


def main() -> None:
    """Prints both, and their ratio."""
    slots = slots_of(reader(0, 40))
    spent: dict[Callable[[], Judge], list[float]] = {published: [], ours: []}
    for _ in range(ROUNDS):
        for network, times_s in spent.items():
            judge = network()
            began = time.process_time()
            for sound in slots:
                judge(sound)
            times_s.append((time.process_time() - began) / len(slots))
    theirs_s, ours_s = (min(times_s) for times_s in spent.values())
    print(f"published {theirs_s * 1000:.3f} ms a slot, ours {ours_s * 1000:.3f} ms: {theirs_s / ours_s:.1f} times as fast")


if __name__ == "__main__":
    main()
