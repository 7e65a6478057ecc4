"""``models``: which speech models are on this machine, and fetching one.

What lives here: options, and what is printed. What must not: looking for a model or fetching it; that is in
:mod:`assistant.engines` and :mod:`assistant.devices.fetch`.
"""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING, Any

from assistant.commands.spelling import add_actions

if TYPE_CHECKING:
    from assistant.engines import Finding


def add_parsers(commands: Any) -> None:
    """Add the command to the door's list."""
    models = commands.add_parser("models", help="the speech models on this machine")
    actions = add_actions(models)
    actions.add_parser("list", help="where models lie, which are there, and which can be fetched").set_defaults(run=_run_list)
    fetch = actions.add_parser("fetch", help="fetch a Vosk model: the small English one, or another by name and digest")
    fetch.add_argument("name", nargs="?", metavar="NAME", help="another model's name, vosk-model-small-de-0.15")
    fetch.add_argument("--sha256", default="", metavar="DIGEST", help="with NAME: the SHA-256 digest that you trust")
    fetch.set_defaults(run=_run_fetch)
    check = actions.add_parser("check", help="open every model, and say how that went")
    check.set_defaults(run=_run_check)


def _run_list(options: argparse.Namespace) -> int:
    from assistant.devices.fetch import SMALL_ENGLISH, by_hand
    from assistant.devices.models import models_folder, vosk_models

    folder = models_folder()
    there = vosk_models(folder)
    print(f"Models lie in {folder}: {', '.join(path.name for path in there) or 'none yet'}.")
    print(f"{SMALL_ENGLISH.name}: {SMALL_ENGLISH.about}. Fetch it: tray-turns models fetch")
    print(by_hand(SMALL_ENGLISH, folder))
    return 0


def _run_fetch(options: argparse.Namespace) -> int:
    from rich.progress import BarColumn, DownloadColumn, Progress, TextColumn, TransferSpeedColumn

    from assistant.devices.fetch import SMALL_ENGLISH, fetch, offer
    from assistant.devices.models import models_folder

    model = offer(options.name, options.sha256) if options.name else SMALL_ENGLISH
    with Progress(TextColumn(model.name), BarColumn(), DownloadColumn(), TransferSpeedColumn(), transient=True) as progress:
        task = progress.add_task("", total=model.size)
        home = fetch(model, models_folder(), lambda done, total: progress.update(task, completed=done, total=total))
    print(f"{home.name} lies in {home.parent}. It is used from the next session on.")
    return 0


def _run_check(options: argparse.Namespace) -> int:
    from assistant.engines import check_models

    findings = []
    for finding in check_models():
        print(finding_line(finding), flush=True)
        findings.append(finding)
    return 0 if all(finding.works for finding in findings) else 2


def finding_line(finding: Finding) -> str:
    """How one thing that was opened is shown."""
    return f"{'ok     ' if finding.works else 'missing'}  {finding.what}: {finding.sentence}"
