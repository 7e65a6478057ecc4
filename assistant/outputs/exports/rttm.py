"""Who spoke when, as RTTM (NIST, Rich Transcription 2009 evaluation plan, appendix A): one line a stretch of speech.

What lives here: that format. What must not: words; the format has no place for them.
"""

from collections.abc import Iterable

from assistant.events import Corrected, Event, Heard
from assistant.outputs.exports.lanes import LANES
from assistant.samples import to_seconds
from assistant.terms import Seat


def rttm_lines(events: Iterable[Event], name: str) -> list[str]:
    """One RTTM line for each heard unit, the facilitator's corrections applied."""
    heard: dict[int, Heard] = {}
    seats: dict[int, Seat] = {}
    for event in events:
        if isinstance(event, Heard):
            heard[event.unit], seats[event.unit] = event, event.seat
        elif isinstance(event, Corrected):
            seats[event.unit] = event.seat
    return [_rttm_line(unit, seats[number], name) for number, unit in heard.items()]


def _rttm_line(unit: Heard, seat: Seat, name: str) -> str:
    start, length = to_seconds(unit.start_sample), to_seconds(unit.end_sample - unit.start_sample)
    place = "_".join(name.split()) or "session"
    return f"SPEAKER {place} 1 {start:.5f} {length:.5f} <NA> <NA> {LANES[seat]} <NA> <NA>\n"
