"""Everything that may be shared of a session, file by file, with a page that says what it holds and what it does not.

What lives here: which files those are. What must not: a path, or a format.
"""

import tomllib
from collections.abc import Sequence, Set

from assistant.core.club.consent import LEVELS, Consent
from assistant.events import Event
from assistant.outputs.exports.chat import chat
from assistant.outputs.exports.elan import elan
from assistant.outputs.exports.records import at_level, json_lines
from assistant.outputs.exports.rttm import rttm_lines
from assistant.outputs.exports.tables import csv_table, dictionary
from assistant.outputs.exports.textgrid import textgrid
from assistant.outputs.exports.vtt import vtt

NAME = "session"


def bundle(events: Sequence[Event], level: Consent, consent_text: str, meanings: str, ours: Set[str]) -> dict[str, str]:
    """The files of a bundle, by name.

    Args:
        events: as they were kept.
        level: how much goes into the bundle; what is beyond it is taken out. At VOICES the sound has to be laid beside them.
        consent_text: ``shared/consent/<language>.toml``.
        meanings: ``shared/dictionary/<language>.toml``.
        ours: free text that is our own.
    """
    kept = at_level(events, level, ours)
    words_kept = level >= Consent.WORDS
    return {
        "README.txt": _about(level, consent_text),
        "events.jsonl": json_lines(kept, level, ours),
        "dictionary.csv": dictionary(meanings),
        f"{NAME}.csv": csv_table(kept),
        f"{NAME}.rttm": "".join(rttm_lines(kept, NAME)),
        f"{NAME}.TextGrid": textgrid(kept),
        f"{NAME}.eaf": elan(kept),
        f"{NAME}.cha": chat(kept, NAME, words_kept=words_kept),
        f"{NAME}.vtt": vtt(kept),
    }


def _about(level: Consent, consent_text: str) -> str:
    texts = tomllib.loads(consent_text)["bundle"]
    name = LEVELS[level]
    filled = {"holds": texts[f"{name}_holds"], "holds_not": texts[f"{name}_holds_not"], "more": texts.get(f"{name}_more", "")}
    about: str = texts["text"].format_map(filled)
    return about.lstrip()
