"""Between the road and the pages: the newest snapshot one way, a bounded queue of orders the other.

What lives here: what is handed over. What must not: a lock that the road could wait for. Posting is one assignment; whoever is
late reads only the newest.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from queue import Empty, Full, Queue
from typing import Generic, Protocol, TypeVar

from assistant.core.club.loudness import Loudness
from assistant.core.club.view import View
from assistant.core.measures.hints import Hint
from assistant.events import Marked
from assistant.terms import Phase, Seat

MOST_WAITING = 32  # orders; the road takes them every 30 ms, so that more can only come from a page gone wrong


@dataclass(frozen=True, slots=True)
class Pressed:
    """A key on the helper page, which means what it means in the terminal."""

    key: str


@dataclass(frozen=True, slots=True)
class Named:
    """What the cues and pages call each seat from now on; one without a name is called by its letter."""

    names: Mapping[Seat, str]


@dataclass(frozen=True, slots=True)
class PutAway:
    """The hint was read."""


Order = Marked | Pressed | Named | PutAway


@dataclass(frozen=True, slots=True)
class Snapshot:
    """The session at one moment.

    ``note``: what the keys wait for, or what is wrong with the sound. ``is_shared``: the pages are on the home network too.
    ``loudness``: of the last second.
    """

    sample: int = 0
    view: View = View()
    names: Mapping[Seat, str] | None = None
    note: str = ""
    hint: Hint | None = None
    is_shared: bool = False
    loudness: Loudness | None = None

    @property
    def is_over(self) -> bool:
        """Whether nothing comes after it."""
        return self.view.phase is Phase.OVER

    @property
    def left_samples(self) -> int:
        """Until the session ends."""
        return max(0, self.view.end_sample - self.sample)

    def name(self, seat: Seat) -> str:
        """What to call a seat."""
        return (self.names or {}).get(seat, seat.value)


class Shown(Protocol):
    """What can be posted: something frozen that may be the last of its kind."""

    @property
    def is_over(self) -> bool:
        """Whether nothing comes after it."""
        ...


Posted = TypeVar("Posted", bound=Shown)
Wish = TypeVar("Wish")


class Notices(Generic[Posted, Wish]):
    """Where one thread posts and the pages read, each from its own; ``first`` is what there is before anything is posted."""

    def __init__(self, first: Posted) -> None:
        self._posted = (0, first)
        self._orders: Queue[Wish] = Queue(MOST_WAITING)

    @property
    def newest(self) -> tuple[int, Posted]:
        """The newest snapshot and its number."""
        return self._posted

    def post(self, snapshot: Posted) -> None:
        """Show this from now on. Called by one thread alone; never waits."""
        self._posted = (self._posted[0] + 1, snapshot)

    def offer(self, order: Wish) -> bool:
        """Hand an order on; False when too many wait already."""
        try:
            self._orders.put_nowait(order)
        except Full:
            return False
        return True

    def orders(self) -> Iterator[Wish]:
        """The orders since last asked, oldest first; never waits."""
        for _ in range(MOST_WAITING):
            try:
                yield self._orders.get_nowait()
            except Empty:
                return


class Board(Notices[Snapshot, Order]):
    """Where the road posts and the session's pages read."""

    def __init__(self) -> None:
        super().__init__(Snapshot())
