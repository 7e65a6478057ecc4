"""A session from end to end in one process: the command line, then its review and its progress, made in memory and thrown away.

``python -m tests.whole_session demo --pages`` is ``tray-turns demo --pages``, and after it the review. Run under a trace by
``tests/test_nothing_on_disk.py``.
"""

import sys
from collections.abc import Sequence

from assistant.cli import main
from assistant.club import Club
from assistant.commands.review import _weeks, progress_lines, progress_page, review_page, review_pdf
from assistant.core.measures.progress import figures_of


def run(arguments: Sequence[str]) -> int:
    """The command, with what comes after it."""
    clubs: list[Club] = []
    made = Club.__init__

    def remembered(club: Club, *given: object, **named: object) -> None:
        clubs.append(club)
        made(club, *given, **named)  # type: ignore[arg-type]

    Club.__init__ = remembered  # type: ignore[method-assign,assignment]
    code = main(arguments)
    for club in clubs:
        weeks = _weeks([figures_of(club.events)])
        print(f"the review: {len(review_page(club.events))} signs, {len(review_pdf(club.events))} bytes on paper")
        print(f"progress: {len(progress_lines(weeks))} lines, {len(progress_page(weeks))} signs")
    return code


if __name__ == "__main__":
    sys.exit(run(sys.argv[1:]))
