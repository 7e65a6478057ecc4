"""When each word was said, for a recogniser that does not tell.

What lives here: forced alignment with pocketsphinx and the English model and dictionary that its wheel carries. What must not:
deciding which words were said.
"""

import re
from collections.abc import Iterator, Sequence
from contextlib import suppress

from pocketsphinx import Config, Decoder, get_model_path

from assistant.events import Word
from assistant.samples import SAMPLE_RATE

HOP_SAMPLES = SAMPLE_RATE // 100  # pocketsphinx counts in frames of 10 ms
_VARIANT = re.compile(r"\(\d+\)$")  # "the(2)" is another way to say "the"
_NO_WORD = ("<", "[", "+")  # how its dictionary of noises begins

# Far wider beams than pocketsphinx's own, and no second look at the lattice: words that were misheard fit badly, and then it
# finds no way through. Of 47 sentences, 40 of them read by children, it aligned 45 with its own beams (1e-48) and all with
# these; with three words in ten exchanged for others 41 of 48, and all. It takes 2 % of real time.
_WIDE = 1e-200
_SETTINGS = {"beam": _WIDE, "wbeam": _WIDE, "pbeam": _WIDE, "bestpath": False, "cmn": "batch", "lm": None, "loglevel": "FATAL"}

Span = tuple[int, int]
"""Start and end in samples, counted from the start of the stretch."""


class Aligner:
    """Places words on the time line."""

    def __init__(self) -> None:
        home = get_model_path("en-us")
        self._decoder = Decoder(Config(hmm=f"{home}/en-us", dict=f"{home}/cmudict-en-us.dict", **_SETTINGS))

    def align(self, pcm: bytes, words: Sequence[str], start_sample: int) -> tuple[Word, ...]:
        """The words, each with its place.

        A word that the dictionary does not know shares the room between its neighbours evenly, which may be none. Where the
        sound does not fit the words at all, they are spread evenly over the whole stretch.

        Args:
            pcm: int16 mono at 16 kHz.
            words: in lower case, in the order in which they were said.
            start_sample: where the stretch begins on the time line.
        """
        known = [word for word in words if self._decoder.lookup_word(word) is not None]
        found = iter(self._spans(pcm, known))
        spans = [next(found, None) if word in known else None for word in words]
        placed = zip(words, _filled(spans, len(pcm) // 2), strict=True)
        return tuple(Word(word, start_sample + start, start_sample + end) for word, (start, end) in placed)

    def _spans(self, pcm: bytes, words: list[str]) -> list[Span]:
        """One span a word, or none at all."""
        if not words or len(pcm) < 2 * HOP_SAMPLES * 3 * len(words):  # a phone needs three frames
            return []
        last = len(pcm) // 2
        with suppress(RuntimeError):
            self._decoder.set_align_text(" ".join(words))
            self._decoder.start_utt()
            try:
                self._decoder.process_raw(pcm, full_utt=True)
            finally:
                self._decoder.end_utt()
            said = [part for part in self._decoder.seg() or () if not part.word.startswith(_NO_WORD)]
            if [_VARIANT.sub("", part.word) for part in said] == words:
                return [(part.start_frame * HOP_SAMPLES, min((part.end_frame + 1) * HOP_SAMPLES, last)) for part in said]
        return []


def _filled(spans: Sequence[Span | None], end: int) -> Iterator[Span]:
    """The spans, with room found for each that is missing, from 0 to ``end``."""
    at = 0
    index = 0
    while index < len(spans):
        if (span := spans[index]) is not None:
            yield span
            at, index = span[1], index + 1
            continue
        following = next((after for after in range(index, len(spans)) if spans[after] is not None), len(spans))
        until = next((span[0] for span in spans[index:] if span is not None), end)
        missing = following - index
        edges = [at + (until - at) * part // missing for part in range(missing + 1)]
        yield from zip(edges, edges[1:], strict=False)
        at, index = until, following
