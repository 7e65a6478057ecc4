"""Writing a plan, a picture, a sheet or a date where the family asked for it.

What lives here: the way to the file, with a sentence when it is barred. What must not: what people said or did; that is written
by ``keeping`` alone.
"""

from collections.abc import Mapping
from pathlib import Path

from assistant.outputs.places import cannot_write, must_be_new, must_be_no_file


def write_sheet(path: Path, content: bytes | str) -> None:
    """Write a new file, and the folder it lies in.

    Raises:
        KeepingError: it is there already, or cannot be written.
    """
    write_sheets({path: content})


def write_sheets(contents: Mapping[Path, bytes | str]) -> None:
    """Write new files, all of them or, where one is there already, none.

    Raises:
        KeepingError: one is there already, or cannot be written.
    """
    for folder in {path.parent for path in contents}:
        must_be_no_file(folder)
    must_be_new(*contents)
    for path, content in contents.items():
        try:
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_bytes(content.encode("utf-8") if isinstance(content, str) else content)
        except OSError as error:
            raise cannot_write(path, error) from error
