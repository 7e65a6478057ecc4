"""How loud it is, for people: the level that a screen shows, and what the room's own noise means.

What lives here: where quiet ends and loud begins. What must not: sound (:mod:`assistant.listening.levels` measures), or words.

Levels are decibels under full scale, so they depend on how far the microphone is turned up; a meter shows from -60 to 0.
"""

from dataclasses import dataclass
from enum import StrEnum

LOWEST_DB = -60.0
QUIET_DB = -55.0  # chosen, and so is the next: a voice at the table comes in at about -30, and should stand out by 15 or more
LOUD_DB = -45.0
NOTHING_DB = -70.0  # under any microphone's own noise: it is muted, or the wrong one


class Room(StrEnum):
    """The noise of a room in which nobody speaks."""

    NOTHING = "nothing"
    QUIET = "quiet"
    SOME = "some"
    LOUD = "loud"


@dataclass(frozen=True, slots=True)
class Loudness:
    """How loud it is now, how loud the room itself is, and whether the sound was cut off at its loudest."""

    now_db: float
    floor_db: float
    clipped: bool = False

    @property
    def share(self) -> float:
        """Of a meter's length: 0 for nothing, 1 for as loud as can be."""
        return min(1.0, max(0.0, 1 - self.now_db / LOWEST_DB))

    @property
    def room(self) -> Room:
        """What the room's noise is like."""
        if max(self.now_db, self.floor_db) <= NOTHING_DB:
            return Room.NOTHING
        steps = ((QUIET_DB, Room.QUIET), (LOUD_DB, Room.SOME))
        return next((room for most, room in steps if self.floor_db <= most), Room.LOUD)
