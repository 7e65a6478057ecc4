"""What can be built: our plans and the family's own, each with its picture, for whoever chooses on a page.

What lives here: finding the family's own, and what is shown of each plan. What must not: the page, or what makes a plan right.
"""

from __future__ import annotations

import shlex
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from assistant.assembly import drawing_of, open_plan
from assistant.commands.paper import photo_of
from assistant.commands.plans import easier_first
from assistant.commands.reading import difficulties, grades
from assistant.core.plans.model import Plan
from assistant.core.plans.plan import read_plan
from assistant.devices.shelf import own_plan_files, plan_text
from assistant.errors import PlanError, SettingsError, SharedError, SourceError
from assistant.outputs.pictures.shapes import to_svg


@dataclass(frozen=True, slots=True)
class Model:
    """A plan as it is offered.

    Attributes:
        grade: how much it asks for, in one word of ``shared/grades``.
        picture: of the finished model, as SVG, or as JPEG where the family took a photo of it.
        file: where the family's own plan lies; None for ours.
        lacks: why its photo is not shown; empty where it is, or where there is none.
    """

    plan: Plan
    grade: str
    picture: bytes
    ending: str = "svg"
    file: Path | None = None
    lacks: str = ""


@dataclass(frozen=True, slots=True)
class Choice:
    """All of them by the name that a choice goes by, the family's own first; and what is wrong with those left out."""

    models: Mapping[str, Model]
    broken: tuple[str, ...] = ()


def to_choose_from(named: Sequence[Path]) -> Choice:
    """Our plans, the easier ones first, and before them the family's own: of the current folder and of those that it named.

    Raises:
        SettingsError: a folder that was named is none, or has no plan in it.
    """
    for folder in named:
        if not folder.is_dir():
            raise SettingsError(f"--plans {folder} is no folder. Name the one with your plans in it.")
        if not own_plan_files([folder]):
            raise SettingsError(f"There is no plan in {folder}. Make one: tray-turns plan new FOLDER --title TEXT.")
    own: dict[str, Plan] = {}
    files: dict[str, Path] = {}
    broken: list[str] = []
    for path in own_plan_files([Path(), *named]):
        name = f"own-{len(own) + 1}"
        try:
            own[name], files[name] = read_plan(plan_text(str(path))[0], str(path)), path
        except (PlanError, SharedError) as error:
            broken.append(_what_is_wrong(error, path))
    ours = {plan.name: open_plan(plan.name) for plan in easier_first(grades()["grade"])}
    return Choice(models_of(own | ours, files), tuple(broken))


def models_of(plans: Mapping[str, Plan], files: Mapping[str, Path] | None = None) -> dict[str, Model]:
    """These plans as they are offered; ``files``: where the family's own among them lie."""
    asked = difficulties(plans.values())
    return {
        name: _model(plan, difficulty.grade, (files or {}).get(name))
        for (name, plan), difficulty in zip(plans.items(), asked, strict=True)
    }


def _what_is_wrong(error: PlanError | SharedError, path: Path) -> str:
    """The first thing, and how to see the rest."""
    problems = error.problems if isinstance(error, PlanError) else (str(error),)
    more = f" There is more: tray-turns plan check {shlex.quote(str(path))}" if len(problems) > 1 else ""
    return problems[0] + more


def _model(plan: Plan, grade: str, file: Path | None) -> Model:
    """With the photo of its last step where there is one: that is the finished model."""
    last = plan.steps[-1]
    drawn = to_svg(drawing_of(plan).model()).encode()
    if not (file and last.photo):
        return Model(plan, grade, drawn, file=file)
    try:
        return Model(plan, grade, photo_of(last, file.parent), "jpg", file)
    except SourceError as error:
        return Model(plan, grade, drawn, file=file, lacks=str(error))
