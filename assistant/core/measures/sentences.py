"""A summary in sentences that a parent understands.

What lives here: filling in the sentences of ``shared/measures.toml``. What must not: a sentence, a number of its own, a name
that was not handed in.
"""

from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from assistant.core.measures.definitions import Measure, Measures
from assistant.core.measures.finding import Verdict
from assistant.core.measures.spread import FEW, Spread
from assistant.core.measures.summary import Summary
from assistant.core.measures.talk import Share
from assistant.core.measures.vocabulary import Sample, Vocabulary
from assistant.core.wording import counted
from assistant.samples import clock_face, to_samples, to_seconds
from assistant.terms import Seat

MINUTE = to_samples(60)

_Own = Mapping[Seat, str | None]
"""A number of each child that has one; None where there is too little to say it."""

Filled = Mapping[str, object] | None
"""What a sentence is filled with; None when there is nothing to count."""


@dataclass(frozen=True, slots=True)
class Line:
    """One sentence of a summary, the key of the measure that it tells, and the title of the section it stands in."""

    measure: str
    section: str
    text: str


def in_words(summary: Summary, measures: Measures, names: Mapping[Seat, str] | None = None) -> tuple[Line, ...]:
    """The summary in sentences, in the order of the definitions; what there was none of is left out.

    Args:
        measures: the definitions, with the sentences.
        names: what to call the seats; a seat without a name is called by its letter.
    """
    speaker = _Speaker(measures.words, names or {})
    told = ((one, _sentence(one, summary, speaker)) for one in measures.by_key.values() if one.key in _FILLED)
    lines = (Line(one.key, measures.sections[one.section], text) for one, text in told if text)
    return (*lines, *_apart(summary, measures, speaker))


def _apart(summary: Summary, measures: Measures, speaker: "_Speaker") -> Iterator[Line]:
    """What is told of each child by itself, and before it that it is no comparison; what is too few in one line."""
    told = {key: own(summary.vocabulary) for key, own in _APART.items()} if summary.vocabulary else {}
    title = measures.sections["words"]
    children = [seat for seat in summary.children if any(seat in own for own in told.values())]
    if children:
        yield Line("", title, speaker.words["apart"])
    for seat in children:
        own = {key: those[seat] for key, those in told.items() if seat in those}
        said = [(key, measures[key].say.format(own=value)) for key, value in own.items() if value is not None]
        if few := ", ".join(measures[key].name for key, value in own.items() if value is None):
            said.append(("", speaker.words["too_few_for"].format(names=few)))
        yield from (Line(key, title, speaker.words["of_one"].format(seat=speaker.seat(seat), text=text)) for key, text in said)


def in_short(summary: Summary, measures: Measures) -> tuple[Line, ...]:
    """The summary in a few lines, for a parent who has three children to put to bed."""
    texts = measures.short
    return tuple(Line(key, texts["title"], texts[key].format_map(filled)) for key, filled in _short(summary, texts) if filled)


def _short(summary: Summary, texts: Mapping[str, Any]) -> Iterator[tuple[str, Filled]]:
    def times(number: int) -> str:
        forms: Sequence[str] = texts["times"]
        return forms[min(number, len(forms) - 1)].format(number=number)

    building, finding, repairs, adult = summary.building, summary.finding, summary.repairs, summary.adult
    asked, back, prompts = len(finding.requests), len(repairs.repairs), adult.indirect + adult.direct
    yield "built", {"done": building.steps_done, "steps": building.steps_in_plan, "swaps": times(building.swaps)}
    enough = sum(one.first is Verdict.ENOUGH for one in finding.requests)
    yield "requests", {"times": times(asked), "enough": enough, "cleared": finding.cleared} if asked else None
    untold = back - repairs.told
    key = "asked_back" if not untold else "asked_back_untold" if repairs.told else "asked_back_unknown"
    yield key, {"times": times(back), "mended": times(repairs.solved), "untold": untold} if back else None
    yield "praise", {"times": times(adult.specific)} if adult.specific else None
    yield "wondered", {"times": times(adult.indirect), "direct": times(adult.direct)} if prompts else None


def _sentence(measure: Measure, summary: Summary, speaker: "_Speaker") -> str:
    filled = _FILLED[measure.key](summary, speaker)
    if filled is None:
        return measure.unknown if measure.unknown and summary.talk.unsure.talk_samples else measure.nothing
    return measure.say.format_map(counted(filled))


class _Speaker:
    """Says numbers and seats."""

    def __init__(self, words: Mapping[str, str], names: Mapping[Seat, str]) -> None:
        self.words = words
        self.names = {Seat.FACILITATOR: words["adult"], Seat.UNSURE: words["unsure"], **names}

    def seat(self, seat: Seat) -> str:
        return self.names.get(seat, seat.value)

    def seconds(self, samples: float) -> str:
        return self.words["seconds"].format(seconds=f"{to_seconds(round(samples)):.1f}")

    def length(self, samples: int) -> str:
        """A length: in seconds below a minute, from there on as a clock shows it."""
        return self.words["minutes"].format(clock=clock_face(samples)) if samples >= MINUTE else self.seconds(samples)

    def spread(self, spread: Spread) -> str:
        middle, quartiles = spread.median_samples, spread.quartiles_samples
        if middle is None or quartiles is None:
            return self.few(spread.count)
        lower, upper = map(self.seconds, quartiles)
        return self.words["spread"].format(median=self.seconds(middle), lower=lower, upper=upper, count=spread.count)

    def few(self, count: int) -> str:
        return self.words["too_few"].format(count=count) if count else self.words["none"]

    def more(self, key: str, count: int) -> str:
        """What is added to a sentence where there is something to add."""
        return self.words[key].format(count=count) if count else ""

    def each(self, pairs: Iterable[tuple[str, object]]) -> str:
        return ", ".join(f"{name} {value}" for name, value in pairs) or self.words["none"]

    def shares(self, summary: Summary, say: Callable[[Share], object]) -> str:
        return self.each((self.seat(one.share.seat), say(one.share)) for one in summary.talk.seats)


def _time(summary: Summary, speaker: _Speaker) -> Filled:
    time = summary.talk.time
    return {
        "length": clock_face(time.whole_samples),
        "speech": clock_face(time.speech_samples),
        "muted": speaker.length(time.muted_samples),
        "lost": speaker.length(time.lost_samples),
    }


def _turns(summary: Summary, speaker: _Speaker) -> Filled:
    return {"each": speaker.shares(summary, lambda share: share.turns)} if _talked(summary) else None


def _talk(summary: Summary, speaker: _Speaker) -> Filled:
    return {"each": speaker.shares(summary, lambda share: speaker.length(share.talk_samples))} if _talked(summary) else None


def _talked(summary: Summary) -> bool:
    return any(one.share.turns for one in summary.talk.seats)


def _roles(summary: Summary, speaker: _Speaker) -> Filled:
    roles = [(f"{speaker.seat(share.seat)} {share.role}", share.turns) for share in summary.talk.by_role]
    return {"each": speaker.each(roles)} if roles else None


def _margin(summary: Summary, speaker: _Speaker) -> Filled:
    margins = [(speaker.seat(one.share.seat), f"{one.margin:.2f}") for one in summary.talk.seats if one.margin]
    return {"each": speaker.each(margins), "corrections": summary.building.corrections} if margins else None


def _evenness(summary: Summary, speaker: _Speaker) -> Filled:
    turns, talk = summary.talk.turn_evenness, summary.talk.talk_evenness
    return None if turns is None or talk is None else {"turns": f"{turns:.3f}", "talk": f"{talk:.3f}"}


def _overlaps(summary: Summary, speaker: _Speaker) -> Filled:
    between, within = summary.talk.overlaps_between, summary.talk.overlaps_within
    seconds = speaker.seconds(sum(between.values_samples) + sum(within.values_samples))
    return {"between": between.count, "within": within.count, "seconds": seconds} if between.count + within.count else None


def _silence(summary: Summary, speaker: _Speaker) -> Filled:
    silences = [(speaker.seat(one.share.seat), clock_face(one.longest_silence_samples)) for one in summary.talk.seats]
    return {"each": speaker.each(silences)} if _talked(summary) else None


def _lapses(summary: Summary, speaker: _Speaker) -> Filled:
    lapses = summary.talk.lapses.values_samples
    return {"count": len(lapses), "longest": clock_face(max(lapses))} if lapses else None


def _unsure(summary: Summary, speaker: _Speaker) -> Filled:
    share = summary.talk.unsure_share
    return {"share": f"{share:.0%}", "units": summary.talk.unsure_units} if share is not None else None


def _requests(summary: Summary, speaker: _Speaker) -> Filled:
    requests = summary.finding.requests
    each = speaker.each((speaker.seat(seat), sum(one.seat is seat for one in requests)) for seat in summary.children)
    return {"count": len(requests), "each": each} if requests else None


def _open(summary: Summary, speaker: _Speaker) -> Filled:
    finding = summary.finding
    if not finding.requests:
        return None
    return {"open": len(finding.opened), "count": len(finding.requests), "cleared": finding.cleared}


def _verdicts(summary: Summary, speaker: _Speaker) -> Filled:
    finding = summary.finding
    return {verdict.name.lower(): count for verdict, count in finding.verdicts.items()} if finding.requests else None


def _bits(summary: Summary, speaker: _Speaker) -> Filled:
    bits = [one.bits for one in summary.finding.requests if one.bits is not None]
    return {"mean": f"{sum(bits) / len(bits):.1f}", "count": len(bits)} if len(bits) >= FEW else None


def _attributes(summary: Summary, speaker: _Speaker) -> Filled:
    finding = summary.finding
    where = sum(one.says_where for one in finding.requests)
    return {"each": speaker.each(finding.kinds.items()), "where": where} if finding.requests else None


def _landmarks(summary: Summary, speaker: _Speaker) -> Filled:
    where = [one for one in summary.finding.requests if one.says_where]
    kinds = [one.landmark_kinds for one in where if one.landmark_kinds is not None]
    clear, nothing = kinds.count(1), kinds.count(0)
    counts = {"named": len(kinds), "clear": clear, "open": len(kinds) - clear - nothing, "nothing": nothing}
    built = speaker.words["built"].format(**counts) if summary.finding.knows_built else ""
    return {"where": len(where), "built": built} if where else None


def _more(summary: Summary, speaker: _Speaker) -> Filled:
    more = summary.finding.more_than_needed
    return None if more is None else {"more": more, "enough": summary.finding.verdicts[Verdict.ENOUGH]}


def _samples(choose: Callable[[Sample], float | None], form: str = "") -> Callable[[Vocabulary], _Own]:
    """One number of each describer; None where its sample was too small for it."""

    def say(value: float | None) -> str | None:
        return None if value is None else format(value, form)

    return lambda vocabulary: {one.seat: say(choose(one)) for one in vocabulary.samples if one.describes}


def _new_words(vocabulary: Vocabulary) -> _Own:
    return {one.seat: str(one.new) for one in vocabulary.taken if one.new is not None}


def _borrowed(vocabulary: Vocabulary) -> _Own:
    return {one.seat: str(one.borrowed) for one in vocabulary.taken if one.words}


def _repairs(summary: Summary, speaker: _Speaker) -> Filled:
    kinds = summary.repairs.kinds
    count = sum(kinds.values())
    return {"count": count, **{kind.name.lower(): number for kind, number in kinds.items()}} if count else None


def _mended(summary: Summary, speaker: _Speaker) -> Filled:
    repairs = summary.repairs
    if not repairs.repairs:
        return None
    mended = Counter(repair.mended for repair in repairs.repairs if repair.solved)
    each = speaker.each(
        (speaker.seat(seat) if seat else speaker.words["by_building"], mended[seat])
        for seat in sorted(mended, key=lambda seat: (seat is None, seat))
    )
    untold = speaker.more("untold", len(repairs.repairs) - repairs.told)
    counts = {"solved": repairs.solved, "count": repairs.told, "untold": untold}
    return {**counts, "each": each, "spread": speaker.spread(repairs.lasted)}


def _answer(summary: Summary, speaker: _Speaker) -> Filled:
    waits = summary.waits
    counts = {"unanswered": waits.unanswered, "helped": waits.helped, "left_out": waits.answers_left_out}
    answered, count = waits.to_answer.count, len(summary.finding.requests)
    return {"spread": speaker.spread(waits.to_answer), "answered": answered, "count": count, **counts} if count else None


def _action(summary: Summary, speaker: _Speaker) -> Filled:
    waits = summary.waits
    return {"spread": speaker.spread(waits.to_action), "left_out": waits.actions_left_out} if summary.finding.requests else None


def _own_wait(summary: Summary, speaker: _Speaker) -> Filled:
    waits = [(speaker.seat(own.seat), speaker.spread(own.waits)) for own in summary.waits.own if own.waits.count]
    return {"each": speaker.each(waits)} if waits else None


def _first_wait(summary: Summary, speaker: _Speaker) -> Filled:
    waits = summary.waits
    left_out = speaker.more("left_out", len(waits.prompts) - waits.first.count)
    counts = {"answered": waits.prompts_answered, "prompts": waits.first.count, "left_out": left_out}
    return {"spread": speaker.spread(waits.first), **counts} if waits.prompts else None


def _prompts(summary: Summary, speaker: _Speaker) -> Filled:
    adult = summary.adult
    count = adult.indirect + adult.direct
    share = f"{adult.indirect / count:.0%}" if count >= FEW else speaker.few(count)
    return {"indirect": adult.indirect, "direct": adult.direct, "share": share} if count else None


def _praise(summary: Summary, speaker: _Speaker) -> Filled:
    adult = summary.adult
    return {"specific": adult.specific, "general": adult.general} if adult.specific + adult.general else None


def _rules(summary: Summary, speaker: _Speaker) -> Filled:
    rules = summary.adult.rules
    return {"each": speaker.each((speaker.seat(one.seat), one.times) for one in rules)} if rules else None


def _adult_share(summary: Summary, speaker: _Speaker) -> Filled:
    adult = summary.adult
    if not adult.all_talk_samples:
        return None
    share = f"{adult.talk_samples / adult.all_talk_samples:.0%}" if adult.talk_samples else speaker.words["not_heard"]
    return {"share": share}


def _answered(summary: Summary, speaker: _Speaker) -> Filled:
    adult = summary.adult
    could = adult.indirect + adult.direct + len(summary.repairs.repairs)
    if adult.mended_for is None or adult.answered_own is None or not could:
        return None
    return {"mended": adult.mended_for, "own": adult.answered_own}


def _prompted(summary: Summary, speaker: _Speaker) -> Filled:
    waits = summary.waits
    answered = waits.to_answer.count
    return {"alone": answered - waits.helped, "helped": waits.helped} if answered and len(summary.children) == 2 else None


def _building(summary: Summary, speaker: _Speaker) -> Filled:
    building = summary.building
    return {
        "done": building.steps_done,
        "steps": building.steps_in_plan,
        "swaps": building.swaps,
        "passes": building.passes,
    }


def _tallies(summary: Summary, speaker: _Speaker) -> Filled:
    tallies = summary.building.tallies
    each = speaker.each((f"{speaker.seat(tally.seat)} {tally.what or '–'}", tally.times) for tally in tallies)
    return {"each": each} if tallies else None


def _spread(choose: Callable[[Summary], Spread]) -> Callable[[Summary, _Speaker], Filled]:
    def fill(summary: Summary, speaker: _Speaker) -> Filled:
        spread = choose(summary)
        return {"spread": speaker.spread(spread)} if spread.count else None

    return fill


_FILLED: Mapping[str, Callable[[Summary, _Speaker], Filled]] = {
    "time": _time,
    "turns": _turns,
    "talk": _talk,
    "roles": _roles,
    "evenness": _evenness,
    "offsets": _spread(lambda summary: summary.talk.offsets),
    "pauses": _spread(lambda summary: summary.talk.pauses),
    "overlaps": _overlaps,
    "silence": _silence,
    "lapses": _lapses,
    "unsure": _unsure,
    "margin": _margin,
    "requests": _requests,
    "open": _open,
    "verdicts": _verdicts,
    "bits": _bits,
    "attributes": _attributes,
    "landmarks": _landmarks,
    "more": _more,
    "repairs": _repairs,
    "mended": _mended,
    "answer": _answer,
    "action": _action,
    "own_wait": _own_wait,
    "first_wait": _first_wait,
    "second_wait": _spread(lambda summary: summary.waits.second),
    "next_word": _spread(lambda summary: summary.waits.next_word),
    "prompts": _prompts,
    "praise": _praise,
    "rules": _rules,
    "adult_share": _adult_share,
    "answered": _answered,
    "prompted": _prompted,
    "building": _building,
    "tallies": _tallies,
}

_APART: Mapping[str, Callable[[Vocabulary], _Own]] = {
    "words": _samples(lambda sample: sample.words),
    "ndw": _samples(lambda sample: sample.ndw),
    "ttr": _samples(lambda sample: sample.ttr, ".2f"),
    "mattr": _samples(lambda sample: sample.mattr, ".2f"),
    "mtld": _samples(lambda sample: sample.mtld, ".0f"),
    "hdd": _samples(lambda sample: sample.hdd, ".2f"),
    "mlu": _samples(lambda sample: sample.mlu, ".1f"),
    "new_words": _new_words,
    "borrowed": _borrowed,
}
"""What is told child by child, so that nobody reads one beside another."""
