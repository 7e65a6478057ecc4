"""The words of the club, as types.

What lives here: the small closed sets that everything else speaks in. What must not: behaviour.
The definitions behind them are in DEVELOPERS.md; where a term comes from a paper, it is named.
"""

from enum import StrEnum


class Seat(StrEnum):
    """A person's place in the session. Letters, never names: a letter can be kept, a name cannot."""

    A = "A"
    B = "B"
    C = "C"
    FACILITATOR = "F"
    UNSURE = "?"  # somebody spoke; the voices are too alike to say who, or none is like it


CHILDREN = (Seat.A, Seat.B, Seat.C)


class Role(StrEnum):
    """What a child does until the next swap."""

    ENGINEER = "engineer"  # alone sees the instructions, and describes
    SUPPLIER = "supplier"  # finds the piece on the tray
    BUILDER = "builder"  # fits it; with two children also asks for every piece


ROLES_BY_CHILDREN = {
    2: (Role.BUILDER, Role.SUPPLIER),
    3: (Role.ENGINEER, Role.SUPPLIER, Role.BUILDER),
}


class Phase(StrEnum):
    """The parts of a session, in their order."""

    SETTING_UP = "setting up"
    BUILDING = "building"
    ADMIRING = "admiring"  # the model is finished before clear-away time: look at it together
    CLEARING = "clearing away"
    OVER = "over"


class Act(StrEnum):
    """What an utterance does, as far as its words tell."""

    REQUEST = "request"  # the describer or the builder asks for a piece
    REPAIR = "repair"  # "huh?", "which one?", "the long one?"
    STEP_DONE = "step done"
    PASS = "pass"  # a child hands its role on
    HELP = "help"
    PRAISE = "praise"
    PROMPT = "prompt"  # the facilitator asks or wonders
    RULE = "rule"  # somebody points to a rule
    OTHER = "other"


class Repair(StrEnum):
    """The three ways to begin a repair (Dingemanse et al. 2015, PLoS ONE 10:e0136100)."""

    OPEN_REQUEST = "open request"  # "huh?": something was wrong, not what
    RESTRICTED_REQUEST = "restricted request"  # "which one?": asks for one part of it
    RESTRICTED_OFFER = "restricted offer"  # "the long one?": offers what it may have been


class Prompt(StrEnum):
    """How the facilitator brings something up."""

    INDIRECT = "indirect"  # "I wonder if there is more than one red piece"
    DIRECT = "direct"  # "what do you say to your brother?"


class Praise(StrEnum):
    """Whether praise names what was seen."""

    SPECIFIC = "specific"  # "you let your sister finish before you answered"
    GENERAL = "general"  # "well done"


class Cue(StrEnum):
    """What the tool says aloud. The words for each are in ``shared/cues/``."""

    BEGIN = "begin"
    SWAP_SOON = "swap soon"
    SWAP = "swap"
    PASS = "pass"
    ROLES = "roles"  # who has which role, said again
    TIME_LEFT = "time left"
    MODEL_DONE = "model done"
    CLEAR_AWAY = "clear away"
    END = "end"


class Mark(StrEnum):
    """What the facilitator can say with a key."""

    BEGIN = "begin"  # set-up is over early
    STEP_DONE = "step done"
    STEP_BACK = "step back"  # that step was not done after all
    SWAP_NOW = "swap now"
    SAY_ROLES = "say roles"  # say again who has which role
    PASS = "pass"  # with the seat that passes
    PAUSE = "pause"
    RESUME = "resume"
    WHO = "who"  # with the unit and the seat that spoke it
    TALLY = "tally"  # with the seat and what was seen
    TALLY_BACK = "tally back"  # that was not seen after all: the last tally of this seat and kind
    CLEAR_AWAY = "clear away"
    STOP = "stop"
    WITHDRAW = "withdraw"  # with the seat that no longer agrees that anything is kept


class Loss(StrEnum):
    """Why sound never reached the ears."""

    AWAY = "the microphone was away"
    BEHIND = "the computer could not keep up with the microphone"
    OVERFLOW = "the sound card could not wait"
    UNKNOWN = "the sound has a gap here"


class Fault(StrEnum):
    """What can be wrong with the sound for a while. The clock goes on; the words for each are the terminal's."""

    AWAY = "away"  # the device does not answer
    SILENT = "silent"  # it answers, and nothing at all comes from it
    CLIPPED = "clipped"  # voices are louder than it can take
    BEHIND = "behind"  # sound comes faster than it is understood
    RATE = "rate"  # it comes at another speed than the device promised, so that the session's clock is wrong


class Closing(StrEnum):
    """Why a session closed."""

    ON_TIME = "on time"
    STOPPED = "stopped"  # by the facilitator
    SOUND_ENDED = "sound ended"  # the file was over before the session was
