"""Everything that can happen in a session, as frozen values: the spine of the project.

What lives here: what was heard, what the facilitator marked, what the session made of it, and what the tool said. Pages,
summary, exports and hints are folds over a list of these. What must not: a clock, a path, a name of a person.

    ears          SpeechStarted  SpeechStopped  Heard  Muted  Lost  Trouble
    facilitator   Marked
    clock         Tick (never kept: it is the frames going by)
    session       SessionOpened  PhaseBegan  RolesSet  StepBegan  StepDone  StepUndone  Understood  Corrected
                  SwapAnnounced  Passed  Paused  Resumed  TimeLeft  Tallied  TallyUndone  Refused  SessionClosed
    voice         CueAsked  CueStarted  CueEnded  CueDropped

``sample`` is always the moment at which the event became known, on the session's own time line.
"""

from dataclasses import dataclass

from assistant.terms import Act, Closing, Cue, Fault, Loss, Mark, Phase, Praise, Prompt, Repair, Role, Seat


@dataclass(frozen=True, slots=True)
class Event:
    """Something that happened, and the sample at which it became known."""

    sample: int


# --- payloads -----------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Word:
    """One word as it was heard, in lower case, with its place on the time line."""

    text: str
    start_sample: int
    end_sample: int


@dataclass(frozen=True, slots=True)
class Request:
    """What was asked for so far. Contributions that refine one another share a ``number``.

    ``attributes`` are pairs of kind and value, ``(("colour", "red"), ("size", "long"))``, in the order they were said.
    ``fits_before`` and ``fits_after`` count the pieces on the tray before and after this request's words; ``kinds_after``
    counts the kinds of piece among the latter (two pieces that are the same in every way are one kind, and either will do).
    """

    number: int
    attributes: tuple[tuple[str, str], ...]
    quantity: int
    where: tuple[str, ...]
    fits_before: int
    fits_after: int
    kinds_after: int

    @property
    def is_open(self) -> bool:
        """More than one kind of piece fits. Not wrong: "which one?" is the skill being practised."""
        return self.kinds_after > 1


# --- ears ---------------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class SpeechStarted(Event):
    """Somebody began to speak."""

    start_sample: int


@dataclass(frozen=True, slots=True)
class SpeechStopped(Event):
    """Everybody fell silent, or what was thought to be speech was not."""

    end_sample: int


@dataclass(frozen=True, slots=True)
class Heard(Event):
    """A stretch of speech of one seat, with its words.

    ``margin`` is how much nearer (cosine) the voice is to this seat than to the next; 0 where one voice or none is known.
    """

    unit: int
    start_sample: int
    end_sample: int
    seat: Seat
    margin: float
    words: tuple[Word, ...]

    @property
    def text(self) -> str:
        """The words with spaces between."""
        return " ".join(word.text for word in self.words)


@dataclass(frozen=True, slots=True)
class Muted(Event):
    """The ears were shut while the tool itself spoke; measures leave the span out."""

    start_sample: int
    end_sample: int


@dataclass(frozen=True, slots=True)
class Lost(Event):
    """Sound that never reached the ears, and why."""

    start_sample: int
    end_sample: int
    why: Loss


@dataclass(frozen=True, slots=True)
class Trouble(Event):
    """Something began to be wrong with the sound, or is ``over``. ``seat``: whose microphone, where each has one."""

    fault: Fault
    seat: Seat | None
    over: bool


# --- facilitator and clock ----------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Marked(Event):
    """The facilitator pressed a key."""

    mark: Mark
    seat: Seat | None = None
    unit: int | None = None
    what: str = ""


@dataclass(frozen=True, slots=True)
class Tick(Event):
    """One more frame has gone by."""


# --- session ------------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class SessionOpened(Event):
    """The session began; its length is fixed from here on. ``plan`` is the plan's title."""

    plan: str
    seats: tuple[Seat, ...]
    steps: int
    end_sample: int


@dataclass(frozen=True, slots=True)
class PhaseBegan(Event):
    """The next part of the session began."""

    phase: Phase


@dataclass(frozen=True, slots=True)
class RolesSet(Event):
    """Who has which role from now on; ``round`` counts from 1."""

    round: int
    roles: tuple[tuple[Seat, Role], ...]


@dataclass(frozen=True, slots=True)
class StepBegan(Event):
    """This step, counted from 1, is the current one. ``to_swap``: steps until the swap, None when steps do not decide it."""

    step: int
    to_swap: int | None


@dataclass(frozen=True, slots=True)
class StepDone(Event):
    """This step is built. ``unit`` is the utterance that said so, None for a key."""

    step: int
    unit: int | None


@dataclass(frozen=True, slots=True)
class StepUndone(Event):
    """This step was not built after all, and is the current one again."""

    step: int


@dataclass(frozen=True, slots=True)
class Understood(Event):
    """What a heard unit does, in the role its speaker had at the time."""

    unit: int
    seat: Seat
    role: Role | None
    act: Act
    request: Request | None = None
    repair: Repair | None = None
    prompt: Prompt | None = None
    praise: Praise | None = None


@dataclass(frozen=True, slots=True)
class Corrected(Event):
    """The facilitator put right who spoke."""

    unit: int
    was: Seat
    seat: Seat


@dataclass(frozen=True, slots=True)
class SwapAnnounced(Event):
    """The children were told that a swap is near. ``steps`` until then, None when time or a component decides."""

    steps: int | None


@dataclass(frozen=True, slots=True)
class Passed(Event):
    """A seat handed its role on."""

    seat: Seat
    role: Role


@dataclass(frozen=True, slots=True)
class Paused(Event):
    """Cues stop; the clock goes on."""


@dataclass(frozen=True, slots=True)
class Resumed(Event):
    """Cues go on."""


@dataclass(frozen=True, slots=True)
class TimeLeft(Event):
    """So many minutes are left."""

    minutes: int


@dataclass(frozen=True, slots=True)
class Tallied(Event):
    """The facilitator saw something that a microphone cannot."""

    seat: Seat
    what: str


@dataclass(frozen=True, slots=True)
class TallyUndone(Event):
    """The last tally of this seat and kind was a slip of the finger."""

    seat: Seat
    what: str


@dataclass(frozen=True, slots=True)
class Refused(Event):
    """A key that could not be followed, and why, in words."""

    mark: Mark
    why: str


@dataclass(frozen=True, slots=True)
class SessionClosed(Event):
    """The session is over."""

    why: Closing


# --- voice --------------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class CueAsked(Event):
    """The session wants this said as soon as there is a gap."""

    cue: Cue
    text: str


@dataclass(frozen=True, slots=True)
class CueStarted(Event):
    """The tool begins to say this. ``waited_samples`` since it was asked; ``over_speech`` when no gap came in time."""

    cue: Cue
    text: str
    waited_samples: int
    over_speech: bool


@dataclass(frozen=True, slots=True)
class CueEnded(Event):
    """The tool has finished saying it."""

    cue: Cue


@dataclass(frozen=True, slots=True)
class CueDropped(Event):
    """The tool did not say it, and why, in words: the session was paused, or something newer made it untrue."""

    cue: Cue
    why: str
