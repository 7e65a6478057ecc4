"""A session as WebVTT (W3C), to be shown under the sound: one caption an utterance, its seat as the voice.

What lives here: that format, by webvtt-py. What must not: a path.
"""

from collections.abc import Sequence
from html import escape

from webvtt import Caption, WebVTT

from assistant.core.measures.record import read_record
from assistant.events import Event
from assistant.outputs.exports.lanes import LANES, label
from assistant.samples import SAMPLE_RATE


def vtt(events: Sequence[Event]) -> str:
    """The session as the text of a WebVTT file."""
    captions = WebVTT()
    for one in read_record(events).utterances:
        text = f"<v {LANES[one.seat]}>{escape(label(one), quote=False)}"
        captions.captions.append(Caption(_stamp(one.span.start_sample), _stamp(one.span.end_sample), text))
    return str(captions.content) + "\n"


def _stamp(sample: int) -> str:
    seconds, millis = divmod(round(sample * 1000 / SAMPLE_RATE), 1000)
    return f"{seconds // 3600:02d}:{seconds // 60 % 60:02d}:{seconds % 60:02d}.{millis:03d}"
