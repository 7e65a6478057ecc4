"""Writing a plan, a picture, a sheet or a date where the family asked for it.

What lives here: the way to the file, with a sentence when it is barred. What must not: what people said or did; that is written
by ``keeping`` alone.
"""

from pathlib import Path

from assistant.errors import KeepingError


def write_sheet(path: Path, content: bytes | str, *, replace: bool = True) -> None:
    """Write a file, and the folder it lies in.

    Args:
        replace: False when the family may have worked on a file of this name.

    Raises:
        KeepingError: it cannot be written, or it is there and must not be replaced.
    """
    data = content.encode("utf-8") if isinstance(content, str) else content
    if not replace and path.exists():
        raise KeepingError(f"{path} is there already. Name another file, or move that one away.")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(data)
    except OSError as error:
        raise KeepingError(f"{path} cannot be written ({error}). Name a place where you may write.") from error
