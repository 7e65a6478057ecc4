"""The ears as a whole, with fakes: a voice is a constant number, and its size says whose it is."""

from typing import TypeVar

import numpy as np
import pytest
from numpy.typing import NDArray

from assistant.events import Event, Heard, Lost, Muted, SpeechStarted, SpeechStopped, Trouble, Word
from assistant.listening.likeness import Answer
from assistant.listening.listener import Listener
from assistant.listening.microphones import Microphones
from assistant.listening.speech import SLOT_SAMPLES, Detector, Slot
from assistant.listening.voices import Part, Voices
from assistant.samples import FRAME_SAMPLES, Frame, to_samples, to_seconds
from assistant.terms import Fault, Loss, Seat

Kind = TypeVar("Kind", bound=Event)
LOUD = {"0": 0, "A": 1_000, "B": 2_000}


class EverySlot(Detector):
    """A fake: a slot is as surely voiced as it is full of sound."""

    def __init__(self) -> None:
        self.reset(0)

    def reset(self, start_sample: int) -> None:
        self._waiting_pcm = b""
        self._at = start_sample

    def hear(self, frame: Frame) -> list[Slot]:
        self._waiting_pcm += frame.pcm
        slots = []
        while len(self._waiting_pcm) >= SLOT_SAMPLES * 2:
            sound = np.frombuffer(self._waiting_pcm[: SLOT_SAMPLES * 2], dtype=np.int16)
            slots.append(Slot(self._at, float(np.mean(sound != 0))))
            self._waiting_pcm = self._waiting_pcm[SLOT_SAMPLES * 2 :]
            self._at += SLOT_SAMPLES
        return slots

    def flush(self) -> list[Slot]:
        return self.hear(Frame(0, bytes(-len(self._waiting_pcm) % (SLOT_SAMPLES * 2))))


class ByLoudness(Voices):
    """A fake: 1000 is A, 2000 is B."""

    def __init__(self) -> None:
        self.was_put_right: list[tuple[int, Seat]] = []

    def parts(self, samples: NDArray[np.int16], microphones: NDArray[np.int16] | None = None) -> list[Part]:
        """Each loudness is a part; silence belongs to what is said around it."""
        loud = np.flatnonzero(samples)
        changes = loud[1:][np.diff(samples[loud]) != 0]
        cuts = [0, *map(int, changes), len(samples)]
        seats = {LOUD["A"]: Seat.A, LOUD["B"]: Seat.B}
        spans = zip(cuts, cuts[1:], strict=False)
        return [Part(start, end, Answer(seats[samples[start:end].max()], 0.5)) for start, end in spans]

    def put_right(self, part: Part, seat: Seat) -> None:
        """Remembers it."""
        self.was_put_right.append((part.end_sample - part.start_sample, seat))


class OneWord:
    """A fake: hears one word, as long as the sound it was given."""

    name = "one word"

    def recognise(self, pcm: bytes, start_sample: int) -> tuple[Word, ...]:
        return (Word("tower", start_sample, start_sample + len(pcm) // 2),)


class NoWord:
    """A fake that never understands."""

    name = "no word"

    def recognise(self, pcm: bytes, start_sample: int) -> tuple[Word, ...]:
        return ()


def frames(ruler: str, start_sample: int = 0) -> list[Frame]:
    """One letter is one frame of 30 ms: 0 silence, A and B voices."""
    sound = (np.full(FRAME_SAMPLES, LOUD[letter], dtype=np.int16).tobytes() for letter in ruler)
    return [Frame(start_sample + number * FRAME_SAMPLES, pcm) for number, pcm in enumerate(sound)]


def listen(heard: list[Frame], mute: str = "", listener: Listener | None = None) -> list[Event]:
    """All events of these frames; ``mute`` is a ruler too, 1 for muted."""
    ears = listener or Listener(EverySlot(), ByLoudness(), OneWord())
    shut = [letter == "1" for letter in mute.ljust(len(heard), "0")]
    events = [event for frame, muted in zip(heard, shut, strict=True) for event in ears.hear(frame, muted)]
    return events + ears.finish()


def only(kind: type[Kind], events: list[Event]) -> list[Kind]:
    return [event for event in events if isinstance(event, kind)]


def test_a_turn_is_started_stopped_and_heard_with_seat_and_words() -> None:
    started, stopped, heard = listen(frames("0000" + "A" * 20 + "0" * 10))
    assert isinstance(started, SpeechStarted) and isinstance(stopped, SpeechStopped) and isinstance(heard, Heard)
    assert abs(started.start_sample - 4 * FRAME_SAMPLES) <= to_samples(0.03)
    assert abs(stopped.end_sample - 24 * FRAME_SAMPLES) <= to_samples(0.03)
    assert (heard.unit, heard.seat, heard.margin, heard.text) == (1, Seat.A, 0.5, "tower")
    assert (heard.start_sample, heard.end_sample) == (started.start_sample, stopped.end_sample)


def test_a_turn_is_heard_about_two_hundred_milliseconds_after_its_end() -> None:
    (heard,) = only(Heard, listen(frames("A" * 20 + "0" * 20)))
    assert 0.2 <= to_seconds(heard.sample - 20 * FRAME_SAMPLES) <= 0.24


def test_the_recogniser_hears_a_little_more_than_the_turn() -> None:
    (heard,) = only(Heard, listen(frames("0" * 10 + "A" * 20 + "0" * 20)))
    (word,) = heard.words
    assert heard.start_sample - word.start_sample == word.end_sample - heard.end_sample == to_samples(0.1)


def test_a_turn_without_words_is_still_a_turn() -> None:
    ears = Listener(EverySlot(), ByLoudness(), NoWord())
    (heard,) = only(Heard, listen(frames("A" * 20 + "0" * 20), listener=ears))
    assert heard.words == ()


def test_without_voices_nobody_is_named() -> None:
    ears = Listener(EverySlot(), None, OneWord())
    (heard,) = only(Heard, listen(frames("A" * 20 + "0" * 20), listener=ears))
    assert (heard.seat, heard.margin) == (Seat.UNSURE, 0.0)


def test_whoever_tells_the_voices_apart_is_told_what_was_put_right() -> None:
    voices = ByLoudness()
    ears = Listener(EverySlot(), voices, OneWord())
    one, _ = only(Heard, listen(frames("A" * 20 + "0" * 20 + "A" * 30 + "0" * 20), listener=ears))
    ears.put_right(one.unit, Seat.B)
    ears.put_right(3, Seat.B)  # nobody has heard that yet
    assert voices.was_put_right == [(one.end_sample - one.start_sample, Seat.B)]
    Listener(EverySlot(), None, OneWord()).put_right(1, Seat.B)


def test_one_voice_after_another_without_a_silence_is_two_turns() -> None:
    events = listen(frames("A" * 40 + "B" * 40 + "0" * 10))
    first, second = only(Heard, events)
    assert (first.unit, first.seat, second.unit, second.seat) == (1, Seat.A, 2, Seat.B)
    assert first.end_sample == second.start_sample == 40 * FRAME_SAMPLES
    assert len(only(SpeechStarted, events)) == len(only(SpeechStopped, events)) == 1


def test_turns_are_counted_and_the_last_is_heard_though_the_sound_ends() -> None:
    heard = only(Heard, listen(frames("A" * 20 + "0" * 20 + "B" * 20)))
    assert [(turn.unit, turn.seat) for turn in heard] == [(1, Seat.A), (2, Seat.B)]


def test_nothing_is_heard_while_muted_and_the_span_is_told_when_hearing_resumes() -> None:
    #        turn A            the cue           turn B
    sound = "A" * 20 + "0" * 10 + "B" * 20 + "0" * 10 + "A" * 20 + "0" * 10
    mute = "0" * 30 + "1" * 20 + "0" * 40
    events = listen(frames(sound), mute)
    assert [turn.seat for turn in only(Heard, events)] == [Seat.A, Seat.A]
    assert only(Muted, events) == [Muted(51 * FRAME_SAMPLES, 30 * FRAME_SAMPLES, 50 * FRAME_SAMPLES)]


def test_a_turn_that_the_muting_cuts_ends_there() -> None:
    events = listen(frames("A" * 40 + "0" * 10), "0" * 20 + "1" * 30)
    (heard,) = only(Heard, events)
    assert heard.sample == 21 * FRAME_SAMPLES
    assert heard.end_sample <= 20 * FRAME_SAMPLES
    assert events[-1] == Muted(50 * FRAME_SAMPLES, 20 * FRAME_SAMPLES, 50 * FRAME_SAMPLES)


def test_a_jump_of_the_time_line_is_lost_sound_and_ends_the_turn() -> None:
    late = to_samples(3)
    events = listen(frames("A" * 20) + frames("B" * 20 + "0" * 10, start_sample=late))
    first, second = only(Heard, events)
    assert first.end_sample <= 20 * FRAME_SAMPLES and second.start_sample >= late
    (lost,) = only(Lost, events)
    assert (lost.sample, lost.start_sample, lost.end_sample) == (late + FRAME_SAMPLES, 20 * FRAME_SAMPLES, late)
    assert events.index(first) < events.index(lost) < events.index(second)


def test_lost_sound_is_told_with_the_reason_that_its_frame_gives() -> None:
    after = frames("0" * 3, start_sample=to_samples(3))
    (lost,) = listen(frames("0" * 3) + [after[0]._replace(lost=Loss.BEHIND), *after[1:]])
    assert lost == Lost(after[0].end_sample, 3 * FRAME_SAMPLES, to_samples(3), Loss.BEHIND)


def away(*seconds: float) -> list[Frame]:
    """The frames of silence that come one by one while the device is away, and then a second of sound."""
    return [
        frame._replace(lost=None if number else Loss.AWAY)
        for at_s in seconds
        for number, frame in enumerate(frames("0" * 33 if at_s == seconds[-1] else "0", start_sample=to_samples(at_s)))
    ]


def test_a_device_that_is_away_is_told_when_it_goes_and_when_it_is_back_and_its_loss_once() -> None:
    heard = frames("0" * 10) + away(3, 3.25, 3.5, 4)
    went, back, lost = listen(heard)
    assert went == Trouble(to_samples(3.03), Fault.AWAY, None, over=False)
    assert back == Trouble(to_samples(4.06), Fault.AWAY, None, over=True)
    assert lost == Lost(to_samples(4.06), to_samples(0.3), to_samples(4), Loss.AWAY)


def test_a_device_that_never_comes_back_is_lost_until_the_end() -> None:
    events = listen(frames("0" * 10) + away(3, 3.25)[:2])
    assert only(Lost, events) == [Lost(to_samples(3.28), to_samples(0.3), to_samples(3.28), Loss.AWAY)]


def test_what_was_lost_before_a_cue_and_the_cue_do_not_overlap() -> None:
    gone = away(3, 3.25, 3.5, 4)
    events = listen(frames("0" * 10) + gone, "0" * 11 + "1" * 10)
    (lost,), (muted,) = only(Lost, events), only(Muted, events)
    assert (lost.start_sample, lost.end_sample) == (to_samples(0.3), muted.start_sample)


def test_sound_lost_while_muted_is_part_of_the_muted_span() -> None:
    late = frames("0" * 10, start_sample=to_samples(3))
    events = listen(frames("0" * 10) + late, "0" * 5 + "1" * 10 + "0" * 5)
    assert only(Lost, events) == []
    assert only(Muted, events) == [Muted(late[5].end_sample, 5 * FRAME_SAMPLES, late[4].end_sample)]


def test_the_time_line_begins_where_the_first_frame_says() -> None:
    events = listen(frames("A" * 20 + "0" * 10, start_sample=to_samples(60)))
    assert only(Lost, events) == []
    assert only(Heard, events)[0].start_sample >= to_samples(60)


def test_a_voice_that_never_stops_is_heard_in_parts_and_stops_once() -> None:
    events = listen(frames("A" * 1150 + "0" * 10))  # 34.5 s
    assert len(only(Heard, events)) == 3
    assert len(only(SpeechStarted, events)) == len(only(SpeechStopped, events)) == 1


def test_with_a_microphone_a_seat_the_words_come_from_the_loudest() -> None:
    # B's voice reaches A's microphone half as loud: 6 dB.
    near, far = frames("00" + "B" * 40 + "0" * 10), frames("00" + "A" * 40 + "0" * 10)
    sound = [Frame(one.start_sample, one.pcm, channels=(far.pcm, one.pcm)) for one, far in zip(near, far, strict=True)]

    class Heard16(OneWord):
        def recognise(self, pcm: bytes, start_sample: int) -> tuple[Word, ...]:
            return (Word(str(np.frombuffer(pcm, dtype=np.int16).max()), start_sample, start_sample + 1),)

    ears = Listener(EverySlot(), Microphones((Seat.A, Seat.B)), Heard16())
    (heard,) = only(Heard, listen(sound, listener=ears))
    assert (heard.seat, heard.text) == (Seat.B, str(LOUD["B"]))
    assert heard.margin == pytest.approx(0.5, abs=0.01)  # twice as loud


def test_silence_makes_no_event() -> None:
    assert listen(frames("0" * 100)) == []
    assert listen([]) == []
