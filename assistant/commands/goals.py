"""``goals``: what a family works at over weeks, each goal counted by one tally of the helper page.

What lives here: how it is spelled, and how a goal is called. What must not: how it is counted
(:mod:`assistant.core.measures.progress`), or how it is kept.
"""

from __future__ import annotations

import argparse
import tomllib
from typing import TYPE_CHECKING, Any

from assistant.commands import kept_sessions
from assistant.commands.numbers import listed
from assistant.commands.spelling import add_actions
from assistant.errors import SettingsError
from assistant.terms import CHILDREN, Seat

if TYPE_CHECKING:
    from assistant.core.measures.progress import Goal

LANGUAGE = "en"
LONGEST_WORDS = 120  # characters: one line of a list


def add_parsers(commands: Any) -> None:
    """Add the command and its own commands to the door's list."""
    parser = commands.add_parser("goals", help="what you work at over weeks, counted by the helper page's tallies")
    parser.description = "A goal is counted by one tally of the helper page; tray-turns progress shows it, session by session."
    actions = add_actions(parser)
    listing = actions.add_parser("list", help="your goals, and the skills that the club trains")
    listing.set_defaults(run=_run_list)
    add = actions.add_parser("add", help="one more goal: a skill of the list, or your own words")
    add.add_argument("skill", nargs="?", default="", metavar="SKILL", help="as goals list shows them")
    add.add_argument("--own", default="", metavar="TEXT", help="your own words instead; they stay on this computer")
    add.add_argument("--tally", default="", metavar="TALLY", help="with --own: what counts it, as goals list shows them")
    add.add_argument("--seat", choices=[seat.value for seat in CHILDREN], help="a goal of this child (of all together)")
    days, usual = "after so many days it deletes itself (180)", kept_sessions.USUAL_DAYS
    add.add_argument("--keep-days", type=int, default=usual, metavar="DAYS", help=days)
    add.set_defaults(run=_run_add)
    drop = actions.add_parser("drop", help="delete a goal, really")
    number = listed("`tray-turns goals list` shows them")
    drop.add_argument("number", type=number, metavar="NUMBER", help="as goals list shows them")
    drop.set_defaults(run=_run_drop)


def goal_texts() -> dict[str, Any]:
    """``shared/goals``."""
    from assistant.devices.shelf import shared_text

    return tomllib.loads(shared_text(f"goals/{LANGUAGE}.toml"))


def title(number: int, goal: Goal, *, own_words: bool) -> str:
    """What a goal is called.

    Args:
        own_words: whether a family's own words may be shown: on the screen, not in a file.
    """
    from assistant.assembly import our_tallies

    texts, labels = goal_texts(), our_tallies()
    form = texts["say"]["own_title" if goal.words and not own_words else "title"]
    label = labels.get(goal.tally, goal.tally)
    return str(form.format(number=number, text=_text(goal, texts), who=_who(goal, texts), label=label))


def _text(goal: Goal, texts: dict[str, Any]) -> str:
    return goal.words or str(texts["skill"].get(goal.skill, {"text": goal.skill})["text"])


def _who(goal: Goal, texts: dict[str, Any]) -> str:
    say = texts["say"]
    return str(say["seat"].format(seat=goal.seat) if goal.seat else say["everybody"])


def _run_list(options: argparse.Namespace) -> int:
    from assistant.assembly import our_tallies

    texts, labels = goal_texts(), our_tallies()
    say = texts["say"]
    if kept_sessions.store_is_there():
        with kept_sessions.open_kept() as store:
            kept = store.goals()
    else:
        kept = []
    for one in kept:
        told = {"number": one.number, "text": _text(one.goal, texts), "who": _who(one.goal, texts), "until": one.until}
        print(say["goal"].format(label=labels.get(one.goal.tally, one.goal.tally), **told))
    if not kept:
        print(say["none"])
    print(say["skills"])
    for key, skill in texts["skill"].items():
        print(say["skill"].format(key=key, text=skill["text"], label=skill["tally"]))
    return 0


def _run_add(options: argparse.Namespace) -> int:
    texts, goal = goal_texts(), _goal(options)
    until = kept_sessions.until_when(options.keep_days)
    with kept_sessions.open_or_make() as store:
        number = store.keep_goal(goal, until)
    print(texts["say"]["kept"].format(number=number, until=until))
    if goal.words:
        print(texts["say"]["own"])
    return 0


def _goal(options: argparse.Namespace) -> Goal:
    from assistant.assembly import our_tallies
    from assistant.core.measures.progress import Goal

    skills, tallies, words = goal_texts()["skill"], our_tallies(), " ".join(options.own.split())
    seat = Seat(options.seat) if options.seat else None
    if bool(options.skill) == bool(words):
        raise SettingsError("Name a skill, or --own and your own words. See the skills: tray-turns goals list.")
    if options.skill:
        if options.skill not in skills:
            raise SettingsError(
                f"There is no skill {options.skill!r}: tray-turns goals list. Words of your own follow --own, with a --tally."
            )
        if options.tally:
            raise SettingsError(f"{options.skill} has its own tally. Leave --tally out, or name words of your own with --own.")
        return Goal(skills[options.skill]["tally"], seat, skill=options.skill)
    if options.tally not in tallies:
        raise SettingsError(f"--own needs --tally, one of: {', '.join(tallies)}.")
    if len(words) > LONGEST_WORDS:
        raise SettingsError(f"--own takes up to {LONGEST_WORDS} characters.")
    return Goal(options.tally, seat, words=words)


def _run_drop(options: argparse.Namespace) -> int:
    with kept_sessions.open_kept() as store:
        store.delete_goal(options.number)
    print(goal_texts()["say"]["dropped"])
    return 0
