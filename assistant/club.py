"""A session with people around it: the road, the terminal, the keys, and what is kept.

What lives here: following a road event by event, and the summary at its end. What must not: a rule of the club, or opening a
model.
"""

import json
import sys
from collections.abc import Callable, Iterable, Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Protocol

from rich.console import Console

from assistant.core.club.keys import HELP, PUT_AWAY, UNSHARE, Keys, Waiting, help_lines
from assistant.core.club.settings import check_names
from assistant.core.measures.definitions import Measures
from assistant.core.measures.hints import Hint, Hinter, HintTexts
from assistant.core.measures.sentences import in_short, in_words
from assistant.core.measures.summary import as_json, summarise
from assistant.devices.keyboard import Keyboard
from assistant.errors import KeepingError, SettingsError, TrayTurnsError
from assistant.events import Event, Marked, Tick
from assistant.listening.gauge import FRAMES_A_SECOND, Gauge
from assistant.outputs.keeping import Consent, EventFile, Keeper
from assistant.outputs.keeping.store import Keeping
from assistant.outputs.terminal import Terminal
from assistant.pages.board import Board, Named, Order, Pressed, PutAway, Snapshot
from assistant.run import Road
from assistant.samples import FRAME_SAMPLES, SAMPLE_RATE, Frame
from assistant.terms import Closing, Mark

GAUGED_EVERY = 11  # frames, three a second: how loud it is, is only for the eye, and the road's time is not to be spent on it


@contextmanager
def opening(console: Console) -> Iterator[Callable[[str], None]]:
    """Says what is being opened, while it takes its time."""
    with console.status("getting ready") as status:
        yield lambda what: status.update(f"getting {what} ready")


@dataclass(frozen=True, slots=True)
class Wishes:
    """What the family wants to see and to keep."""

    as_json: bool = False
    show_words: bool = True
    rttm: Path | None = None
    events: Path | None = None
    keep_words: bool = False

    @property
    def consent(self) -> Consent:
        """Naming a file is consent to the timeline; words are asked for apart."""
        if not (self.rttm or self.events):
            return Consent.NOTHING
        return Consent.WORDS if self.keep_words else Consent.TIMELINE

    def within(self, agreed: Consent) -> "Wishes":
        """No more of it than everybody agreed to when they were asked: their answer governs the named files too."""
        if agreed < Consent.TIMELINE:
            return replace(self, rttm=None, events=None, keep_words=False)
        return replace(self, keep_words=self.keep_words and agreed >= Consent.WORDS)


@dataclass(frozen=True, slots=True)
class Texts:
    """The words that a session is told with, beside its cues. ``ours``: free text that may be kept, because it is our own."""

    measures: Measures
    hints: HintTexts
    ours: frozenset[str] = frozenset()


class Sharing(Protocol):
    """The pages on the home network, which one key ends."""

    @property
    def is_on(self) -> bool:
        """Whether it has not been ended."""
        ...

    def stop(self) -> None:
        """End it; does not wait."""
        ...


@dataclass(frozen=True, slots=True)
class OpenPages:
    """Where the pages look, and leave what the adult wants; ``sharing`` is None while they are on this machine alone."""

    board: Board
    sharing: Sharing | None = None


class Club:
    """One road being followed.

    Args:
        road: where the events come from.
        wishes: what to show and to keep.
        console: where to show it.
        texts: the words of the summary and of the hints.
        length: samples until the sound ends, where that is known.
        keeping: takes every event into the store, where everybody agreed to that.
        trouble: why the last cue could not be said, as a sentence; empty where it could.
        pages: what is shown in the browser; None without pages.
    """

    def __init__(
        self,
        road: Road,
        wishes: Wishes,
        console: Console,
        texts: Texts,
        *,
        length: int | None = None,
        keeping: Keeping | None = None,
        trouble: Callable[[], str] = str,
        pages: OpenPages | None = None,
    ) -> None:
        self._pages = pages
        self._gauge = Gauge(FRAMES_A_SECOND // GAUGED_EVERY)
        self._road = road
        self._trouble = trouble
        self._trouble_told = ""
        self._texts = texts
        self._hinter = Hinter(texts.hints, road.session.settings.names)
        self._hint: Hint | None = None
        self._wishes = wishes
        self._terminal = Terminal(console, show_words=wishes.show_words, length=length)
        self._keys = Keys(road.session.settings.seats)
        self._keyboard = Keyboard()
        self._keeper = Keeper(wishes.consent, texts.ours)
        self._keeping = keeping
        self.sample = 0
        self._file: EventFile | None = None
        self._not_kept: list[KeepingError] = []
        self.events: list[Event] = []
        road.marks = self._marks
        if self._is_shared:
            self._terminal.sign = f"on the home network ({UNSHARE}: off)"

    def follow(self, frames: Iterable[Frame]) -> list[Event]:
        """Travel the road to its end, then say what it was like.

        Raises:
            TrayTurnsError: the sound broke off; what was heard until then has been said and kept first.
        """
        trouble: TrayTurnsError | None = None
        with ExitStack() as stack:
            if self._wishes.events:
                self._file = stack.enter_context(self._keeper.event_file(self._wishes.events))
            stack.enter_context(self._keyboard)
            stack.enter_context(self._terminal)
            try:
                self._travel(frames)
            except TrayTurnsError as error:
                trouble = error
        self._say_and_keep()
        if trouble:
            raise trouble
        return self.events

    def _travel(self, frames: Iterable[Frame]) -> None:
        why = Closing.STOPPED  # by Ctrl+C, or by whatever else strikes
        try:
            for event in self._road.travel(self._watched(frames)):
                self._take(event)
        except KeyboardInterrupt:
            pass
        except TrayTurnsError:
            why = Closing.SOUND_ENDED
            raise
        finally:
            left = self._road.session.close(self.sample, why)
            for event in left:
                self._keep(event)
            if self._keeping:
                self._keeping.finish()
            for event in left:
                self._show(event)

    def _watched(self, frames: Iterable[Frame]) -> Iterator[Frame]:
        for frame in frames:
            self.sample = frame.end_sample
            self._terminal.behind_samples = frame.behind_samples
            self._terminal.at(self.sample)
            self._consider(Tick(self.sample))
            self._tell_trouble()
            if self._pages and self.sample // FRAME_SAMPLES % GAUGED_EVERY == 0:
                self._gauge.hear(frame)
            if self.sample % SAMPLE_RATE < FRAME_SAMPLES:
                self._post()
            if self._keeping:
                self._keeping.hear(frame, shut=self._road.is_shut_at(frame.end_sample))
            yield frame

    def _tell_trouble(self) -> None:
        """Say it once when cues can no longer be heard, and once when they can."""
        trouble = self._trouble()
        if bool(trouble) is not bool(self._trouble_told):
            self._terminal.print(trouble or "Cues can be heard again.")
            self._trouble_told = trouble

    def _take(self, event: Event) -> None:
        self._keep(event)
        self._show(event)

    def _keep(self, event: Event) -> None:
        """Before it is shown: where nobody can be shown anything any more, it is kept all the same."""
        self.events.append(event)
        if isinstance(event, Marked) and event.mark is Mark.WITHDRAW:
            self._keeper.withdraw()
        if self._file:
            self._file.write(event)
        if self._keeping:
            self._keeping.write(event)

    def _show(self, event: Event) -> None:
        self._keys.see(event)
        self._terminal.show(event)
        self._consider(event)
        self._tell_not_kept()
        self._post()

    def _tell_not_kept(self) -> None:
        """Say it once when something can no longer be kept; the club goes on."""
        for one in (self._file, self._keeping):
            if one and one.trouble and one.trouble not in self._not_kept:
                self._not_kept.append(one.trouble)
                self._terminal.print(f"{one.trouble} What comes from here on is not kept. The club goes on.")

    def _consider(self, event: Event) -> None:
        for hint in self._hinter.receive(event):
            self._hint = hint
            self._terminal.show_hint(hint)

    def _marks(self) -> list[Marked]:
        wanted = [self._press(key) for key in self._keyboard.pressed()]
        if self._pages:
            wanted += [self._obey(order) for order in self._pages.board.orders()]
        return [mark for mark in wanted if mark]

    def _obey(self, order: Order) -> Marked | None:
        """What the adult wants from the helper page: a mark for the road, or something that is done at once."""
        mark = None
        match order:
            case Marked():
                mark = order
            case Pressed():
                mark = self._press(order.key)
            case PutAway():
                self._put_away()
            case Named():
                self._name(order)
        self._post()
        return mark

    def _name(self, named: Named) -> None:
        """Names live in memory, for the cues, the hints and the pages; where they will not do, that is said."""
        session = self._road.session
        try:
            check_names(named.names, session.settings.seats)
        except SettingsError as error:
            self._terminal.note = str(error)
            return
        self._terminal.note = ""
        session.settings = replace(session.settings, names=named.names)
        self._hinter.names = named.names

    def _post(self) -> None:
        if self._pages:
            note = self._terminal.note or self._terminal.trouble or self._trouble_told
            names, shared = self._hinter.names, self._is_shared
            loudness = self._gauge.loudness
            self._pages.board.post(Snapshot(self.sample, self._terminal.view, names, note, self._hint, shared, loudness))

    @property
    def _is_shared(self) -> bool:
        return bool(self._pages and self._pages.sharing and self._pages.sharing.is_on)

    def _press(self, key: str) -> Marked | None:
        if key == HELP:
            self._terminal.print("\n".join(help_lines()))
            return None
        if key == UNSHARE:
            self._end_sharing()
            return None
        if key == PUT_AWAY:
            self._put_away()
            return None
        meant = self._keys.press(key)
        self._terminal.note = meant.text if isinstance(meant, Waiting) else ""
        return meant if isinstance(meant, Marked) else None

    def _end_sharing(self) -> None:
        if self._pages and self._pages.sharing and self._pages.sharing.is_on:
            self._pages.sharing.stop()
            self._terminal.sign = ""
            self._terminal.print("The pages are no longer on the home network.")

    def _put_away(self) -> None:
        if self._hint:
            self._hinter.dismiss(self._hint, self.sample)
            self._hint = None

    def _say_and_keep(self) -> None:
        session, measures = self._road.session, self._texts.measures
        summary = summarise(self.events, measures, session.plan, session.lexicon)
        self._terminal.print_summary((*in_words(summary, measures), *in_short(summary, measures)))  # what stays in sight
        if self._wishes.as_json:
            json.dump(as_json(summary), sys.stdout, indent=1, ensure_ascii=False)
            sys.stdout.write("\n")
        if self._wishes.rttm and self._keeper.consent:
            self._keeper.rttm(self._wishes.rttm, self.events)
        if self._not_kept:
            raise KeepingError("\n".join(map(str, self._not_kept)))
