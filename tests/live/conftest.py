"""A room for live tests: PulseAudio with a loudspeaker that nobody hears, and a microphone that stands in front of it."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.live.room import Room, refresh_devices


@pytest.fixture(scope="session")
def room(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Room]:
    """The room, with its sound server running in a folder of its own; the machine's sound is left alone."""
    with pytest.MonkeyPatch.context() as environment:
        room = Room(tmp_path_factory.mktemp("room"), Path("/usr"))
        for name, value in room.environment.items():
            environment.setenv(name, value)
        room.open()
        refresh_devices()
        yield room
        room.close()
