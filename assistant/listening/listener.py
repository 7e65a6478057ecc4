"""The ears: frames go in, events come out.

What lives here: the order of the listening, and what happens around the ears' own gaps (muted, lost). What must not: a
device, a clock, a thread. Everything is a function of the frames, so a file and a microphone give the same events.

    frame ──► detector ──► endpoint ──► voices ──► recogniser ──► Heard
              speech?      where?       whose?     what?
"""

from collections.abc import Iterator
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from assistant.events import Event, Heard, Lost, Muted, SpeechStarted, SpeechStopped
from assistant.listening.endpoint import LONGEST_SAMPLES, Began, Ended, Endpoint
from assistant.listening.faults import Watcher
from assistant.listening.levels import faded
from assistant.listening.likeness import Answer
from assistant.listening.recognise import Recogniser
from assistant.listening.speech import Detector, Slot
from assistant.listening.voices import Part
from assistant.samples import Frame, to_samples
from assistant.terms import Loss, Seat

_MARGIN_SAMPLES = to_samples(0.1)  # heard by the recogniser on either side: a soft onset is not cut off
_TAPE_SAMPLES = LONGEST_SAMPLES + to_samples(5)
_FADED_LEAD_SAMPLES = to_samples(0.052)  # how early the level is: chosen as the endpoint's lags were
_EARLIER_SAMPLES, _LATER_SAMPLES = to_samples(0.3), to_samples(0.1)  # how far the level may move what the detector says


class Whose(Protocol):
    """Tells the seats of a stretch of speech apart, by their voices or by their microphones."""

    @property
    def owners(self) -> tuple[Seat, ...]:
        """Whose microphone each is, in the order of ``Frame.channels``; nobody's where one hears all."""
        ...

    def parts(self, samples: NDArray[np.int16], microphones: NDArray[np.int16]) -> list[Part]:
        """Who spoke it.

        Args:
            samples: int16 [n], the mix.
            microphones: int16 [n, microphones], each microphone alone; no columns where there is only one.
        """
        ...

    def put_right(self, part: Part, seat: Seat) -> None:
        """Somebody said whose this part was."""
        ...


class Tape:
    """The last seconds of sound, in memory: the mix, and beside it each microphone where every seat has one."""

    def __init__(self, start_sample: int) -> None:
        self.start_sample = start_sample
        self._tracks = 1
        self._pcm = bytearray()  # int16, all tracks of a sample side by side

    @property
    def end_sample(self) -> int:
        """The first sample that was not heard yet."""
        return self.start_sample + len(self._pcm) // (2 * self._tracks)

    def add(self, frame: Frame) -> None:
        """Append a frame; what is older than a long unit is forgotten."""
        self._tracks = 1 + len(frame.channels)
        self._pcm += _side_by_side(frame) if frame.channels else frame.pcm
        excess = self.end_sample - self.start_sample - _TAPE_SAMPLES
        if excess > 0:
            del self._pcm[: excess * 2 * self._tracks]
            self.start_sample += excess

    def cut(self, start_sample: int, end_sample: int) -> tuple[int, NDArray[np.int16]]:
        """What lies between two samples, as far as the tape holds it: where it begins, and int16 [n, tracks]."""
        start = max(start_sample, self.start_sample)
        first, last = ((place - self.start_sample) * 2 * self._tracks for place in (start, max(end_sample, start)))
        return start, np.frombuffer(bytes(self._pcm[first:last]), dtype=np.int16).reshape(-1, self._tracks)


def _side_by_side(frame: Frame) -> bytes:
    return np.stack([np.frombuffer(pcm, dtype=np.int16) for pcm in (frame.pcm, *frame.channels)], axis=1).tobytes()


class Listener:
    """Turns frames into what was heard.

    Args:
        detector: says where somebody speaks.
        voices: says who; None where nobody is known, and keys tell.
        recogniser: says what.
    """

    def __init__(self, detector: Detector, voices: Whose | None, recogniser: Recogniser) -> None:
        self._detector = detector
        self._voices = voices
        self._recogniser = recogniser
        self._units: list[Part] = []
        self._muted_from: int | None = None
        self._away_from: int | None = None
        self._watcher = Watcher(voices.owners if voices else ())
        self._begin(0)
        self._begun = False  # the first frame says where the time line begins

    def hear(self, frame: Frame, muted: bool = False) -> list[Event]:
        """What this frame makes known.

        Args:
            frame: the next 30 ms. Where it begins later than the last one ended, sound was lost. While the device is away,
                frames come one by one after such jumps; ``Lost`` then follows once, when the device is back.
            muted: the tool itself speaks; the sound is thrown away, and ``Muted`` follows when hearing resumes.
        """
        troubles = self._watcher.hear(frame, muted)
        return [*troubles, *self._catch_up(frame, muted), *(self._mute(frame) if muted else self._listen(frame))]

    def put_right(self, unit: int, seat: Seat) -> None:
        """Somebody said who spoke this unit; whose its voice is like may now be told better."""
        if self._voices and 0 < unit <= len(self._units):
            self._voices.put_right(self._units[unit - 1], seat)

    def finish(self) -> list[Event]:
        """What the end of the sound makes known. Nothing can be heard afterwards."""
        if self._muted_from is not None:
            return list(self._unmute(self._next_sample))
        return [*self._close(self._next_sample), *self._back(self._next_sample, self._next_sample)]

    def _catch_up(self, frame: Frame, muted: bool) -> Iterator[Event]:
        """What happened between the last frame and this one."""
        if not self._begun:
            self._begin(frame.start_sample)
        if self._muted_from is not None and not muted:
            yield from self._unmute(frame.end_sample)
        if self._muted_from is None and frame.start_sample > self._next_sample:
            yield from self._close(frame.end_sample)
            yield from self._lose(frame)
            self._begin(frame.start_sample)
        else:
            yield from self._back(frame.end_sample, self._heard_from)

    def _lose(self, frame: Frame) -> Iterator[Lost]:
        if frame.lost is not Loss.AWAY:
            yield Lost(frame.end_sample, self._next_sample, frame.start_sample, frame.lost or Loss.UNKNOWN)
        elif self._away_from is None:
            self._away_from = self._next_sample

    def _back(self, known_sample: int, heard_from: int) -> Iterator[Lost]:
        """What was lost while the device was away, if it was; sound comes again from here on."""
        if self._away_from is not None:
            yield Lost(known_sample, self._away_from, heard_from, Loss.AWAY)
            self._away_from = None

    def _listen(self, frame: Frame) -> Iterator[Event]:
        self._next_sample = frame.end_sample
        self._tape.add(frame)
        yield from self._follow(self._detector.hear(frame), frame.end_sample)

    def _mute(self, frame: Frame) -> Iterator[Event]:
        if self._muted_from is None:
            yield from self._close(frame.end_sample)
            self._muted_from = frame.start_sample
        self._next_sample = frame.end_sample

    def _unmute(self, known_sample: int) -> Iterator[Event]:
        assert self._muted_from is not None
        yield Muted(known_sample, self._muted_from, self._next_sample)
        self._muted_from = None
        self._begin(self._next_sample)

    def _begin(self, start_sample: int) -> None:
        """Hear on from here, without what was heard before."""
        self._begun = True
        self._next_sample = self._heard_from = start_sample
        self._detector.reset(start_sample)
        self._endpoint = Endpoint()
        self._tape = Tape(start_sample)

    def _close(self, known_sample: int) -> Iterator[Event]:
        """No more sound follows on what was heard so far."""
        yield from self._follow(self._detector.flush(), known_sample)
        if (speech := self._endpoint.finish()) is not None:
            yield from self._heard(speech, known_sample)

    def _follow(self, slots: list[Slot], known_sample: int) -> Iterator[Event]:
        for slot in slots:
            match self._endpoint.hear(slot):
                case Began(start_sample):
                    yield SpeechStarted(known_sample, max(start_sample, self._tape.start_sample))
                case Ended() as speech:
                    yield from self._heard(speech, known_sample)

    def _heard(self, speech: Ended, known_sample: int) -> Iterator[Event]:
        start_sample, sound = self._tape.cut(speech.start_sample, self._end(speech))
        if not speech.goes_on:
            yield SpeechStopped(known_sample, start_sample + len(sound))
        for part in self._parts(sound):
            yield self._understood(part, start_sample, known_sample)

    def _end(self, speech: Ended) -> int:
        """Half way between where the detector and where the level say that speech ended: neither is right in every room."""
        if speech.goes_on:
            return speech.end_sample
        latest = min(speech.end_sample + _LATER_SAMPLES, self._tape.end_sample)
        start_sample, sound = self._tape.cut(speech.start_sample, latest)
        by_level = start_sample + faded(sound[:, 0]) + _FADED_LEAD_SAMPLES
        return (speech.end_sample + min(max(by_level, speech.end_sample - _EARLIER_SAMPLES), latest)) // 2

    def _parts(self, sound: NDArray[np.int16]) -> list[Part]:
        if not len(sound):
            return []
        if self._voices is None:
            return [Part(0, len(sound), Answer(Seat.UNSURE, 0.0))]
        return self._voices.parts(sound[:, 0], sound[:, 1:])

    def _understood(self, part: Part, offset: int, known_sample: int) -> Heard:
        start_sample, end_sample = offset + part.start_sample, offset + part.end_sample
        said_from, said = self._tape.cut(start_sample - _MARGIN_SAMPLES, end_sample + _MARGIN_SAMPLES)
        words = self._recogniser.recognise(said[:, part.track].tobytes(), said_from)
        self._units.append(part)
        return Heard(known_sample, len(self._units), start_sample, end_sample, part.answer.seat, part.answer.margin, words)
