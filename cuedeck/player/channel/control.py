"""Who is there, and which of them has control."""

from __future__ import annotations

import threading
import time

from cuedeck.player.states import NotNow

LINGER_S = 5.0
"""How long a player without clients and without light waits for one."""
LONG_LINGER_S = 600.0
"""The same where a take ended while nobody was there, so that whoever comes back is told."""


class Clients:
    """The clients of one player, by their numbers."""

    def __init__(self) -> None:
        self._numbers: list[int] = []
        self._granting = threading.Lock()
        self._alone_since_s = time.monotonic()
        self.controller: int | None = None
        """The one that has control."""
        self.have_missed = False
        """Whether a take ended while nobody was there, and nobody came since."""

    def __len__(self) -> int:
        return len(self._numbers)

    def __contains__(self, client: int) -> bool:
        return client in self._numbers

    @property
    def are_given_up(self) -> bool:
        """Whether nobody has been there for so long that nobody is waited for any more."""
        linger_s = LONG_LINGER_S if self.have_missed else LINGER_S
        return not self._numbers and time.monotonic() - self._alone_since_s > linger_s

    def came(self, client: int) -> None:
        self.have_missed = False
        self._numbers.append(client)

    def left(self, client: int) -> bool:
        """Count one out; return whether it had control, which is free then."""
        if client in self._numbers:
            self._numbers.remove(client)
        self._alone_since_s = time.monotonic()
        had_control = client == self.controller
        if had_control:
            self.controller = None
        return had_control

    def grant(self, client: int) -> None:
        """Give control to the first that asks. Raises NotNow where another has it."""
        with self._granting:
            if self.controller not in self._numbers:
                self.controller = client
        if self.controller != client:
            raise NotNow(
                "another window or command has control: take it over (--take-over, or c on the screen),"
                " or close that one first"
            )
