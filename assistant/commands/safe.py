"""The store while a session is set up on a page: its passphrase, and how it is opened when the session begins.

What lives here: trying a passphrase as soon as it is typed, and holding it until the session begins. What must not: the page,
or what may be kept. A passphrase is held in memory alone, and no longer than until then.
"""

import os
from contextlib import ExitStack

from assistant.commands import kept_sessions
from assistant.core.club.consent import Consent
from assistant.core.club.setting_up import Locking, Passphrase, SettingUp
from assistant.errors import KeepingError
from assistant.outputs.keeping.store import Store, cipher, is_locked, must_be_long_enough


class Safe:
    """What the set-up page's passphrase goes to.

    Args:
        stack: the store stays open until it is left.
    """

    def __init__(self, stack: ExitStack) -> None:
        self._stack = stack
        self._passphrase = ""
        self.store: Store | None = None

    @property
    def is_locked(self) -> bool:
        """Whether the store needs a passphrase."""
        return is_locked(kept_sessions.folder())

    def takes_variable(self) -> bool:
        """Whether nobody has to type the passphrase of the locked store, because the variable for it holds it."""
        given = os.environ.get(kept_sessions.PASSPHRASE)
        if not (given and self.is_locked):
            return False
        try:
            self.take(Locking.OPEN, Passphrase(given))
        except KeepingError:  # it is asked for, and what is wrong is said then
            return False
        return True

    def take(self, which: Locking, passphrase: Passphrase) -> None:
        """See whether this passphrase will do, and hold it if so. A new one changes nothing on the disk yet.

        Raises:
            KeepingError: it is another one; or a new one is too short, or was not typed twice alike.
        """
        if which is Locking.NEW:
            cipher()
            kept_sessions.must_be_the_same(passphrase.typed, passphrase.again)
            must_be_long_enough(passphrase.typed)
        else:
            kept_sessions.open_or_make(passphrase.typed).close()
        self._passphrase = passphrase.typed

    def ask(self, which: Locking) -> None:
        """Ask for it in the terminal, unseen.

        Raises:
            KeepingError: as above, or nobody is there to type it.
        """
        if which is Locking.NEW:
            typed = kept_sessions.ask_new_passphrase()
            self.take(which, Passphrase(typed, typed))
        else:
            self.take(which, Passphrase(kept_sessions.ask_passphrase("Passphrase")))

    def open(self, state: SettingUp) -> None:
        """Open the store where everybody agreed to keep something; lock it first where a new passphrase was typed for that.

        Raises:
            KeepingError: it cannot be used.
        """
        if state.asking and state.asking.ledger.level > Consent.NOTHING:
            if state.locking is Locking.NEW and not self.is_locked:
                kept_sessions.lock(lambda: self._passphrase)
            self.store = kept_sessions.opened_to_keep(self._stack, self._passphrase)
        self._passphrase = ""
