"""The words that the tool understands, as one frozen value.

What lives here: the lexicon of a language, the way from TOML text to it, the plan's own words added to it, and the mending of
single words (spelling, how small children say it, what sounds alike). What must not: what an utterance means, which is
``meaning``; a path or a file; any English word, all of which are in ``shared/lexicon/``.

    text ──read_lexicon──► Lexicon ──with_plan──► Lexicon ──normalise──► words ──scan──► tokens
"""

import re
import tomllib
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import Any

from assistant.core.plans.plan import Plan
from assistant.errors import SharedError

FORMAT_VERSION = 1
GAP = "..."  # stands for one to four words in a phrase
MOST_IN_GAP = 4

Phrase = tuple[str, ...]
Pair = tuple[str, str]
"""An attribute: its kind and its value, ``("colour", "red")``."""


class Label(StrEnum):
    """What a word or phrase can be. All but the first two name a list under ``[phrases]``."""

    ATTRIBUTE = "attribute"
    NUMBER = "number"
    PIECE = "piece"
    POINTING = "pointing"
    BEFORE_PIECE = "before_piece"
    JOINING = "joining"
    STRESS = "stress"
    FILLER = "filler"
    CORRECTION = "correction"
    EXCLUDING = "excluding"
    ASKING = "asking"
    ASKING_POLITELY = "asking_politely"
    TELLING = "telling"
    PLACING = "placing"
    PLACE = "place"
    PLACE_OF_TWO = "place_of_two"
    PLACE_ANYWHERE = "place_anywhere"
    SPOT = "spot"
    ORIENTATION = "orientation"
    SMALL = "small"
    SOMEBODYS = "somebodys"
    REPAIR_OPEN = "repair_open"
    REPAIR_WHICH = "repair_which"
    REPAIR_WHICH_END = "repair_which_end"
    REPAIR_OFFER = "repair_offer"
    STEP_DONE = "step_done"
    STEP_NEXT = "step_next"
    PASS = "pass"
    HELP = "help"
    RULE = "rule"
    PRAISE = "praise"
    NO_PRAISE = "no_praise"
    PRAISE_FRAME = "praise_frame"
    PRAISE_NAMED = "praise_named"
    PRAISE_UNDONE = "praise_undone"
    PROMPT_INDIRECT = "prompt_indirect"
    PROMPT_THINKING = "prompt_thinking"
    PROMPT_DIRECT = "prompt_direct"
    NO_NAME = "no_name"


OF_THE_ADULT = frozenset(
    {
        Label.PRAISE, Label.NO_PRAISE, Label.PRAISE_FRAME, Label.PRAISE_NAMED, Label.PRAISE_UNDONE, Label.PROMPT_INDIRECT,
        Label.PROMPT_THINKING, Label.PROMPT_DIRECT, Label.NO_NAME,
    }
)  # fmt: skip
"""The lists that only the facilitator's talk is read with."""


@dataclass(frozen=True, slots=True)
class Token:
    """One word or phrase with what it can be; no labels for a word that the lexicon does not know in this place."""

    words: Phrase
    labels: frozenset[Label] = frozenset()
    pair: Pair | None = None
    number: int | None = None


@dataclass(frozen=True, slots=True)
class Lexicon:
    """The words of one language, and after ``with_plan`` those of one plan as well.

    ``meanings`` holds for each phrase what it can mean, the first meaning first. ``plan_pairs`` are the attributes that the
    plan's pieces have, empty as long as no plan was added.
    """

    labels: Mapping[Phrase, frozenset[Label]]
    meanings: Mapping[Phrase, tuple[Pair, ...]]
    numbers: Mapping[Phrase, int]
    stands_for: Mapping[str, tuple[str, ...]]
    spelling: Mapping[str, str]
    heard_as: Mapping[Phrase, tuple[str, ...]]
    lean_kinds: frozenset[str]
    """The kinds whose words lean on a noun: "red" on "block"."""
    plural_endings: tuple[str, ...]
    gapped: tuple[tuple[Label, Phrase, Phrase], ...]
    longest: int
    plan_pairs: frozenset[Pair] = frozenset()

    # --- a plan's own words ---------------------------------------------------------------------------------------------

    def with_plan(self, plan: Plan) -> "Lexicon":
        """This lexicon and the words of a plan: the values of its pieces, its own words, and the nouns of its steps.

        A word means what it means on this plan. Where the plan has nothing that the word itself names, and exactly one value
        that the word can stand for, it means that: "brick" where all pieces are blocks, "little" where sizes are long and
        short.
        """
        pairs = frozenset(pair for piece in plan.pieces.values() for pair in piece.attributes.items())
        own: dict[Phrase, Pair] = {_phrase(value): (kind, value) for kind, value in sorted(pairs)}
        for kind, values in plan.words.items():
            for value, said in values.items():
                own |= {_phrase(phrase): (kind, value) for phrase in said}
        meanings = {phrase: (self._on_plan(candidates, pairs),) for phrase, candidates in self.meanings.items()}
        meanings |= {phrase: (pair,) for phrase, pair in own.items()}
        labels = {**self.labels}
        for phrase in own:
            labels[phrase] = labels.get(phrase, frozenset()) | {Label.ATTRIBUTE}
        longest = max(self.longest, *map(len, own), 1)
        named = replace(self, labels=labels, meanings=meanings, longest=longest, plan_pairs=pairs)
        return replace(named, labels={**labels, **named._plan_nouns(plan)})

    def _plan_nouns(self, plan: Plan) -> dict[Phrase, frozenset[Label]]:
        """The plan's words that tell no pieces apart: what is measured ("spoons"), and the nouns of its steps."""
        units = {_phrase(said) for piece in plan.pieces.values() for said in piece.unit or ()}
        known = {word for phrase in self.labels for word in phrase}
        return {
            **{(word,): frozenset({Label.SPOT}) for word in _step_words(plan) - known},
            **{unit: self.labels_of(unit) | {Label.PIECE} for unit in units if not self.pair_of(unit)},
        }

    def _on_plan(self, candidates: tuple[Pair, ...], pairs: frozenset[Pair]) -> Pair:
        """What a word with these meanings means where the pieces have these attributes."""
        for pair in candidates:
            if pair in pairs:
                return pair
        value = candidates[0][1]
        stand_ins = [pair for pair in pairs if pair[1] in self.stands_for.get(value, ())]
        return stand_ins[0] if len(stand_ins) == 1 else candidates[0]

    def knows(self, pair: Pair) -> bool:
        """Whether a piece of the plan is like this, or near enough for the word to stand for it. Without a plan, always."""
        near = {pair[1], *self.stands_for.get(pair[1], ())}
        return not self.plan_pairs or pair in self.plan_pairs or any(value in near for _, value in self.plan_pairs)

    # --- looking up -----------------------------------------------------------------------------------------------------

    def labels_of(self, phrase: Phrase) -> frozenset[Label]:
        """What a phrase can be; a plural is what its singular is."""
        return self.labels.get(phrase) or self.labels.get(self._singular(phrase), frozenset())

    def pair_of(self, phrase: Phrase) -> Pair | None:
        """The attribute that a phrase names."""
        found = self.meanings.get(phrase) or self.meanings.get(self._singular(phrase))
        return found[0] if found else None

    def _singular(self, phrase: Phrase) -> Phrase:
        for ending in self.plural_endings:
            singular = (*phrase[:-1], phrase[-1].removesuffix(ending))
            if singular != phrase and self.labels.get(singular, frozenset()) & _NAMING:
                return singular
        return phrase

    def is_plural(self, word: str) -> bool:
        """Whether a word ends like more than one."""
        return word.endswith(self.plural_endings)

    def token_at(self, words: Phrase, at: int, among: frozenset[Label]) -> Token:
        """The longest phrase at a place that has one of these labels, or the bare word there."""
        for length in range(min(self.longest, len(words) - at), 0, -1):
            phrase = words[at : at + length]
            labels = self.labels_of(phrase) & among
            if labels:
                pair = self.pair_of(phrase) if Label.ATTRIBUTE in labels else None
                return Token(phrase, labels, pair, self.numbers.get(phrase) if Label.NUMBER in labels else None)
        return Token(words[at : at + 1])

    def scan(self, words: Phrase, among: Iterable[Label]) -> tuple[Token, ...]:
        """All the words as tokens, each the longest phrase that has one of these labels."""
        wanted = frozenset(among)
        tokens: list[Token] = []
        at = 0
        while at < len(words):
            tokens.append(self.token_at(words, at, wanted))
            at += len(tokens[-1].words)
        return tuple(tokens)

    def find(self, words: Phrase, label: Label) -> tuple[int, ...]:
        """Every place at which a phrase with this label begins, phrases with a gap among them."""
        gapped = [(before, after) for which, before, after in self.gapped if which is label]
        return tuple(
            at
            for at in range(len(words))
            if self.token_at(words, at, frozenset({label})).labels or any(_has_gapped(words, at, *gap) for gap in gapped)
        )

    # --- mending words --------------------------------------------------------------------------------------------------

    def normalise(self, words: Sequence[str]) -> Phrase:
        """The words as the lexicon spells them: lower case, one spelling, no stutter, and what was misheard mended.

        A word that sounds like a word for a piece, and is a word of its own ("blew", "to"), is mended only where a word for a
        piece is expected: beside another one, and after nothing but what may come before a piece. "The wind blew" stays.
        """
        plain = _plain(words)
        spelt = tuple(self.spelling.get(word, word) for word in plain)
        return _without_stutter(self._mend(_without_stutter(spelt)))

    def _mend(self, words: Phrase) -> Phrase:
        mended: list[str] = []
        at = 0
        while at < len(words):
            length, meant = self._meant(words, at, tuple(mended))
            mended.append(meant)
            at += length
        return tuple(mended)

    def _meant(self, words: Phrase, at: int, before: Phrase) -> tuple[int, str]:
        """How many words at this place are one misheard word, and what was meant; 1 and the word itself where none was."""
        for length in (2, 1):
            heard, after = words[at : at + length], words[at + length :]
            for meant in self.heard_as.get(heard, ()):
                if self.is_expected(meant, before, heard, after):
                    return length, meant
        return 1, words[at]

    def is_expected(self, meant: str, before: Phrase, heard: Phrase, after: Phrase) -> bool:
        """Whether in this place a word for a piece is expected, so that what was heard may have been this word.

        Args:
            meant: the word that it may have been.
            before: the words before it, mended already.
            heard: the word or words in question.
            after: the words after it, as they were heard.
        """
        return not self._is_bound(before, heard, after) and self._is_mended(heard, meant, before, after)

    def said_beside(self, before: Phrase, after: Phrase) -> tuple[Pair, ...]:
        """The attributes that are named by the single words directly before a place and directly after it."""
        return (*self._pairs_at_once(before[::-1]), *self._pairs_at_once(after))

    def _pairs_at_once(self, words: Phrase) -> Iterator[Pair]:
        for word in words:
            pair = self.pair_of((word,))
            if pair is None:
                return
            yield pair

    def is_of_use(self, word: str) -> bool:
        """Whether the word is one of those that children's requests and repairs are made of, on this plan."""
        labels = self.labels_of((word,)) - OF_THE_ADULT
        pair = self.pair_of((word,))
        return bool(labels - {Label.ATTRIBUTE}) or pair is not None and self.knows(pair)

    def is_named(self, words: Phrase) -> bool:
        """Whether words for a piece begin here."""
        return bool(words and self.token_at(words, 0, _NAMING).labels)

    def _is_bound(self, before: Phrase, heard: Phrase, after: Phrase) -> bool:
        """Whether the word belongs to a longer phrase: "to" in "next to", "for" in "look for"."""
        words, end = before + heard + after, len(before) + len(heard)
        for start in range(max(0, end - self.longest), len(before) + 1):
            for stop in range(max(end, start + len(heard) + 1), min(start + self.longest, len(words)) + 1):
                if self.labels.get(words[start:stop], frozenset()) & _AROUND:
                    return True
        return False

    def _is_mended(self, heard: Phrase, meant: str, before: Phrase, after: Phrase) -> bool:
        pair, own = self.pair_of((meant,)), self.pair_of(heard)
        if pair and not self.knows(pair) or own and (self.knows(own) or not self.plan_pairs):
            return False
        left, right = self._labels_left(before), self._labels_right(after)
        if (meant,) in self.numbers and Label.PIECE not in self.labels_of((meant,)):
            return bool(left) and left <= _MAY_PRECEDE - {Label.ATTRIBUTE} and self._plural_follows(after)
        if Label.FILLER in self.labels_of((meant,)):
            return not after and bool(left & _NAMING)
        if not left & _MAY_PRECEDE or not right & _MAY_FOLLOW:
            return False
        leans = pair is not None and pair[0] in self.lean_kinds
        return Label.ATTRIBUTE in left or leans and bool(right & _NAMING)

    def _labels_left(self, before: Phrase) -> frozenset[Label]:
        """What the phrase that ends here can be; the start counts as a filler."""
        for length in range(min(self.longest, len(before)), 0, -1):
            labels = self.labels_of(before[-length:]) & _AROUND
            if labels:
                return labels
        return frozenset() if before else frozenset({Label.FILLER})

    def _labels_right(self, after: Phrase) -> frozenset[Label]:
        """What the phrase that begins here can be; the end counts as a filler."""
        return self.token_at(after, 0, _AROUND).labels if after else frozenset({Label.FILLER})

    def _plural_follows(self, after: Phrase) -> bool:
        """Whether words for more than one piece follow: "red ones", "blocks"."""
        last = ""
        for token in self.scan(after, _NAMING):
            if not token.labels:
                break
            last = token.words[-1]
        return bool(last) and self.is_plural(last)


_NAMING = frozenset({Label.ATTRIBUTE, Label.PIECE})
_MAY_PRECEDE = frozenset(
    {Label.ATTRIBUTE, Label.NUMBER, Label.BEFORE_PIECE, Label.STRESS, Label.FILLER, Label.ASKING, Label.CORRECTION, Label.PLACE}
)
_MAY_FOLLOW = _NAMING | {Label.POINTING, Label.PLACE, Label.FILLER, Label.CORRECTION, Label.JOINING, Label.PLACING}
_AROUND = _MAY_PRECEDE | _MAY_FOLLOW
"""What the words around a misheard one are looked at for."""


# --- plain words ----------------------------------------------------------------------------------------------------------


def _plain(words: Iterable[str]) -> Phrase:
    """Lower case, no punctuation but the apostrophe, hyphens apart."""
    text = " ".join(words).lower().replace("’", "'")
    return tuple(word.strip("'") for word in re.findall(r"[\w']+", text) if word.strip("'"))


def _phrase(text: str) -> Phrase:
    return tuple(GAP if word == GAP else "".join(_plain((word,))) for word in text.replace("-", " ").split())


def _without_stutter(words: Phrase) -> Phrase:
    """Each run of up to three words that is said again at once, said once: "the long the long one"."""
    kept: list[str] = []
    for word in words:
        kept.append(word)
        for length in (1, 2, 3):
            if kept[-length:] == kept[-2 * length : -length]:
                del kept[-length:]
    return tuple(kept)


def _has_gapped(words: Phrase, at: int, before: Phrase, after: Phrase) -> bool:
    start = at + len(before)
    if words[at:start] != before:
        return False
    return any(words[start + gap : start + gap + len(after)] == after for gap in range(1, MOST_IN_GAP + 1))


def _step_words(plan: Plan) -> set[str]:
    """The words with which a plan says where things go, and what it is building."""
    texts = [plan.title, *(text for step in plan.steps for text in (step.where, step.component))]
    return {word for text in texts for word in _plain((text,))}


# --- from TOML ------------------------------------------------------------------------------------------------------------


def read_lexicon(text: str, source: str) -> Lexicon:
    """The lexicon that a TOML text describes.

    Args:
        text: the whole file.
        source: what to call it in a problem, usually the file's name.

    Raises:
        SharedError: with one sentence for every problem found, a line each.
    """
    try:
        raw = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise SharedError(f"{source}: this is not TOML ({error}). Mend the line it names.") from error
    reader = _Reader(raw, source)
    lexicon = reader.lexicon()
    if reader.problems:
        raise SharedError("\n".join(reader.problems))
    return lexicon


_LISTED = frozenset(Label) - {Label.ATTRIBUTE, Label.NUMBER}
_TABLES = ("attributes", "stands_for", "numbers", "spelling", "heard_as", "phrases")
_TOP = {"version", "language", "plural_endings", "lean_kinds", *_TABLES}


class _Reader:
    """Reads a lexicon leniently and writes down everything that is wrong with it."""

    def __init__(self, raw: dict[str, Any], source: str) -> None:
        self.raw = raw
        self.source = source
        self.problems: list[str] = []

    def lexicon(self) -> Lexicon:
        self._top()
        labels: dict[Phrase, frozenset[Label]] = {}
        gapped: list[tuple[Label, Phrase, Phrase]] = []
        meanings = self._meanings()
        numbers = self._numbers()
        listed = [*((Label.ATTRIBUTE, p) for p in meanings), *((Label.NUMBER, p) for p in numbers), *self._phrases()]
        for label, phrase in listed:
            if GAP in phrase:
                middle = phrase.index(GAP)
                gapped.append((label, phrase[:middle], phrase[middle + 1 :]))
            else:
                labels[phrase] = labels.get(phrase, frozenset()) | {label}
        return Lexicon(
            labels=labels,
            meanings=meanings,
            numbers=numbers,
            stands_for={value: tuple(others) for value, others in self._lists("stands_for")},
            spelling={wrong: right for right, wrongs in self._lists("spelling") for wrong in wrongs},
            heard_as=self._heard_as(),
            lean_kinds=frozenset(self._strings(self.raw.get("lean_kinds", []), "lean_kinds")),
            plural_endings=tuple(self._strings(self.raw.get("plural_endings", []), "plural_endings")),
            gapped=tuple(gapped),
            longest=max(map(len, labels), default=1),
        )

    def _say(self, place: str, what: str) -> None:
        self.problems.append(f"{self.source}, {place}: {what}")

    def _top(self) -> None:
        version = self.raw.get("version")
        if version != FORMAT_VERSION:
            self._say("version", f"it says {version!r}. This program reads version {FORMAT_VERSION}: write that.")
        for key in sorted(self.raw.keys() - _TOP):
            self._say("the top", f"{key!r} is not a word of the lexicon format. It knows {', '.join(sorted(_TOP))}.")

    def _meanings(self) -> dict[Phrase, tuple[Pair, ...]]:
        meanings: dict[Phrase, tuple[Pair, ...]] = {}
        for kind, values in self._table(self.raw, "attributes").items():
            for value, phrases in self._lists("attributes", kind):
                for phrase in phrases:
                    meanings[_phrase(phrase)] = (*meanings.get(_phrase(phrase), ()), (kind, value))
            if not values:
                self._say(f"attributes.{kind}", 'it is empty. Write a value and its words, red = ["red"], or take it out.')
        return meanings

    def _numbers(self) -> dict[Phrase, int]:
        numbers: dict[Phrase, int] = {}
        for number, phrases in self._lists("numbers"):
            if number.isdecimal() and int(number) > 0:
                numbers |= {_phrase(phrase): int(number) for phrase in phrases}
            else:
                self._say(f"numbers.{number}", 'the key must be a number over 0. Write 2 = ["two"].')
        return numbers

    def _heard_as(self) -> dict[Phrase, tuple[str, ...]]:
        heard: dict[Phrase, tuple[str, ...]] = {}
        for meant, phrases in self._lists("heard_as"):
            for phrase in phrases:
                heard[_phrase(phrase)] = (*heard.get(_phrase(phrase), ()), meant)
        return heard

    def _phrases(self) -> Iterator[tuple[Label, Phrase]]:
        table = self._table(self.raw, "phrases")
        for name in sorted(table.keys() - _LISTED):
            self._say(f"phrases.{name}", f"there is no such list. The lists are {', '.join(sorted(_LISTED))}.")
        for name in sorted(_LISTED - table.keys()):
            self._say(f"phrases.{name}", f'the list is missing. Write {name} = ["..."]; it may be empty.')
        for name, phrases in self._lists("phrases"):
            if name in _LISTED:
                yield from ((Label(name), _phrase(phrase)) for phrase in phrases)

    def _lists(self, *path: str) -> Iterator[tuple[str, list[str]]]:
        """Every key of a table with its list of phrases, problems written down."""
        table: Mapping[str, Any] = self.raw
        for key in path:
            table = self._table(table, key)
        for key, value in table.items():
            yield key, self._strings(value, ".".join((*path, key)))

    def _table(self, table: Mapping[str, Any], key: str) -> Mapping[str, Any]:
        value = table.get(key, {})
        if isinstance(value, dict):
            return value
        self._say(key, f"it must be a table, [{key}], not {value!r}.")
        return {}

    def _strings(self, value: Any, place: str) -> list[str]:
        if isinstance(value, list) and all(isinstance(item, str) and _phrase(item) for item in value):
            return value
        self._say(place, f'it must be a list of words in quotes, ["red", "reddish"], not {value!r}.')
        return []
