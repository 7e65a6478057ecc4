"""What lies in ``shared/`` and ``demo_audio/``: read here, handed on as text.

What lives here: where these folders are, and reading from them. What must not: what the texts mean.
"""

from difflib import get_close_matches
from pathlib import Path

from assistant.errors import SharedError

_PACKAGE = Path(__file__).resolve().parent.parent


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
