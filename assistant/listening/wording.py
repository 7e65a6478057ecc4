"""From written text to spoken words: what a recogniser writes, as the lexicon wants to read it.

What lives here: capitals, punctuation, hyphens and digits. What must not: what a word means, or mending what was misheard.
"""

import re
from collections.abc import Iterator

_PLAIN = str.maketrans({"\u2019": "'", "\u2018": "'", "-": " ", "\u2010": " ", "\u2013": " ", "\u2014": " ", "/": " "})
_SIGNS = {"&": "and", "%": "percent", "+": "plus", "=": "equals", "\u00d7": "times", "\u00bd": "half", "\u00bc": "quarter"}
_TOKEN = re.compile(r"[^\W\d_]+(?:'[^\W\d_]+)*|\d+(?:,\d{3})*(?:st|nd|rd|th)?|[" + re.escape("".join(_SIGNS)) + "]")
_ORDINAL = re.compile(r"(\d+)(?:st|nd|rd|th)")

_SMALL = (
    "zero one two three four five six seven eight nine ten eleven twelve thirteen fourteen fifteen sixteen seventeen "
    "eighteen nineteen"
).split()
_TENS = "_ _ twenty thirty forty fifty sixty seventy eighty ninety".split()
_ORDINALS = {
    "one": "first",
    "two": "second",
    "three": "third",
    "five": "fifth",
    "eight": "eighth",
    "nine": "ninth",
    "twelve": "twelfth",
}


def spoken(text: str) -> tuple[str, ...]:
    """The words of a text as they are said: ``"It's 21, left-hand side."`` is ``it's twenty one left hand side``."""
    return tuple(word for token in _TOKEN.findall(text.lower().translate(_PLAIN)) for word in _words(token))


def _words(token: str) -> Iterator[str]:
    if ordinal := _ORDINAL.fullmatch(token):
        *before, last = _number(ordinal[1])
        yield from (*before, _ordinal(last))
    elif token[0].isdigit():
        yield from _number(token.replace(",", ""))
    else:
        yield _SIGNS.get(token, token)


def _number(digits: str) -> tuple[str, ...]:
    """British reading up to 999; a longer number, or one that begins with 0, digit by digit."""
    number = int(digits)
    if len(digits) > 3 or (digits[0] == "0" and len(digits) > 1):
        return tuple(_SMALL[int(digit)] for digit in digits)
    hundreds, rest = divmod(number, 100)
    below = (*_below_hundred(rest),) if rest or not hundreds else ()
    if not hundreds:
        return below
    return (_SMALL[hundreds], "hundred", *(("and", *below) if below else ()))


def _below_hundred(number: int) -> Iterator[str]:
    if number < 20:
        yield _SMALL[number]
        return
    tens, units = divmod(number, 10)
    yield _TENS[tens]
    if units:
        yield _SMALL[units]


def _ordinal(word: str) -> str:
    return _ORDINALS.get(word) or (word[:-1] + "ieth" if word.endswith("y") else word + "th")
