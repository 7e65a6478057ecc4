"""A session as a Praat TextGrid, long form: an interval tier a seat, one each for muted time and lost sound, and a point
tier for moments.

What lives here: that format, by praatio. What must not: a path; praatio would write a file, so its text is taken instead.
"""

from collections.abc import Sequence

from praatio.data_classes.interval_tier import IntervalTier
from praatio.data_classes.point_tier import PointTier
from praatio.data_classes.textgrid import Textgrid, _tgToDictionary
from praatio.utilities.constants import Interval, Point
from praatio.utilities.textgrid_io import getTextgridAsStr

from assistant.core.measures.record import read_record
from assistant.events import Event
from assistant.outputs.exports.lanes import LANES, label, lanes, moments, unheard
from assistant.samples import to_seconds


def textgrid(events: Sequence[Event]) -> str:
    """The session as the text of a TextGrid. Times are in seconds."""
    record = read_record(events)
    points = moments(events)
    spans = [record.span, *(one.span for one in record.utterances), *record.muted, *record.lost]
    end = to_seconds(max([1, *(span.end_sample for span in spans), *(one.sample for one in points)]))
    grid = Textgrid(0, end)
    for seat, said in lanes(record).items():
        entries = [Interval(*_seconds(one.span.start_sample, one.span.end_sample), label(one)) for one in said]
        grid.addTier(IntervalTier(LANES[seat], entries, 0, end))
    for name, stretches in unheard(record).items():
        entries = [Interval(*_seconds(span.start_sample, span.end_sample), name) for span in stretches]
        grid.addTier(IntervalTier(name, entries, 0, end))
    grid.addTier(PointTier("moments", [Point(to_seconds(one.sample), one.text) for one in points], 0, end))
    return str(getTextgridAsStr(_tgToDictionary(grid), "long_textgrid", includeBlankSpaces=True))


def _seconds(start_sample: int, end_sample: int) -> tuple[float, float]:
    return to_seconds(start_sample), to_seconds(end_sample)
