"""Every error that a person can meet, each with one sentence: what is wrong, where, and what to do.

What lives here: the tree. What must not: printing or exiting; only ``cli.main`` turns these into a sentence and an exit code.

    TrayTurnsError
    ├── PlanError          a plan has problems (all of them, in ``problems``)
    ├── SharedError        a file in shared/ is missing or wrong
    ├── SourceError        a recording cannot be used: unreadable, empty, silent
    ├── DeviceError        microphone, loudspeaker or voice
    ├── ModelError         a recogniser, detector or voice network is missing or broken
    ├── VoicesError        enrolment is missing, too short, too quiet
    ├── SettingsError      options that do not go together
    ├── KeepingError       something could not be written where the family asked for it
    └── OutOfTurnError     an event that cannot happen in this state; the state is left as it was
"""


class TrayTurnsError(Exception):
    """The root: its text is a sentence for a person."""


class PlanError(TrayTurnsError):
    """A plan has problems; ``problems`` holds one sentence for each, with file and place."""

    def __init__(self, problems: tuple[str, ...]) -> None:
        super().__init__("\n".join(problems))
        self.problems = problems


class SharedError(TrayTurnsError):
    """A file in ``shared/`` is missing or does not hold what it must."""


class SourceError(TrayTurnsError):
    """A recording cannot be used."""


class DeviceError(TrayTurnsError):
    """A microphone, loudspeaker or voice cannot be used."""


class ModelError(TrayTurnsError):
    """A recogniser, detector or voice network is missing or broken."""


class VoicesError(TrayTurnsError):
    """The enrolled voices cannot be used."""


class SettingsError(TrayTurnsError):
    """Options that do not go together."""


class KeepingError(TrayTurnsError):
    """Something could not be written where the family asked for it."""


class OutOfTurnError(TrayTurnsError):
    """An event that cannot happen in this state. The state is left as it was."""
