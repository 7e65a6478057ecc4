"""Broken files of every kind; ``make fuzz`` goes on for ten minutes."""

from pathlib import Path

import pytest

from tests.fuzzing import KINDS, attempt


@pytest.mark.parametrize("kind", KINDS)
def test_a_broken_file_is_read_or_said_and_never_a_traceback(kind: str, tmp_path: Path) -> None:
    for seed in range(250):
        attempt(kind, seed, tmp_path)
