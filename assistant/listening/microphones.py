"""Whose voice is that, where each seat has a microphone of its own: whoever is loudest.

What lives here: levels compared, and the voices of the others that a microphone also hears left out. What must not: a network,
a voice, a device.

The nearest microphone hears a voice clearly louder than the others do. Where every microphone hears it alike, it is nobody's::

    microphone A   ######....##....      A      ######
    microphone B   --....############    B            ############
    microphone C   --....--------....    C
"""

import re
from collections.abc import Iterator, Mapping

import numpy as np
from numpy.typing import NDArray

from assistant.core.wording import Count
from assistant.errors import SettingsError
from assistant.listening.levels import levels
from assistant.listening.likeness import Answer
from assistant.listening.voices import Part
from assistant.samples import to_samples
from assistant.terms import Seat

_HOP_SAMPLES = to_samples(0.005)  # of ``levels``
_SMOOTH_HOPS = 20  # 100 ms
_ALIKE_DB = 3.0  # a microphone this near to the loudest also has a voice of its own; twice the distance makes 6 dB
_SPEAKING_DB = 25.0  # under the loudest moment of the stretch nobody speaks
_SHORTEST_HOPS = 50  # a quarter of a second: shorter bursts are breath, and shorter gaps belong to the speech around them
_CHANNEL = re.compile("[1-9][0-9]{0,2}")
_EDGE_HOPS = 50  # speech begins and ends where the detector says, if the microphones agree this nearly


def channels_from(text: str, children: tuple[Seat, ...]) -> dict[Seat, int]:
    """Which channel is whose microphone, of ``"A=1,B=2,F=4"``, counted from 1; nobody's where the text is empty.

    Args:
        text: as it was written after --channels.
        children: the seats that must have one; the adult may.

    Raises:
        SettingsError: it is not written like that, or a child has none, or two.
    """
    channels: dict[Seat, int] = {}
    for pair in filter(None, (part.strip() for part in text.split(","))):
        seat, channel = _channel(pair, children)
        if seat in channels:
            raise SettingsError(f"Seat {seat} is given two microphones. Name one for each: A=1,B=2.")
        if channel in channels.values():
            raise SettingsError(f"Channel {channel} is given to two seats. Each needs a microphone of its own.")
        channels[seat] = channel
    if text.strip() and not channels:
        raise SettingsError(f"The channels {text!r} name nobody. Write which channel is whose: A=1,B=2.")
    if missing := [seat.value for seat in children if channels and seat not in channels]:
        seats = f"{Count(len(missing)):seat|seats} {' and '.join(missing)}"
        raise SettingsError(f"There is no microphone for {seats}. Name one for each child: A=1,B=2.")
    return channels


def _channel(pair: str, children: tuple[Seat, ...]) -> tuple[Seat, int]:
    letter, _, number = (part.strip() for part in pair.partition("="))
    if letter.upper() not in (*children, Seat.FACILITATOR) or not _CHANNEL.fullmatch(number):
        seats = ", ".join(children)
        raise SettingsError(
            f"The channel {pair!r} cannot be read. Write a seat ({seats}, or F for the adult) and its channel: A=1,B=2."
        )
    return Seat(letter.upper()), int(number)


class Microphones:
    """One microphone a seat.

    Args:
        owners: whose microphone each is, in the order of ``Frame.channels``.
        gains_db: what to add to a seat's level where the microphones are not equally sensitive.
    """

    def __init__(self, owners: tuple[Seat, ...], gains_db: Mapping[Seat, float] | None = None) -> None:
        self.owners = owners
        self._gains_db = np.array([(gains_db or {}).get(seat, 0.0) for seat in owners])

    def parts(self, samples: NDArray[np.int16], microphones: NDArray[np.int16]) -> list[Part]:
        """Who spoke this stretch of speech. Parts may overlap; a voice that all microphones hear alike is ``?``.

        Args:
            samples: int16 [n] at 16 kHz, the mix.
            microphones: int16 [n, seats], the same stretch as each microphone heard it.
        """
        heard = np.stack([_smooth(levels(sound)) for sound in microphones.T], axis=1) + self._gains_db
        if not len(heard):
            return [Part(0, len(samples), Answer(Seat.UNSURE, 0.0))]
        parts = sorted(self._parts(heard, len(samples)), key=lambda part: part.start_sample)
        return parts or [self._part(heard, 0, len(heard), len(samples), int(heard.mean(axis=0).argmax()))]

    def _parts(self, heard: NDArray[np.float64], length: int) -> Iterator[Part]:
        loudest = heard.max(axis=1, keepdims=True)
        speaking = (heard >= loudest - _ALIKE_DB) & (loudest >= loudest.max() - _SPEAKING_DB)
        everybody = speaking.all(axis=1)
        for number in range(len(self.owners)):
            for first, last in _runs(speaking[:, number] & ~everybody):
                yield self._part(heard, first, last, length, number)
        for first, last in _runs(everybody):
            yield self._part(heard, first, last, length, None)

    def _part(self, heard: NDArray[np.float64], first: int, last: int, length: int, number: int | None) -> Part:
        start_sample = 0 if first <= _EDGE_HOPS else first * _HOP_SAMPLES
        end_sample = length if last >= len(heard) - _EDGE_HOPS else last * _HOP_SAMPLES
        if number is None:
            return Part(start_sample, end_sample, Answer(Seat.UNSURE, 0.0))
        others = np.delete(heard[first:last].mean(axis=0), number)
        ahead_db = float(heard[first:last, number].mean() - others.max()) if len(others) else 0.0
        return Part(start_sample, end_sample, Answer(self.owners[number], _margin(ahead_db)), track=number + 1)


def _margin(ahead_db: float) -> float:
    """How much louder, between 0 (alike) and 1 (the other microphones hear nothing)."""
    return float(1 - 10 ** (-max(ahead_db, 0.0) / 20))


def _smooth(loudness: NDArray[np.float64]) -> NDArray[np.float64]:
    """Levels over 100 ms: the mean of the powers."""
    if not len(loudness):
        return loudness
    width = min(_SMOOTH_HOPS, len(loudness))
    power = np.convolve(10 ** (loudness / 10), np.ones(width) / width, mode="same")
    return np.asarray(10 * np.log10(power + 1e-12))


def _runs(flags: NDArray[np.bool_]) -> Iterator[tuple[int, int]]:
    """Where flags are set, as (first, after the last); short gaps are closed, then short runs left out."""
    edges = np.flatnonzero(np.diff(np.concatenate(([False], flags, [False])).astype(np.int8)))
    runs: list[tuple[int, int]] = []
    for first, last in zip(edges[::2], edges[1::2], strict=True):
        if runs and first - runs[-1][1] < _SHORTEST_HOPS:
            runs[-1] = (runs[-1][0], int(last))
        else:
            runs.append((int(first), int(last)))
    return (run for run in runs if run[1] - run[0] >= _SHORTEST_HOPS)
