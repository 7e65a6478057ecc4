"""Broken files of every kind, for a minute in all; ``make fuzz`` goes on for ten."""

from itertools import count
from pathlib import Path
from time import monotonic

import pytest

from tests.fuzzing import KINDS, attempt

SECONDS = 54 / len(KINDS)
FEWEST = 20  # on however slow a machine


@pytest.mark.parametrize("kind", KINDS)
def test_a_broken_file_is_read_or_said_and_never_a_traceback(kind: str, tmp_path: Path) -> None:
    end = monotonic() + SECONDS
    for seed in count():
        if seed >= FEWEST and monotonic() > end:
            break
        attempt(kind, seed, tmp_path)
