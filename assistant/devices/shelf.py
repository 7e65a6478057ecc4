"""What lies in ``shared/`` and ``demo_audio/``, and the family's own plans: read here, handed on as text.

What lives here: where these folders are, which files are plans of the family's own, and reading them. What must not: what the
texts mean.
"""

import re
from collections.abc import Iterator, Sequence
from difflib import get_close_matches
from pathlib import Path

from assistant.errors import SharedError

_PACKAGE = Path(__file__).resolve().parent.parent
OWN_PLAN = "plan.toml"  # as ``plan new`` calls it
LARGEST_PLAN = 1_000_000  # bytes; ours have two thousand
_OF_A_PLAN = re.compile(rb"^\s*\[(\[\s*step\b|\s*piece\s*\.)", re.MULTILINE)


def folder(name: str) -> Path:
    """The folder of this name: beside the package in a checkout, inside it when installed.

    Raises:
        SharedError: it is in neither place.
    """
    for place in (_PACKAGE / name, _PACKAGE.parent / name):
        if place.is_dir():
            return place
    raise SharedError(f"The folder {name}/ is missing. Install Tray Turns again, or run it from a whole checkout.")


def shared_text(name: str) -> str:
    """The text of one file in ``shared/``, ``"cues/en.toml"``.

    Raises:
        SharedError: there is no such file, or it is not text.
    """
    path = folder("shared") / name
    try:
        return path.read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError) as error:
        raise SharedError(f"shared/{name} cannot be read ({error}). Put it back, or install Tray Turns again.") from error


def plan_names() -> tuple[str, ...]:
    """The plans that come with Tray Turns, by the name that the commands take."""
    return tuple(sorted(path.stem for path in (folder("shared") / "plans").glob("*.toml")))


def plan_text(name: str) -> tuple[str, str]:
    """The text of a plan and what to call its source.

    Args:
        name: a plan of ours (``"little-boat"``) or the path of the family's own file.

    Raises:
        SharedError: there is no such plan, or it is not text.
    """
    path = folder("shared") / "plans" / f"{name}.toml" if name in plan_names() else Path(name)
    if path.is_dir() and (own := own_plan_files([path])):
        raise SharedError(f"{name} is a folder. Name the plan in it: {own[0]}.")
    if path.suffix == ".toml" and not path.is_file():
        raise SharedError(f"There is no file {name}. Check its name and folder.")
    if not path.is_file():
        near = get_close_matches(name.lower(), plan_names(), n=1)
        meant = f" Did you mean {near[0]}?" if near else ""
        raise SharedError(f"There is no plan {name!r}.{meant} See ours: tray-turns plan list; or name your own .toml file.")
    try:
        return path.read_text(encoding="utf-8-sig"), path.name  # some editors begin a file with a mark
    except (OSError, UnicodeDecodeError) as error:
        raise SharedError(f"The plan {name!r} cannot be read as text ({error}). Save it as UTF-8.") from error


def own_plan_files(folders: Sequence[Path]) -> tuple[Path, ...]:
    """The files that are meant as plans, in these folders and in the folders right in them; ours are not among them.

    A file is meant as one when it is called ``plan.toml``, or has a step or a piece in it.
    """
    ours = (folder("shared") / "plans").resolve()
    found: dict[Path, Path] = {}
    for path in (path for place in folders for path in _plan_files(place)):
        found.setdefault(path.resolve(), path)
    return tuple(path for real, path in found.items() if real.parent != ours)


def _plan_files(place: Path) -> Iterator[Path]:
    for path in (*sorted(place.glob("*.toml")), *sorted(place.glob("[!.]*/*.toml"))):
        if _is_meant_as_a_plan(path):
            yield path


def _is_meant_as_a_plan(path: Path) -> bool:
    try:
        if not path.is_file() or path.stat().st_size > LARGEST_PLAN:
            return False
        return path.name == OWN_PLAN or bool(_OF_A_PLAN.search(path.read_bytes()))
    except OSError:
        return False
