"""What several commands read from ``shared/``: palette, texts, lexicon, grades.

What lives here: reading, one function a file. What must not: what is done with it.
"""

import tomllib
from collections.abc import Iterable
from typing import Any

from assistant.core.plans.difficulty import Difficulty, difficulty_of
from assistant.core.plans.look import Look, read_look
from assistant.core.plans.model import Plan
from assistant.core.plans.sheets import SheetTexts, read_sheets
from assistant.core.words.lexicon import Lexicon, read_lexicon
from assistant.devices.shelf import shared_text

LANGUAGE = "en"


def lexicon() -> Lexicon:
    """The words that the tool understands."""
    return read_lexicon(shared_text(f"lexicon/{LANGUAGE}.toml"), f"shared/lexicon/{LANGUAGE}.toml")


def look() -> Look:
    """The palette."""
    return read_look(shared_text("look.toml"))


def texts() -> SheetTexts:
    """The words of the sheets, the roles, the rules and the lists."""
    return read_sheets(*(shared_text(f"{name}/{LANGUAGE}.toml") for name in ("sheets", "roles", "rules", "checklists")))


def grades() -> dict[str, Any]:
    """How much a plan asks for, in words."""
    return tomllib.loads(shared_text(f"grades/{LANGUAGE}.toml"))


def difficulties(plans: Iterable[Plan]) -> list[Difficulty]:
    """What each plan asks for."""
    words = lexicon()
    return [difficulty_of(plan, words.with_plan(plan)) for plan in plans]
