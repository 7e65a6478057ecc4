"""``print``, ``calendar`` and ``rota``: paper and dates for the evening before.

What lives here: how they are spelled, and which pieces they open. What must not: what stands on a sheet. What a command needs
is imported when it runs, so that ``--help`` answers at once.
"""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING, Any

from assistant.commands.numbers import in_range
from assistant.commands.spelling import add_lengths, settings_of
from assistant.core.club.settings import LONGEST_MIN, Settings, SwapRule, check_names, names_from
from assistant.errors import SettingsError, SourceError
from assistant.terms import Seat

if TYPE_CHECKING:
    from assistant.core.plans.model import Plan, Step
    from assistant.outputs.paper.printing import Sheet

LARGEST_PHOTO = 50_000_000  # bytes
MOST_ROUNDS = 24
OLDEST_YEARS = 120


def add_parsers(commands: Any) -> None:
    """Add the three commands to the door's list."""
    _print(commands.add_parser("print", help="cards, rules, tray, steps, lists, timetable and rota as one PDF"))
    _calendar(commands.add_parser("calendar", help="the club as dates for your calendar"))
    _rota(commands.add_parser("rota", help="who has which role in each round"))


# --- how they are spelled -------------------------------------------------------------------------------------------------


def _print(parser: argparse.ArgumentParser) -> None:
    parser.description = "One PDF with everything that lies on the table, or with the sheets you name."
    parser.add_argument("plan", metavar="PLAN", help="a plan of ours (little-boat) or the path of your own .toml file")
    parser.add_argument("--to", type=Path, required=True, metavar="FILE.pdf", help="the file to write")
    parser.add_argument(
        "--sheets", default="", metavar="A,B", help="timetable, roles, rules, rota, tray, steps, words, lists (all)"
    )
    parser.add_argument("--paper", default="a4", choices=("a4", "letter"), help="the paper in your printer (a4)")
    parser.add_argument("--rule", action="append", default=[], metavar="TEXT", help="a rule of your own; may be given again")
    parser.add_argument("--younger", action="store_true", help="fewer and shorter rules, for younger children")
    youngest = "age of the youngest person in the room; without it the small-parts caution is printed"
    parser.add_argument("--youngest", type=in_range(0, OLDEST_YEARS), default=0.0, metavar="YEARS", help=youngest)
    add_lengths(parser)
    _add_rota(parser)
    parser.set_defaults(run=_run_print, swap=str(SwapRule().every))


def _calendar(parser: argparse.ArgumentParser) -> None:
    parser.description = "An .ics file for your calendar: same day, same time, same place, six weeks or more."
    parser.add_argument("--first", required=True, metavar="YYYY-MM-DD", help="the first day")
    parser.add_argument("--at", required=True, metavar="HH:MM", help="when it begins")
    parser.add_argument("--on", default="", metavar="MO,TH", help="one or two days of the week (that of the first day)")
    parser.add_argument("--weeks", type=int, default=6, metavar="N", help="how many weeks (6)")
    parser.add_argument("--length", type=int, default=45, metavar="MIN", help="minutes, set-up and clear-away inside (45)")
    parser.add_argument("--place", default="", metavar="TEXT", help="where")
    parser.add_argument("--zone", default="", metavar="ZONE", help="a time zone, Europe/London (the wall clock at home)")
    parser.add_argument("--remind", type=int, default=15, metavar="MIN", help="minutes before, to set up (15)")
    parser.add_argument("--to", type=Path, required=True, metavar="FILE.ics", help="the file to write")
    parser.set_defaults(run=_run_calendar)


def _rota(parser: argparse.ArgumentParser) -> None:
    parser.description = "Equal turns in each role, and who follows whom balanced where the rounds are enough."
    _add_rota(parser)
    parser.set_defaults(run=_run_rota)


def _add_rota(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--children", type=int, default=3, choices=(2, 3), help="two or three (3)")
    parser.add_argument("--names", default="", metavar="A=..,B=..", help="names instead of letters; they go into nothing else")
    parser.add_argument("--rounds", type=int, default=6, metavar="N", help="rounds of the rota (6)")
    parser.add_argument(
        "--passed", default="", metavar="2:B", help="who passed in which round; the rounds after it pay it back"
    )


# --- what they open -------------------------------------------------------------------------------------------------------


def _run_print(options: argparse.Namespace) -> int:
    from assistant.assembly import open_plan
    from assistant.commands.reading import LANGUAGE, look, texts
    from assistant.outputs.paper.page import Format
    from assistant.outputs.paper.printing import printed
    from assistant.outputs.paper.sheets import Order
    from assistant.outputs.places import must_end
    from assistant.outputs.sheetfiles import write_sheet

    must_end(options.to, ".pdf")
    plan = open_plan(options.plan)
    settings = settings_of(options)
    settings.check(plan)
    order = Order(
        plan,
        settings,
        own_rules=tuple(options.rule),
        younger=options.younger,
        youngest_years=options.youngest,
        rounds=_rounds(options),
        passes=_passes(options.passed, settings, options.rounds),
        photos=_photos(plan, Path(options.plan).parent),
    )
    pdf = printed(_sheets(options.sheets), order, texts(), look(), Format(options.paper), LANGUAGE)
    write_sheet(options.to, pdf)
    print(f"{plan.title} is in {options.to}, to be printed on {options.paper.upper()} without scaling.")
    return 0


def _run_calendar(options: argparse.Namespace) -> int:
    from datetime import UTC, date, datetime, time
    from uuid import uuid4

    from assistant.commands.reading import texts
    from assistant.outputs.calendar import WEEKDAYS, Dates, calendar
    from assistant.outputs.places import must_end
    from assistant.outputs.sheetfiles import write_sheet

    must_end(options.to, ".ics")
    try:
        first, at = date.fromisoformat(options.first), time.fromisoformat(options.at)
    except ValueError as error:
        raise SettingsError(f"That is no day or time ({error}). Write --first 2027-03-01 --at 16:30.") from error
    if at.tzinfo:
        raise SettingsError(f"--at {options.at} has an offset. Write the time alone, 16:30, and a --zone, Europe/London.")
    if options.length > LONGEST_MIN:
        raise SettingsError(
            f"A club lasts up to {LONGEST_MIN} minutes, not {options.length}. Choose --length, usually 30 to 60."
        )
    named = dict.fromkeys(day.strip().upper() for day in options.on.split(",") if day.strip())
    days = tuple(named) or (WEEKDAYS[first.weekday()],)
    dates = Dates(first, at, options.length, days, options.weeks, options.place, options.zone, options.remind)
    write_sheet(options.to, calendar(dates, texts().words["calendar"], f"{uuid4()}@tray-turns", datetime.now(UTC)))
    print(f"{dates.weeks * len(days)} dates from {first} are in {options.to}. Open it with your calendar.")
    return 0


def _run_rota(options: argparse.Namespace) -> int:
    from assistant.commands.reading import texts
    from assistant.core.club.rounds import rounds_of
    from assistant.outputs.paper.sheets import rota_sentences

    settings = Settings(children=options.children, names=names_from(options.names))
    check_names(settings.names, settings.seats)
    passes = _passes(options.passed, settings, options.rounds)
    words = texts()
    rounds = rounds_of(settings.seats, _rounds(options), passes)
    print("      " + "".join(f"{words.cards[role.value].title:12}" for _, role in rounds[0]))
    for number, round_ in enumerate(rounds, start=1):
        passed = f"  ({words.say('rota', 'passed', seat=settings.name(passes[number]))})" if number in passes else ""
        print(f"{number:4}  " + "".join(f"{settings.name(seat):12}" for seat, _ in round_) + passed)
    print("\n".join(rota_sentences(settings, rounds, words)))
    return 0


def _rounds(options: argparse.Namespace) -> int:
    if not 1 <= options.rounds <= MOST_ROUNDS:
        raise SettingsError(f"--rounds {options.rounds} does not fit a sheet. Choose 1 to {MOST_ROUNDS}.")
    return int(options.rounds)


def _passes(text: str, settings: Settings, rounds: int) -> dict[int, Seat]:
    """Who passed in which round, from ``"2:B,4:C"``."""
    passes: dict[int, Seat] = {}
    for part in filter(None, (part.strip() for part in text.split(","))):
        round_, _, letter = part.partition(":")
        if not round_.isdecimal() or not 1 <= int(round_) <= rounds or letter.strip().upper() not in settings.seats:
            raise SettingsError(f"--passed {part!r} cannot be read. Write a round up to {rounds} and a seat, such as 2:B.")
        if int(round_) in passes:
            raise SettingsError(f"--passed names round {int(round_)} twice. One child passes in a round.")
        passes[int(round_)] = Seat(letter.strip().upper())
    return passes


def _sheets(text: str) -> tuple[Sheet, ...]:
    from assistant.outputs.paper.printing import Sheet

    names = [name.strip().lower() for name in text.split(",") if name.strip()]
    unknown = [name for name in names if name not in set(Sheet)]
    if unknown:
        raise SettingsError(f"There is no sheet {unknown[0]!r}. There are {', '.join(Sheet)}.")
    return tuple(map(Sheet, names)) or tuple(Sheet)


def _photos(plan: Plan, folder: Path) -> dict[int, bytes]:
    return {step.number: photo_of(step, folder) for step in plan.steps if step.photo}


def photo_of(step: Step, folder: Path) -> bytes:
    """The photo of a step, fit for a sheet.

    Args:
        folder: where the plan lies.

    Raises:
        SourceError: it is not there, or no picture.
    """
    from assistant.outputs.paper.photos import clean_photo

    return clean_photo(_bytes_of(folder / step.photo, f"{step.photo!r} of step {step.number}"), step.photo)


def _bytes_of(path: Path, called: str) -> bytes:
    try:
        if not path.is_file():
            raise SourceError(f"The photo {called} is not there. Put it beside the plan, or take its line out.")
        if path.stat().st_size > LARGEST_PHOTO:
            raise SourceError(f"The photo {called} is larger than {LARGEST_PHOTO // 1_000_000} MB. Save it smaller.")
        return path.read_bytes()
    except OSError as error:
        raise SourceError(
            f"The photo {called} cannot be read ({error.strerror}). Put it beside the plan, or take its line out."
        ) from error
