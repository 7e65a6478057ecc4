"""A session as a CHAT transcript (TalkBank; the CHAT manual): one line an utterance, with its times as bullets in milliseconds.

What lives here: that format. What must not: words that were not kept: ``www`` stands for them, as the manual has it for
material that is not transcribed; ``xxx`` for speech in which nothing was understood.
"""

import re
from collections.abc import Sequence

from assistant.core.measures.record import Utterance, read_record
from assistant.events import Event
from assistant.outputs.exports.lanes import doing
from assistant.samples import SAMPLE_RATE
from assistant.terms import Seat

SPEAKERS = {
    Seat.A: ("CHA", "Child"),
    Seat.B: ("CHB", "Child"),
    Seat.C: ("CHC", "Child"),
    Seat.FACILITATOR: ("ADU", "Adult"),
    Seat.UNSURE: ("UNI", "Unidentified"),
}
BULLET = "\x15"
NOT_A_WORD = re.compile(r"[^\w'-]|[\d_]")


def chat(events: Sequence[Event], name: str = "session", language: str = "eng", words_kept: bool = False) -> str:
    """The session as the text of a CHAT file.

    Args:
        name: of the file without its ending; the format has it inside, too.
        language: ISO 639-3.
        words_kept: whether an utterance without words had none, or lost them on the way.
    """
    record = read_record(events)
    there = [seat for seat in SPEAKERS if any(one.seat is seat for one in record.utterances)] or [Seat.A]
    named = ", ".join(" ".join(SPEAKERS[seat]) for seat in there)
    head = ["@UTF8", "@Begin", f"@Languages:\t{language}", f"@Participants:\t{named}"]
    head += [f"@ID:\t{language}|club|{code}|||||{role}|||" for code, role in (SPEAKERS[seat] for seat in there)]
    head += [f"@Media:\t{name}, audio, missing"]
    lines = [line for one in record.utterances for line in _lines(one, "xxx" if words_kept else "www")]
    return "\n".join([*head, *lines, "@End", ""])


def _lines(utterance: Utterance, no_words: str) -> tuple[str, str]:
    words = filter(None, (NOT_A_WORD.sub("", text).strip("'-") for text in utterance.texts))
    start, end = (round(sample * 1000 / SAMPLE_RATE) for sample in (utterance.span.start_sample, utterance.span.end_sample))
    said = " ".join(words) or no_words
    return f"*{SPEAKERS[utterance.seat][0]}:\t{said} . {BULLET}{start}_{end}{BULLET}", f"%xact:\t{doing(utterance)}"
