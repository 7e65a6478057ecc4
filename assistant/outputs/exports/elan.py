"""A session as an ELAN annotation document (EAF 2.8): a tier a seat, one for what each utterance does, one each for
muted time, lost sound and moments.

What lives here: that format, by pympi. What must not: a path, or the time of day: an EAF names the moment at which it was
written, and here that is always the same.
"""

from collections.abc import Sequence
from xml.etree import ElementTree

from pympi import Eaf
from pympi.Elan import to_adocument

from assistant.core.measures.record import read_record
from assistant.events import Event
from assistant.outputs.exports.lanes import LANES, doing, label, lanes, moments, unheard
from assistant.samples import SAMPLE_RATE

NO_DATE = "1970-01-01T00:00:00+00:00"
SHORTEST_MS = 1  # an annotation has a length, a moment has none


def elan(events: Sequence[Event]) -> str:
    """The session as the text of an EAF file. Times are in whole milliseconds, as the format has them."""
    record = read_record(events)
    eaf = Eaf(author="Tray Turns")
    eaf.adocument["DATE"] = NO_DATE
    eaf.remove_tier("default")
    for seat, said in lanes(record).items():
        eaf.add_tier(LANES[seat])
        eaf.add_tier(f"{LANES[seat]} does")
        for one in said:
            _annotate(eaf, LANES[seat], one.span.start_sample, one.span.end_sample, label(one))
            _annotate(eaf, f"{LANES[seat]} does", one.span.start_sample, one.span.end_sample, doing(one))
    for name, spans in unheard(record).items():
        eaf.add_tier(name)
        for span in spans:
            _annotate(eaf, name, span.start_sample, span.end_sample, name)
    eaf.add_tier("moments")
    for moment in moments(events):
        _annotate(eaf, "moments", moment.sample, moment.sample, moment.text)
    return ElementTree.tostring(to_adocument(eaf), encoding="unicode", xml_declaration=True)


def _annotate(eaf: Eaf, tier: str, start_sample: int, end_sample: int, text: str) -> None:
    start, end = (round(sample * 1000 / SAMPLE_RATE) for sample in (start_sample, end_sample))
    eaf.add_annotation(tier, start, max(end, start + SHORTEST_MS), text)
