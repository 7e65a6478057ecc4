"""``review`` and ``progress``: a session afterwards, and sessions over weeks.

What lives here: how they are spelled, and what they open. What must not: a number, or how a page looks.
"""

from __future__ import annotations

import argparse
import tomllib
from collections import Counter
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from assistant.commands import kept_sessions
from assistant.errors import KeepingError, SettingsError

if TYPE_CHECKING:
    from assistant.core.measures.definitions import Measures
    from assistant.core.measures.progress import Figures, Goal
    from assistant.core.measures.summary import Summary
    from assistant.events import Event
    from assistant.outputs.keeping.store import Store
    from assistant.outputs.review.drawing import Colours
    from assistant.outputs.review.page import Review
    from assistant.outputs.review.weeks import Weeks
    from assistant.terms import Role, Seat

LANGUAGE = "en"


def add_parsers(commands: Any) -> None:
    """Add the two commands to the door's list."""
    review = commands.add_parser("review", help="a page about one session: the timeline, the numbers, what to try")
    kept_sessions.add_choice(review)
    to = "where it goes: a page for any browser, or with .pdf at its end two sheets to print"
    review.add_argument("--to", type=Path, metavar="F.html|F.pdf", help=to)
    whole = "on paper too: each turn, every number, the table; about half a sheet a minute"
    review.add_argument("--whole", action="store_true", help=whole)
    review.add_argument("--names", action="store_true", help="with the names of data names; then it is for the family alone")
    review.add_argument("--open", action="store_true", help="open it in the browser, too")
    review.set_defaults(run=_run_review)
    progress = commands.add_parser("progress", help="how the kept sessions went, one after the other")
    progress.add_argument("--events", type=Path, nargs="+", default=[], metavar="F.jsonl", help="files, the oldest first")
    progress.add_argument("--to", type=Path, metavar="F.html", help="as a page; a goal in your own words is not in it")
    progress.set_defaults(run=_run_progress)


def _run_review(options: argparse.Namespace) -> int:
    from assistant.core.club.consent import Consent
    from assistant.outputs.keeping import Keeper
    from assistant.outputs.places import must_end

    if options.to is None:
        raise SettingsError(
            "Where does the review go? Name a file: tray-turns review --to review.html, or review.pdf to print."
        )
    must_end(options.to, ".html", ".pdf")
    session = kept_sessions.chosen(options)
    if options.names and not session.names:
        raise KeepingError("There are no names to show. Keep them first, in a locked store: tray-turns data names A=..,B=..")
    names = f"{kept_sessions.in_a_row(session.names)}." if options.names else ""
    if options.to.suffix.lower() == ".pdf":
        made = review_pdf(session.events, names, whole=options.whole)
    else:
        made = review_page(session.events, names).encode()
    Keeper(session.level).document(options.to, made, min(session.level, Consent.WORDS))
    print(f"The review is in {options.to}.")
    if options.open:
        import webbrowser

        webbrowser.open(options.to.resolve().as_uri())
    return 0


def review_page(events: Sequence[Event], names: str = "") -> str:
    """The review of a session as HTML.

    Args:
        names: who the seats are, where the family asks for that.
    """
    from assistant.devices.shelf import shared_text
    from assistant.outputs.review.page import Dress, page

    dress = Dress(_colours(), shared_text("review/page.css"), shared_text("review/page.js"))
    return page(_review(events, names), _texts(), dress)


def review_pdf(events: Sequence[Event], names: str = "", *, whole: bool = False) -> bytes:
    """The review of a session as a PDF: two sheets, or the whole of it."""
    from assistant.commands.reading import look
    from assistant.outputs.review.onpaper import on_paper

    return on_paper(_review(events, names), _texts(), look(), LANGUAGE, whole=whole)


def _review(events: Sequence[Event], names: str) -> Review:
    from assistant.core.measures.definitions import read_measures
    from assistant.core.measures.sentences import in_short, in_words
    from assistant.core.measures.summary import summarise
    from assistant.devices.shelf import shared_text
    from assistant.outputs.review.page import Review

    measures, texts = read_measures(shared_text("measures.toml")), _texts()
    has_words = any(getattr(event, "words", ()) for event in events)
    summary = _summary(events, measures) if has_words else summarise(events)
    return Review(
        events=events,
        summary=summary,
        short=in_short(summary, measures),
        lines=in_words(summary, measures),
        meanings={key: measure.parent for key, measure in measures.by_key.items()},
        main=frozenset(measures.short["numbers"]),
        plan=_plan_to_try(events, texts),
        holds=_holds(has_words),
        names=names,
    )


def _summary(events: Sequence[Event], measures: Measures) -> Summary:
    """The numbers of a session whose words were kept: with its plan, where that is ours, the same as on the evening itself."""
    from assistant.assembly import open_lexicon, our_plan
    from assistant.core.measures.record import read_record
    from assistant.core.measures.summary import summarise

    record = read_record(events)
    plan = our_plan(record.plan, record.steps_in_plan)
    return summarise(events, measures, plan, open_lexicon(plan) if plan else None)


def _holds(has_words: bool) -> str:
    from assistant.devices.shelf import shared_text

    texts = tomllib.loads(shared_text(f"consent/{LANGUAGE}.toml"))["bundle"]
    return str(texts["words_holds" if has_words else "timeline_holds"])


def _plan_to_try(events: Sequence[Event], texts: dict[str, Any]) -> str:
    from assistant.commands.plans import library, what_showed
    from assistant.core.measures.record import read_record
    from assistant.core.plans.following import Move, next_plans
    from assistant.events import Heard

    shown = what_showed(event for event in events if not isinstance(event, Heard))  # most of it, and nothing hangs on it
    children = len(read_record(events).children)
    if not shown.plan or children not in (2, 3):
        return ""
    move, suggestions = next_plans(library(), children, [shown])
    if move is Move.AGAIN:
        return str(texts["plan"]["again"].format(plan=shown.plan))
    return str(texts["plan"]["next"].format(plan=suggestions[0].plan.title)) if suggestions else ""


def _run_progress(options: argparse.Namespace) -> int:
    from assistant.core.measures.progress import figures_of
    from assistant.outputs.places import must_end

    if options.to:
        must_end(options.to, ".html")
    own_words = options.to is None
    if options.events:
        weeks = _weeks([figures_of(kept_sessions.read_events(path)) for path in options.events])
    else:
        with kept_sessions.open_kept() as store:
            weeks = weeks_of(store, own_words=own_words)
    if own_words:
        print("\n".join(progress_lines(weeks)))
    else:
        _write_progress(options.to, weeks)
    return 0


def _write_progress(path: Path, weeks: Weeks) -> None:
    from assistant.core.club.consent import Consent
    from assistant.outputs.keeping import Keeper

    Keeper(Consent.TIMELINE).text(path, progress_page(weeks), Consent.TIMELINE)
    print(f"The progress is in {path}.")


def progress_lines(weeks: Weeks) -> list[str]:
    """Progress as text."""
    from assistant.outputs.review.weeks import lines

    return list(lines(weeks, _texts()))


def progress_page(weeks: Weeks) -> str:
    """Progress as HTML."""
    from assistant.devices.shelf import shared_text
    from assistant.outputs.review.weeks import page

    return page(weeks, _texts(), _colours().variables() + shared_text("review/page.css"))


def weeks_of(store: Store, *, own_words: bool) -> Weeks:
    """What all kept sessions show; what was worked out of one before is not worked out again.

    Args:
        own_words: whether a goal in the family's own words is called by them.
    """
    from assistant.commands.goals import title

    goals = [(title(one.number, one.goal, own_words=own_words), one.goal) for one in store.goals()]
    return _weeks([_figures(store, kept.number) for kept in store.sessions() if kept.events], goals)


def _figures(store: Store, number: int) -> Figures:
    from assistant.core.measures.progress import Figures, figures_of

    known = Figures.from_text(store.figures(number) or "")
    if known:
        return known
    figures = figures_of(store.events(number))
    store.keep_figures(number, figures.to_text())
    return figures


def _weeks(sessions: Sequence[Figures], goals: Sequence[tuple[str, Goal]] = ()) -> Weeks:
    from assistant.core.measures.progress import series_of, series_of_goal
    from assistant.outputs.review.weeks import Weeks

    roles = sum((Counter(dict(one.rounds)) for one in sessions), Counter[tuple["Seat", "Role"]]())
    return Weeks(series_of(sessions), roles, [(called, series_of_goal(goal, sessions)) for called, goal in goals])


def _texts() -> dict[str, Any]:
    from assistant.devices.shelf import shared_text

    return tomllib.loads(shared_text(f"review/{LANGUAGE}.toml"))


def _colours() -> Colours:
    from assistant.commands.reading import look
    from assistant.outputs.review.drawing import Colours

    inks = look()
    return Colours(dict(inks.roles), inks.dark, inks.line, inks.shade)
