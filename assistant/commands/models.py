"""``models``: which speech models are on this machine.

What lives here: options, and what is printed. What must not: looking for a model; that is in :mod:`assistant.engines`.
"""

import argparse
from typing import Any


def add_parsers(commands: Any) -> None:
    """Add the command to the door's list."""
    models = commands.add_parser("models", help="the speech models on this machine")
    actions = models.add_subparsers(title="commands", required=True, metavar="COMMAND")
    check = actions.add_parser("check", help="open every model, and say how that went")
    check.set_defaults(run=_run_check)


def _run_check(options: argparse.Namespace) -> int:
    from assistant.engines import check_models

    findings = []
    for finding in check_models():
        print(f"{'ok     ' if finding.works else 'missing'}  {finding.what}: {finding.sentence}", flush=True)
        findings.append(finding)
    return 0 if all(finding.works for finding in findings) else 2
