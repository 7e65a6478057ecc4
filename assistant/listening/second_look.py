"""A second look at the words: what was heard against the words for the pieces of this plan, by how they sound.

What lives here: taking "the towel orange one" for "the tall orange one". What must not: the recogniser's own workings, and any
change to talk that does not ask for a piece.

A word is exchanged only where all of this holds, and otherwise everything stays as it was heard:

- it is no word that the lexicon knows, and a word for a piece is expected in its place;
- a word of this plan sounds like it, and names a kind of attribute that is not said beside it;
- a piece of the plan has that attribute and those said beside it, all together;
- with all exchanges made, what was said asks for a piece or asks back about one.
"""

from collections.abc import Iterator
from dataclasses import replace

from assistant.core.plans.plan import Plan
from assistant.core.words.lexicon import Lexicon, Pair
from assistant.core.words.meaning import understand
from assistant.core.words.tray import Tray
from assistant.events import Word
from assistant.listening.recognise import Recogniser
from assistant.listening.sounds import Pronunciations
from assistant.terms import Act, Role

MOST_WORDS = 2  # that are taken for one: "dry angle" for "triangle"; three brought nothing
FEWEST_PHONES = 3  # of what was heard: "to" and "a" sound like anything

# How far apart they may sound (see ``sounds.phones_apart``), chosen on the first half of tests/benchmarks/words.py.
NEAR = 0.5  # an adjective before its noun, or a noun after two attributes
VERY_NEAR = 0.1  # a noun after one attribute: "brick" for "break"; "blue pen" is more often a pen than a beam

_ABOUT_A_PIECE = (Act.REQUEST, Act.REPAIR, Act.STEP_DONE)


class SecondLook:
    """A recogniser whose words are looked at again.

    Args:
        recogniser: hears first.
        plan: whose pieces may be meant.
        lexicon: with the plan's own words.
    """

    def __init__(self, recogniser: Recogniser, plan: Plan, lexicon: Lexicon) -> None:
        self._recogniser = recogniser
        self._lexicon = lexicon
        self._tray = Tray.of(plan)
        self._words = tuple(
            (value, pair) for _, value in sorted(lexicon.plan_pairs) if (pair := lexicon.pair_of((value,))) is not None
        )
        self._pronunciations = Pronunciations()
        self.name = f"{recogniser.name}, with a second look at the words"

    def recognise(self, pcm: bytes, start_sample: int) -> tuple[Word, ...]:
        """The words of one stretch; see :class:`assistant.listening.recognise.Recogniser`."""
        return self.look(self._recogniser.recognise(pcm, start_sample))

    def look(self, heard: tuple[Word, ...]) -> tuple[Word, ...]:
        """The words with those exchanged that were misheard. Two that become one take the place of both."""
        looked: list[Word] = []
        at = 0
        while at < len(heard):
            length, word = self._best(tuple(looked), heard[at:])
            looked.append(word)
            at += length
        return tuple(looked) if self._is_about_a_piece(tuple(looked)) else heard

    def _is_about_a_piece(self, words: tuple[Word, ...]) -> bool:
        """Whether, said by one who may ask, these words ask for a piece or ask back about one."""
        meaning = understand(
            _texts(words),
            role=Role.ENGINEER,
            is_facilitator=False,
            may_ask=True,
            request_is_open=False,
            lexicon=self._lexicon,
        )
        return meaning.act in _ABOUT_A_PIECE and bool(meaning.attributes)

    def _best(self, before: tuple[Word, ...], rest: tuple[Word, ...]) -> tuple[int, Word]:
        """How many words that begin here are one word, and which; the first and as it was heard where nothing is nearer."""
        nearest = min(self._chances(_texts(before), _texts(rest)), default=None)
        if nearest is None:
            return 1, rest[0]
        _, length, meant = nearest
        return length, replace(rest[0], text=meant, end_sample=rest[length - 1].end_sample)

    def _chances(self, before: tuple[str, ...], rest: tuple[str, ...]) -> Iterator[tuple[float, int, str]]:
        """What the words that begin here may have been: how far apart, how many words, and the word."""
        for length in range(1, min(MOST_WORDS, len(rest)) + 1):
            heard, after = rest[:length], rest[length:]
            if not self._is_unknown(heard):
                continue
            for meant, near in self._possible(self._lexicon.said_beside(before, after), after):
                apart = self._pronunciations.apart(heard, (meant,))
                if apart is not None and apart <= near and self._lexicon.is_expected(meant, before, heard, after):
                    yield apart, length, meant

    def _is_unknown(self, heard: tuple[str, ...]) -> bool:
        """Whether the lexicon has no use for what was heard, and it is long enough to sound like something."""
        if any(map(self._lexicon.is_of_use, (heard[0], heard[-1]))):
            return False
        return any(len(phones) >= FEWEST_PHONES for phones in self._pronunciations.of(heard))

    def _possible(self, beside: tuple[Pair, ...], after: tuple[str, ...]) -> Iterator[tuple[str, float]]:
        """The words that can be meant where these attributes stand beside them, and how far apart each may sound."""
        kinds = {kind for kind, _ in beside}
        for word, pair in self._words:
            if pair[0] in kinds or not self._tray.fitting((*beside, pair)).pieces:
                continue
            if pair[0] not in self._lexicon.lean_kinds:
                yield word, NEAR if len(beside) > 1 else VERY_NEAR
            elif self._lexicon.is_named(after):
                yield word, NEAR


def _texts(words: tuple[Word, ...]) -> tuple[str, ...]:
    return tuple(word.text for word in words)
