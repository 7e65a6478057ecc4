"""``warm-up``: short spoken activities for what comes before building together.

What lives here: how it is spelled, and a run of it at the table. What must not: the activities; they are in ``shared/warmups``.
"""

from __future__ import annotations

import argparse
import sys
from collections import Counter
from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING, Any

from assistant.core.club.settings import check_names, names_from
from assistant.errors import DeviceError, SettingsError
from assistant.terms import CHILDREN, Seat

if TYPE_CHECKING:
    from assistant.core.plans.warmups import Warmup

LANGUAGE = "en"


def add_parsers(commands: Any) -> None:
    """Add the command to the door's list."""
    parser = commands.add_parser("warm-up", help="short spoken activities for what comes before building together")
    parser.description = "Without a name: the list. Enter says the next cue, a seat's letter counts what you saw, q ends."
    parser.add_argument("name", nargs="?", metavar="NAME", help="which one, such as match-the-picture")
    parser.add_argument("--children", type=int, default=2, metavar="N", help="one, two or three (2)")
    parser.add_argument("--names", default="", metavar="A=..,B=..", help="names for the cues to say; kept in memory only")
    parser.add_argument("--quiet", action="store_true", help="show the cues, but do not say them")
    parser.set_defaults(run=_run_warm_up)


def _run_warm_up(options: argparse.Namespace) -> int:
    from assistant.core.plans.warmups import read_warmups
    from assistant.devices.shelf import shared_text

    warmups = read_warmups(shared_text(f"warmups/{LANGUAGE}.toml"))
    if options.name is None:
        print("\n".join(f"{key:20} {warmup.title}: {warmup.skill}" for key, warmup in warmups.items()))
        print(f"To begin one: tray-turns warm-up {next(iter(warmups))}")
        return 0
    if options.name not in warmups:
        raise SettingsError(f"There is no warm-up {options.name!r}. There are {', '.join(warmups)}.")
    if not 1 <= options.children <= len(CHILDREN):
        raise SettingsError(f"A warm-up is for one, two or three children, not {options.children}. Choose --children.")
    names = names_from(options.names)
    seats = CHILDREN[: options.children]
    check_names(names, seats)
    return warm_up(warmups[options.name], {seat: names.get(seat, seat.value) for seat in seats}, _voice(options.quiet))


def warm_up(warmup: Warmup, names: Mapping[Seat, str], say: Callable[[str], None]) -> int:
    """Say one cue after another, and count what the adult saw; the counts are shown at the end and kept nowhere."""
    print(f"{warmup.title}. {warmup.skill}\nYou need: {warmup.needs}")
    print("\n".join(f"  {step}" for step in warmup.steps))
    print(f"Enter says the next cue; {', '.join(names)} counts that this child {warmup.seen}; q ends.")
    cues = warmup.cues(list(names.values()))
    seen: Counter[Seat] = Counter()
    while cues:
        key = _key()
        if key == "q":
            break
        if key.upper() in names:
            seen[Seat(key.upper())] += 1
        elif not key:
            print(f"  {cues[0]}")
            say(cues.pop(0))
    for seat, name in names.items():
        print(f"{name} {warmup.seen}: {seen[seat]}")
    return 0


def _key() -> str:
    """A line of the adult's; when there are no more, it ends."""
    line = sys.stdin.readline()
    return line.strip().lower() if line else "q"


def _voice(quiet: bool) -> Callable[[str], None]:
    """How a cue is said aloud; a sentence, and silence, where there is no voice or loudspeaker."""
    if quiet:
        return lambda text: None
    from assistant.devices.player import Player
    from assistant.devices.voice import Voice

    try:
        voice, player = Voice(LANGUAGE), Player()
    except DeviceError as error:
        print(f"You will see the cues and not hear them. {error}")
        return lambda text: None
    return lambda text: player.play(voice.render(text))
