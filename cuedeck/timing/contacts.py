"""Contacts: from what a switch is seen to do to the edges that are meant.

Metal bounces, and long leads pick things up. A contact has changed when it is seen in its other state
for the whole of the debounce time; anything shorter never happened. Nothing is known of a contact when
it is armed, so its first state must stand as long before any edge can follow: one that is closed at
arming fires nothing until it has opened. What happens between two samples is not seen.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum

DEBOUNCE_NS = 20_000_000
"""How long a new state must stand. Switches bounce for some milliseconds: common practice, no source."""


class Edge(StrEnum):
    """A change of a contact."""

    CLOSING = "closing"
    OPENING = "opening"


class ContactState(StrEnum):
    """What is known of a contact."""

    UNKNOWN = "unknown"
    ARMING_OPEN = "arming, seen open"
    ARMING_CLOSED = "arming, seen closed"
    OPEN = "open"
    CLOSING = "closing, if it stays so"
    CLOSED = "closed"
    OPENING = "opening, if it stays so"


NEXT: Mapping[tuple[ContactState, bool], ContactState] = {
    (ContactState.UNKNOWN, False): ContactState.ARMING_OPEN,
    (ContactState.UNKNOWN, True): ContactState.ARMING_CLOSED,
    (ContactState.ARMING_OPEN, False): ContactState.ARMING_OPEN,
    (ContactState.ARMING_OPEN, True): ContactState.ARMING_CLOSED,
    (ContactState.ARMING_CLOSED, False): ContactState.ARMING_OPEN,
    (ContactState.ARMING_CLOSED, True): ContactState.ARMING_CLOSED,
    (ContactState.OPEN, False): ContactState.OPEN,
    (ContactState.OPEN, True): ContactState.CLOSING,
    (ContactState.CLOSING, False): ContactState.OPEN,
    (ContactState.CLOSING, True): ContactState.CLOSING,
    (ContactState.CLOSED, False): ContactState.OPENING,
    (ContactState.CLOSED, True): ContactState.CLOSED,
    (ContactState.OPENING, False): ContactState.OPENING,
    (ContactState.OPENING, True): ContactState.CLOSED,
}
"""The state after a sample, by the state before and whether the contact is seen closed."""

SETTLED: Mapping[ContactState, tuple[ContactState, Edge | None]] = {
    ContactState.ARMING_OPEN: (ContactState.OPEN, None),
    ContactState.ARMING_CLOSED: (ContactState.CLOSED, None),
    ContactState.CLOSING: (ContactState.CLOSED, Edge.CLOSING),
    ContactState.OPENING: (ContactState.OPEN, Edge.OPENING),
}
"""What a state that has stood for the debounce time becomes, and the edge that it was."""


@dataclass(frozen=True)
class Contact:
    """What is known of one contact; a new one is a contact that has just been armed."""

    debounce_ns: int = DEBOUNCE_NS
    state: ContactState = ContactState.UNKNOWN
    since_ns: int = 0
    """When the state began, on the clock of the samples."""

    @property
    def is_armed(self) -> bool:
        """Whether its first state has stood long enough for an edge to follow."""
        return self.state not in (ContactState.UNKNOWN, ContactState.ARMING_OPEN, ContactState.ARMING_CLOSED)

    def sampled(self, time_ns: int, is_closed: bool) -> tuple[Contact, Edge | None]:
        """Return what is known after a sample, and the edge that it completes.

        The times of samples rise. The edge began at `since_ns` of the contact before it.
        """
        state = NEXT[self.state, is_closed]
        since_ns = self.since_ns if state is self.state else time_ns
        edge = None
        if state in SETTLED and time_ns - since_ns >= self.debounce_ns:
            state, edge = SETTLED[state]
        return Contact(self.debounce_ns, state, since_ns), edge
