"""``plan``: the models, ours and the family's own.

What lives here: how it is spelled, and which pieces it opens. What must not: a check, a drawing, a measure. What a command
needs is imported when it runs, so that ``--help`` answers at once.
"""

from __future__ import annotations

import argparse
import re
import shlex
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from assistant.commands.spelling import add_actions
from assistant.core.wording import Count
from assistant.errors import PlanError, SettingsError, SourceError

if TYPE_CHECKING:
    from assistant.core.plans.drafting import Draft
    from assistant.core.plans.following import Candidate, Shown
    from assistant.core.plans.model import Plan
    from assistant.core.words.lexicon import Lexicon
    from assistant.events import Event

PHOTO_ENDINGS = (".jpg", ".jpeg", ".png", ".webp")


def add_parsers(commands: Any) -> None:
    """Add the command and its own commands to the door's list."""
    parser = commands.add_parser("plan", help="the models: ours, your own, what they ask for, which one next")
    parser.description = (
        "A plan is a model to build: its pieces, its steps, its places. docs/plans.md tells how one is written."
    )
    actions = add_actions(parser)
    listing = actions.add_parser("list", help="our plans, the easier ones first")
    _add_children(listing)
    listing.set_defaults(run=_run_list)
    show = actions.add_parser("show", help="a plan in words: what it asks for, its tray, its steps")
    _add_plan(show)
    show.set_defaults(run=_run_show)
    check = actions.add_parser("check", help="say everything that is wrong with a plan")
    check.add_argument("plans", nargs="+", metavar="PLAN", help="a plan of ours, or the path of your own .toml file")
    check.set_defaults(run=_run_check)
    draw = actions.add_parser("draw", help="draw every step, the tray and the finished model, as SVG")
    _add_plan(draw)
    draw.add_argument("--to", type=Path, required=True, metavar="FOLDER", help="where the pictures go")
    draw.set_defaults(run=_run_draw)
    new = actions.add_parser("new", help="a plan of your own model, from a folder with a photo of each step")
    new.add_argument("folder", type=Path, metavar="FOLDER", help="photos, one a step, in the order of their names")
    new.add_argument("--title", required=True, metavar="TEXT", help="what the model is called")
    new.add_argument("--activity", default="blocks", metavar="TEXT", help="blocks, beads, cooking, or your own word (blocks)")
    new.set_defaults(run=_run_new)
    following = actions.add_parser("next", help="which plan could come next, and why")
    following.add_argument(
        "--sessions", type=Path, nargs="+", metavar="F.jsonl", help="files of --events, the last one last (what is kept)"
    )
    _add_children(following)
    following.set_defaults(run=_run_next)


def _add_plan(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("plan", metavar="PLAN", help="a plan of ours (little-boat) or the path of your own .toml file")


def _add_children(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--children", type=int, default=3, choices=(2, 3), help="two or three (3)")


# --- what it opens --------------------------------------------------------------------------------------------------------


def _run_list(options: argparse.Namespace) -> int:
    from assistant.commands.reading import grades
    from assistant.devices.shelf import own_plan_files

    words = grades()
    for plan in easier_first(words["grade"]):
        if options.children not in plan.children:
            continue
        grade = words["grade"][plan.difficulty.grade]
        steps = Count(plan.difficulty.steps)
        print(f"{plan.name:20} {plan.title:20} {plan.activity:18} {steps:2} {steps:step|steps}, {grade}")
    if own := own_plan_files([Path()]):
        print(f"Your own here: {', '.join(map(str, own))}")
    print("What one asks for, its tray and its steps: tray-turns plan show NAME")
    return 0


def _run_show(options: argparse.Namespace) -> int:
    from assistant.commands.reading import difficulties, grades

    plan, words = _open(options.plan), grades()
    [asked] = difficulties([plan])
    children = " or ".join(map(str, plan.children))
    print(f"{plan.title} ({plan.activity}, for {children} children): {words['grade'][asked.grade]}.")
    print(plan.about)
    print("\n".join(f"  {reason}" for reason in asked.reasons(words["reason"])))
    print("\nOn the tray:")
    print("\n".join(f"  {line}" for line in _tray_lines(plan)))
    for component in plan.components:
        print(f"\n{component}:")
        for step in plan.steps:
            if step.component == component:
                said = _step_line(plan, step.number)
                print(f"  {step.number}. {said}")
    return 0


def _run_check(options: argparse.Namespace) -> int:
    problems: list[str] = []
    for name in options.plans:
        try:
            plan = _open(name)
            problems += _photo_problems(plan, Path(name).parent)
        except PlanError as error:
            problems += error.problems
        else:
            print(f"{plan.title}: {_size(plan)}.")
    if problems:
        raise PlanError(tuple(problems))
    print("Nothing is wrong with it." if len(options.plans) == 1 else "Nothing is wrong with them.")
    return 0


def _run_draw(options: argparse.Namespace) -> int:
    from assistant.commands.reading import look, texts
    from assistant.outputs.pictures.drawing import Drawing
    from assistant.outputs.pictures.shapes import to_svg
    from assistant.outputs.sheetfiles import write_sheets

    plan = _open(options.plan)
    drawing = Drawing(plan, look(), texts().words["care"])
    pictures = {"model": drawing.model(), "tray": drawing.tray()}
    pictures |= {f"step-{step.number:02d}": drawing.step(step.number) for step in plan.steps}
    write_sheets({options.to / f"{name}.svg": to_svg(picture) for name, picture in pictures.items()})
    print(f"{len(pictures)} pictures of {plan.title} are in {options.to}.")
    return 0


def _run_new(options: argparse.Namespace) -> int:
    from assistant.commands.reading import lexicon
    from assistant.core.plans.drafting import plan_text
    from assistant.core.plans.plan import LONGEST_TITLE, read_plan
    from assistant.devices.shelf import OWN_PLAN
    from assistant.outputs.places import must_be_new
    from assistant.outputs.sheetfiles import write_sheet

    if len(options.title) > LONGEST_TITLE:
        raise SettingsError(f"--title has {len(options.title)} letters. There is place for {LONGEST_TITLE}. Make it shorter.")
    photos = _photos_in(options.folder)
    path = options.folder / OWN_PLAN
    must_be_new(path)  # said before anybody answers questions
    count = Count(len(photos))
    print(f"{count} {count:photo|photos}. For each: which pieces are new in it? Such as: long red block, 2 small blue squares.")
    print("Steps can belong to a part of the model, such as wheels or roof. A slip can be put right afterwards.")
    drafts = _asked(photos, lexicon())
    text = plan_text(options.title, options.activity, (2, 3), drafts)
    plan = read_plan(text, str(path))
    write_sheet(path, text)
    print(f"{path} is written: {_size(plan)}.")
    print(f"See it:   tray-turns plan show {shlex.quote(str(path))}")
    print(f"Build it: {_set_up_line(path)}")
    print("A slip? Put it right in that file with a text editor; tray-turns plan check says whether all is well.")
    return 0


def _size(plan: Plan) -> str:
    steps, pieces = Count(len(plan.steps)), Count(sum(plan.tray().values()))
    return f"{steps} {steps:step|steps}, {pieces} {pieces:piece|pieces}"


def _set_up_line(path: Path) -> str:
    """The command whose page offers this plan."""
    from assistant.devices.shelf import own_plan_files

    is_found = path.resolve() in map(Path.resolve, own_plan_files([Path()]))
    return "tray-turns session --pages" + ("" if is_found else f" --plans {shlex.quote(str(path.parent))}")


def _run_next(options: argparse.Namespace) -> int:
    from assistant.commands.reading import grades
    from assistant.core.plans.following import next_plans

    words = grades()
    sessions = [what_showed(events) for events in _sessions(options.sessions)]
    move, suggestions = next_plans(library(), options.children, sessions)
    print(words["next"][move])
    for suggestion in suggestions:
        plan = suggestion.plan
        print(f"\n{plan.name}: {plan.title}, {words['grade'][plan.difficulty.grade]}.")
        reasons = suggestion.reasons(words) or plan.difficulty.reasons(words["reason"])
        print("\n".join(f"  {reason}" for reason in reasons))
    if not suggestions:
        print("Nothing in our library fits that. Take one that you liked again, or make your own: tray-turns plan new.")
    return 0


def _asked(photos: Sequence[Path], lexicon: Lexicon) -> list[Draft]:
    """What the family says about each photo; a photo in which nothing is new becomes no step."""
    from assistant.core.plans.drafting import NAMELESS, Draft, pieces_in

    drafts: list[Draft] = []
    component = "model"
    for number, photo in enumerate(photos, start=1):
        said = _ask(f"{number} of {len(photos)}, {photo.name}: new pieces (Enter for none)")
        pieces = pieces_in(said, lexicon)
        if not pieces:
            continue
        print("  " + ", ".join(f"{count} × {' '.join(words.values())}" for words, count in pieces))
        if names := sorted({words[NAMELESS] for words, _ in pieces if NAMELESS in words}):
            print(f"  A name of your own: {', '.join(names)}.")
        where = _ask("  where do they go? (may stay empty)")
        component = _ask(f"  which part of the model? (Enter for {component})") or component
        drafts.append(Draft(photo.name, pieces, where, component))
    if not drafts:
        raise SettingsError(
            "No piece was named, so there is no plan. Start again, and name the new pieces of at least one photo."
        )
    return drafts


def _ask(question: str) -> str:
    try:
        return input(f"{question}: ").strip()
    except EOFError as error:
        raise SettingsError("The answers ended before the photos did. Nothing was written; start again.") from error


def _photos_in(folder: Path) -> list[Path]:
    """The photos of a folder in the order of their names, 2 before 10."""
    if not folder.is_dir():
        raise SourceError(f"{folder} is no folder. Put the photos of your model into one, and name it.")
    photos = [path for path in folder.iterdir() if path.suffix.lower() in PHOTO_ENDINGS]
    if not photos:
        endings = ", ".join(PHOTO_ENDINGS)
        raise SourceError(f"There is no photo in the folder {str(folder)!r}. Put one for each step there, as {endings}.")
    return sorted(
        photos, key=lambda path: [int(part) if part.isdecimal() else part for part in re.split(r"(\d+)", path.name.lower())]
    )


def _photo_problems(plan: Plan, folder: Path) -> Iterator[str]:
    from assistant.commands.paper import photo_of

    for step in plan.steps:
        try:
            if step.photo:
                photo_of(step, folder)
        except SourceError as error:
            yield f"{plan.title}, step {step.number}: {error}"


def _sessions(paths: Sequence[Path] | None) -> Iterator[Sequence[Event]]:
    """The events of these files, or of every kept session that was not taken back; the last one last."""
    from assistant.commands import kept_sessions

    if paths:
        yield from map(kept_sessions.read_events, paths)
    elif kept_sessions.store_is_there():
        with kept_sessions.open_kept() as store:
            yield from (store.events(kept.number) for kept in store.sessions() if kept.events)


def what_showed(events: Iterable[Event]) -> Shown:
    """What a session showed, as far as the next plan follows from it."""
    from assistant.core.club.consent import Consent
    from assistant.core.plans.following import shown_in
    from assistant.outputs.exports.records import as_record

    return shown_in(as_record(event, Consent.WORDS) for event in events)


def _tray_lines(plan: Plan) -> Iterable[str]:
    amounts = plan.amounts()
    for key, count in plan.tray().items():
        piece = plan.pieces[key]
        yield piece.measured(amounts[key]) if key in amounts else f"{count} × {piece.name}"


def _step_line(plan: Plan, number: int) -> str:
    step = plan.steps[number - 1]
    put = [f"{count} × {name}" if count > 1 else name for name, count in Counter(step.measured).items()]
    care = f"An adult does this: {step.care}." if step.care else ""
    return " ".join(part for part in ("; ".join(filter(None, (", ".join(put), step.where))) + ".", care) if part)


def _open(name: str) -> Plan:
    from assistant.assembly import open_plan

    return open_plan(name)


def library() -> list[Candidate]:
    """Our plans, each with what it asks for."""
    from assistant.commands.reading import difficulties
    from assistant.core.plans.following import Candidate
    from assistant.devices.shelf import plan_names

    plans = {name: _open(name) for name in plan_names()}
    asked = zip(plans.items(), difficulties(plans.values()), strict=True)
    return [Candidate(name, plan.title, plan.activity, plan.children, difficulty) for (name, plan), difficulty in asked]


def easier_first(grades: Iterable[str]) -> list[Candidate]:
    """Our plans, the easier ones first; ``grades`` are in their order."""
    order = list(grades)
    return sorted(library(), key=lambda plan: (order.index(plan.difficulty.grade), plan.difficulty.steps))
