"""A plan of the family's own, from what they say is new in each photo.

What lives here: how a line of words becomes pieces, and how photos and pieces become the text of a plan. What must not: photos,
asking, files.
"""

import re
import unicodedata
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import tomli_w

from assistant.core.plans.plan import FORMAT_VERSION, LONGEST_TEXT, LONGEST_TITLE, MOST_AT_ONCE
from assistant.core.words.lexicon import Label, Lexicon

ORDER = ("colour", "size", "shape", "thing")  # what is best named first; anything else follows
NAMELESS = "thing"  # the kind of a word that the lexicon does not know
UNTITLED = "Our model"

Attributes = Mapping[str, str]


@dataclass(frozen=True, slots=True)
class Draft:
    """One photo, the pieces that are new in it, and where they go."""

    photo: str
    pieces: tuple[tuple[Attributes, int], ...]
    where: str = ""
    component: str = "model"


def pieces_in(said: str, lexicon: Lexicon) -> tuple[tuple[Attributes, int], ...]:
    """The pieces that a line names, each with how many: ``"long red block, 2 small blue squares"``.

    A word that the lexicon does not know is taken for the name of the thing: ``"a blue spoon"``.
    """
    phrases = [part for part in re.split(r",|;|\band\b", said.lower()) if part.strip()]
    words = (tuple(lexicon.spelling.get(word, word) for word in re.findall(r"[\w'-]+", phrase)) for phrase in phrases)
    return tuple(piece for phrase in words if (piece := _piece(phrase, lexicon)))


def _piece(words: tuple[str, ...], lexicon: Lexicon) -> tuple[Attributes, int] | None:
    attributes: dict[str, str] = {}
    unknown: list[str] = []
    count = 1
    for token in lexicon.scan(words, {Label.NUMBER, Label.BEFORE_PIECE, Label.ATTRIBUTE}):
        if token.number is not None and Label.NUMBER in token.labels:
            count = token.number
        elif token.pair is not None:
            attributes[token.pair[0]] = token.pair[1]
        elif not token.labels:
            unknown += token.words
    if unknown:
        attributes[NAMELESS] = " ".join(unknown)
    return (attributes, min(count, MOST_AT_ONCE)) if attributes else None


def plan_text(title: str, activity: str, children: Sequence[int], drafts: Sequence[Draft]) -> str:
    """The plan as TOML, every piece once, every photo a step."""
    keys = _keys(drafts)
    kinds = {kind for attributes in keys for kind, _ in attributes}
    plan: dict[str, Any] = {
        "version": FORMAT_VERSION,
        "title": _readable(title, LONGEST_TITLE) or UNTITLED,
        "activity": activity,
        "children": list(children),
        "about": "Our own model, from photos.",
        "preference": [*(kind for kind in ORDER if kind in kinds), *sorted(kinds - set(ORDER))],
        "words": _words(keys),
        "piece": {key: {"attributes": dict(attributes)} for attributes, key in keys.items()},
        "step": [_step(draft, keys) for draft in drafts if draft.pieces],
    }
    return tomli_w.dumps({key: value for key, value in plan.items() if value != {}})


def _keys(drafts: Sequence[Draft]) -> dict[tuple[tuple[str, str], ...], str]:
    """A key for each different piece, from its words."""
    keys: dict[tuple[tuple[str, str], ...], str] = {}
    for draft in drafts:
        for attributes, _ in draft.pieces:
            pairs = tuple(attributes.items())
            same = next((known for known in keys if dict(known) == dict(pairs)), None)
            if same is None:
                keys[pairs] = _slug(" ".join(attributes.values()), keys.values())
    return keys


def _slug(name: str, taken: Any) -> str:
    slug = re.sub(r"[^a-z0-9]+", "-", name.lower()).strip("-") or "piece"
    return slug if slug not in taken else f"{slug}-{sum(key.startswith(slug) for key in taken) + 1}"


def _step(draft: Draft, keys: Mapping[tuple[tuple[str, str], ...], str]) -> dict[str, Any]:
    counts: Counter[str] = Counter()
    for attributes, count in draft.pieces:
        counts[next(key for pairs, key in keys.items() if dict(pairs) == dict(attributes))] += count
    put = [{"piece": key} | ({"count": count} if count > 1 else {}) for key, count in counts.items()]
    where = _readable(draft.where, LONGEST_TEXT)
    step = {"component": _readable(draft.component, LONGEST_TITLE), "put": put, "photo": draft.photo}
    return step | ({"where": where} if where else {})


def _readable(said: str, longest: int) -> str:
    """What was typed, without what an arrow key or a paste may leave in it, and no longer than a plan may say it."""
    letters = "".join(" " if unicodedata.category(letter) == "Cc" else letter for letter in said)
    return " ".join(letters.split())[:longest].rstrip()


def _words(keys: Mapping[tuple[tuple[str, str], ...], str]) -> dict[str, dict[str, list[str]]]:
    """The names of things are the plan's own words."""
    things = {value for pairs in keys for kind, value in pairs if kind == NAMELESS}
    return {NAMELESS: {thing: [thing] for thing in sorted(things)}} if things else {}
