"""What was handed to an outlet and what became of it: every packet leaves, waits as the only one, or is missed.

One thread hands packets over, and never waits for anything: it puts the newest where the one before was.
Packets are numbered as they are handed over, so whoever takes the newest knows how many it has replaced,
and nothing else needs counting on that side. All the rest stands under a lock that is held for a few
steps of arithmetic and never while an output is at work.
"""

from __future__ import annotations

import threading
from collections import deque
from collections.abc import Callable
from typing import NamedTuple

from cuedeck.output.base import Line, Packet
from cuedeck.output.tally import INCIDENTS_KEPT, RATE_OVER_NS, Tally, rate_hz
from cuedeck.show.units import FULL_UNIVERSE

FASTEST_HZ = 1000
"""More packets a second than any line carries: what is kept for the rate has a bound."""


class Handed(NamedTuple):
    """The newest packet that was handed over."""

    number: int
    """Counted from 1 for the first packet of the outlet."""
    packet: Packet | None
    universes: tuple[int, ...]
    """What the packet is meant for: the universes of the line that was asked for when it came."""

    def fits(self, line: Line) -> bool:
        """Return whether a line can carry it."""
        return (
            self.packet is not None
            and self.universes == line.universes
            and self.packet.slots.shape == (len(line.universes), FULL_UNIVERSE)
        )


class Ledger:
    """Keeps the newest packet and the numbers of one outlet."""

    def __init__(self, name: str) -> None:
        self.handed = Handed(0, None, ())
        """The newest packet; replaced as a whole."""
        self.lost = ""
        """Why the output is lost, empty while it is not."""
        self._name = name
        self._taken = 0
        self._is_taking = False
        self._is_under_way = False
        self._sent = 0
        self._times_lost = 0
        self._incidents: deque[str] = deque(maxlen=INCIDENTS_KEPT)
        self._left_ns: deque[int] = deque(maxlen=FASTEST_HZ)
        self._lock = threading.Lock()
        self._changed = threading.Condition(self._lock)
        self._watchers = 0

    def hand_over(self, packet: Packet, universes: tuple[int, ...]) -> None:
        """Put a packet where the one before was; for one thread only, which is never kept waiting."""
        self.handed = Handed(self.handed.number + 1, packet, universes)

    @property
    def has_waiting(self) -> bool:
        """Whether a packet may leave that has not been taken."""
        return self._is_taking and self.handed.number != self._taken

    def take(self, line: Line | None, line_to_come: Line | None) -> Packet | None:
        """Return the packet that is to leave now on a line, if any; one that is meant for the line to come waits."""
        with self._lock:
            handed = self.handed
            if line is None or not self._is_taking or handed.number == self._taken:
                return None
            fits = handed.fits(line)
            if not fits and line_to_come is not None and handed.fits(line_to_come):
                return None
            self._taken, self._is_under_way = handed.number, fits
            if not fits:
                self._notify()
            return handed.packet if fits else None

    def left(self, now_ns: int) -> None:
        """Keep that the packet that was taken has left."""
        with self._lock:
            self._is_under_way = False
            self._sent += 1
            self._keep_time(now_ns)
            self._notify()

    def resume(self) -> Handed:
        """Let packets be taken from now on. Returns the newest before that, which is missed but may be shown."""
        with self._lock:
            self._is_taking, self._taken = True, self.handed.number
            return self.handed

    def shown(self, now_ns: int) -> None:
        """Keep that the one that `resume` returned has left."""
        with self._lock:
            self._keep_time(now_ns)

    def halt(self) -> None:
        """Let no packet be taken; one that was under way is missed."""
        with self._lock:
            self._is_taking = self._is_under_way = False
            self._notify()

    def lose(self, why: str) -> None:
        """Keep that the output was lost."""
        with self._lock:
            self._is_taking = self._is_under_way = False
            self.lost = why
            self._times_lost += 1
            self._incidents.append(f"{why}; it is tried again")
            self._notify()

    @property
    def last_incident(self) -> str:
        """What is to be told about the last loss."""
        return self._incidents[-1]

    def recover(self) -> None:
        """Keep that all is well."""
        with self._lock:
            self.lost = ""
            self._notify()

    def wait_for(self, is_so: Callable[[], bool], timeout_s: float) -> bool:
        """Wait until something is so, and return whether it is."""
        with self._lock:
            self._watchers += 1
            try:
                return self._changed.wait_for(is_so, timeout_s)
            finally:
                self._watchers -= 1

    def settle(self, timeout_s: float) -> bool:
        """Wait until every packet has left or is missed, and return whether that is so."""
        return self.wait_for(lambda: self._pending() == 0, timeout_s)

    def tally(self, now_ns: int) -> Tally:
        """Return the numbers."""
        with self._lock:
            handed = self.handed.number  # looked at once: another may be handed over at any time
            missed = handed - self._sent - self._pending_of(handed)
            numbers = (self._sent, missed, self._times_lost, self.lost)
            left_ns, incidents = tuple(self._left_ns), tuple(self._incidents)
        return Tally(self._name, *numbers, rate_hz(left_ns, now_ns), incidents)

    def _pending(self) -> int:
        """Return how many packets may still leave: one that is under way, one that waits."""
        return self._pending_of(self.handed.number)

    def _pending_of(self, handed: int) -> int:
        return self._is_under_way + (self._is_taking and handed != self._taken)

    def _notify(self) -> None:
        if self._watchers:  # hardly ever: looking is quicker than notifying nobody
            self._changed.notify_all()

    def _keep_time(self, now_ns: int) -> None:
        self._left_ns.append(now_ns)
        while self._left_ns[0] <= now_ns - RATE_OVER_NS:
            self._left_ns.popleft()
