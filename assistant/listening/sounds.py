"""How alike two words sound.

What lives here: the distance between phones, and the pronouncing dictionary that pocketsphinx carries (CMUdict, American
English). What must not: which words may be meant.
"""

from collections.abc import Iterator
from functools import cache, lru_cache
from itertools import product
from pathlib import Path

from pocketsphinx import get_model_path

from assistant.listening.edits import edits

Phones = tuple[str, ...]

# Each consonant by voice, place (0 lips, 1 lip and teeth, 2 teeth, 3 ridge, 4 behind it, 5 palate, 6 soft palate, 7 throat) and
# manner, as the chart of the International Phonetic Association orders them.
_STOP, _FRICATIVE, _AFFRICATE, _NASAL, _APPROXIMANT = range(5)
_CONSONANTS = {
    "P": (False, 0, _STOP), "B": (True, 0, _STOP), "T": (False, 3, _STOP), "D": (True, 3, _STOP), "K": (False, 6, _STOP),
    "G": (True, 6, _STOP), "F": (False, 1, _FRICATIVE), "V": (True, 1, _FRICATIVE), "TH": (False, 2, _FRICATIVE),
    "DH": (True, 2, _FRICATIVE), "S": (False, 3, _FRICATIVE), "Z": (True, 3, _FRICATIVE), "SH": (False, 4, _FRICATIVE),
    "ZH": (True, 4, _FRICATIVE), "HH": (False, 7, _FRICATIVE), "CH": (False, 4, _AFFRICATE), "JH": (True, 4, _AFFRICATE),
    "M": (True, 0, _NASAL), "N": (True, 3, _NASAL), "NG": (True, 6, _NASAL), "L": (True, 3, _APPROXIMANT),
    "R": (True, 4, _APPROXIMANT), "Y": (True, 5, _APPROXIMANT), "W": (True, 0, _APPROXIMANT),
}  # fmt: skip
# Each vowel by height (0 close, 3 open) and place (0 front, 2 back); of a diphthong, where it begins.
_VOWELS = {
    "IY": (0, 0), "IH": (1, 0.5), "EY": (1, 0), "EH": (2, 0), "AE": (3, 0), "AA": (3, 2), "AO": (2.5, 2), "OW": (1.5, 2),
    "UH": (1, 1.5), "UW": (0, 2), "AH": (2, 1), "ER": (1.5, 1), "AY": (3, 1), "AW": (3, 1.5), "OY": (2, 2),
}  # fmt: skip

# Weights, set by hand. Changing one of them by a quarter or a half moved F1 on the half `choose` of tests/benchmarks/words.py
# by 0.02 at most.
_VOICE, _PLACE, _MANNER = 0.3, 0.1, 0.4
_VOWEL_STEP, _VOWEL_LEAST, _VOWEL_MOST = 0.2, 0.1, 0.6
_VOWEL_FOR_CONSONANT = 1.2
_WEAK = frozenset({"AH", "IH", "HH", "T", "D", "R", "L", "Y", "W"})  # easily lost, easily heard in
_MISSING, _MISSING_WEAK = 0.8, 0.5

_MOST_VARIANTS = 8  # ways to say a stretch of words that are compared


@cache
def _exchange(one: str, other: str) -> float:
    """What it costs to hear one phone for another."""
    if one == other:
        return 0.0
    if one in _CONSONANTS and other in _CONSONANTS:
        (voice, place, manner), (voice_, place_, manner_) = _CONSONANTS[one], _CONSONANTS[other]
        return min(1.0, _VOICE * (voice != voice_) + _MANNER * (manner != manner_) + _PLACE * abs(place - place_))
    if one in _VOWELS and other in _VOWELS:
        (height, back), (height_, back_) = _VOWELS[one], _VOWELS[other]
        return max(_VOWEL_LEAST, min(_VOWEL_MOST, _VOWEL_STEP * (abs(height - height_) + abs(back - back_))))
    return _VOWEL_FOR_CONSONANT


def _missing(phone: str) -> float:
    return _MISSING_WEAK if phone in _WEAK else _MISSING


def phones_apart(one: Phones, other: Phones) -> float:
    """How far two ways to say something are apart: 0 for the same, about 1 for nothing in common.

    The cheapest way to exchange, lose and add phones, divided by their mean length.
    """
    return edits(one, other, _exchange, _missing) / max(1.0, (len(one) + len(other)) / 2)


class Pronunciations:
    """How words are said. The dictionary is searched as one text: few words are ever looked up, and there are 126,000."""

    def __init__(self) -> None:
        path = Path(get_model_path("en-us")) / "cmudict-en-us.dict"
        self._text = "\n" + path.read_text(encoding="utf-8")
        self.apart = lru_cache(maxsize=100_000)(self._apart)
        self.of_word = lru_cache(maxsize=10_000)(self._of_word)

    def of(self, words: tuple[str, ...]) -> tuple[Phones, ...]:
        """The ways to say some words one after the other; none when one of them is not in the dictionary."""
        ways = product(*map(self.of_word, words))
        return tuple(sum(way, ()) for way, _ in zip(ways, range(_MOST_VARIANTS), strict=False))

    def _of_word(self, word: str) -> tuple[Phones, ...]:
        return tuple(self._entries(word))

    def _entries(self, word: str) -> Iterator[Phones]:
        """The dictionary holds a line a way: ``read R EH D`` and then ``read(2) R IY D``."""
        for number in range(1, _MOST_VARIANTS):
            key = f"\n{word} " if number == 1 else f"\n{word}({number}) "
            at = self._text.find(key)
            if at < 0:
                return
            start = at + len(key)
            yield tuple(self._text[start : self._text.find("\n", start)].split())

    def _apart(self, words: tuple[str, ...], others: tuple[str, ...]) -> float | None:
        """How far the nearest ways to say both are apart, None when the dictionary does not know one of them."""
        return min((phones_apart(one, other) for one in self.of(words) for other in self.of(others)), default=None)
