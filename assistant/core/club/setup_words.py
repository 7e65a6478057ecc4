"""The words of the set-up, for the terminal and the page.

What lives here: reading them. What must not: which is said when.
"""

import tomllib
from collections.abc import Mapping
from typing import Any

from assistant.errors import SharedError


def read_setup_words(text: str) -> Mapping[str, Any]:
    """The words from the TOML text of ``shared/setup``.

    Raises:
        SharedError: it is not TOML, or a table is missing.
    """
    try:
        words = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise SharedError(f"shared/setup: this is not TOML ({error}). Mend the line it names.") from error
    wanted = {"voices", "room", "page", "stage", "about", "ask", "field", "learn", "consent", "passphrase", "ready", "problem"}
    if missing := wanted - words.keys():
        raise SharedError(f"shared/setup: the table {min(missing)!r} is missing. Write it there.")
    return words
