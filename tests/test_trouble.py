"""What a family is told of trouble: the helper page's note while it lasts, the terminal once, and the club goes on."""

import io

from rich.console import Console

from assistant.assembly import open_texts
from assistant.club import Club, OpenPages, Wishes
from assistant.events import Event, Trouble
from assistant.pages.board import Board
from assistant.run import Road
from assistant.samples import Frame, clock_face, to_samples
from assistant.terms import Fault, Seat
from tests.fakes import ListSpeaker, ScriptedEars, a_session, silence

MUTED = "B's microphone hears nothing at all. Is it muted, by a switch or a key?"
BEHIND = "The computer is behind: it will still understand what was said, only later. Close other programs."


class TroubledEars(ScriptedEars):
    """Ears that find these faults at these seconds."""

    def __init__(self, *faults: tuple[float, Fault, Seat | None, bool]) -> None:
        super().__init__([])
        self._faults = [Trouble(to_samples(at_s), fault, seat, over) for at_s, fault, seat, over in faults]

    def hear(self, frame: Frame, muted: bool = False) -> list[Event]:
        return [fault for fault in self._faults if frame.start_sample < fault.sample <= frame.end_sample]


class NoteBoard(Board):
    """Remembers each note, and when it was first there."""

    def __init__(self) -> None:
        super().__init__()
        self.notes = [("0:00", "")]

    def post(self, snapshot: object) -> None:
        super().post(snapshot)  # type: ignore[arg-type]
        _, newest = self.newest
        if newest.note != self.notes[-1][1]:
            self.notes.append((clock_face(newest.sample), newest.note))


def club(ears: ScriptedEars, frames: list[Frame], **options: object) -> tuple[str, list[tuple[str, str]]]:
    """What the terminal told, and the notes of the helper page."""
    out, board = io.StringIO(), NoteBoard()
    road = Road(ears, a_session(), ListSpeaker())
    Club(road, Wishes(), Console(file=out, width=300), open_texts(), pages=OpenPages(board), **options).follow(frames)  # type: ignore[arg-type]
    return out.getvalue(), board.notes


def test_trouble_is_told_once_and_stands_on_the_helper_page_until_it_is_over() -> None:
    ears = TroubledEars((20, Fault.SILENT, Seat.B, False), (40, Fault.SILENT, Seat.B, True))
    told, notes = club(ears, list(silence(130)))
    assert notes == [("0:00", ""), ("0:20", MUTED), ("0:40", "")]
    assert told.count(MUTED) == told.count("B's microphone hears again.") == 1
    assert "the session is over: on time" in told


def test_how_much_sound_waits_is_shown_while_it_waits() -> None:
    waiting = [frame._replace(behind_samples=to_samples(7)) if 319 <= n < 480 else frame for n, frame in enumerate(silence(20))]
    ears = TroubledEars((9.6, Fault.BEHIND, None, False), (14.4, Fault.BEHIND, None, True))
    told, notes = club(ears, waiting)
    assert (notes[1][1], notes[-1][1]) == (f"{BEHIND} Over 5 s of sound wait.", "")
    assert told.count(BEHIND) == told.count("The computer has caught up.") == 1


def test_cues_that_cannot_be_heard_are_told_once_and_so_is_their_coming_back() -> None:
    trouble = "The loudspeaker 'Screen' cannot be used."
    asked = iter(["", *[trouble] * 100, *[f"{trouble} Again."] * 100])
    told, notes = club(ScriptedEars([]), list(silence(20)), trouble=lambda: next(asked, ""))
    assert told.count(trouble) == told.count("Cues can be heard again.") == 1
    assert [note for _, note in notes] == ["", trouble, ""]
