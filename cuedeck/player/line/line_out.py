"""The one place where packets leave: all outputs at once, under the blackout, with the last look kept.

Only the thread that sends packets calls `send`, `hold` and `change`; a blackout may be asked for from any thread, and
reaches the line with the next packet.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Sequence
from dataclasses import replace
from fractions import Fraction
from typing import TYPE_CHECKING

from cuedeck.arrays import Slots
from cuedeck.clock import Clock
from cuedeck.output.base import Packet
from cuedeck.player.line.blackout import Blackout

if TYPE_CHECKING:
    from cuedeck.output.outlet import Outlet
    from cuedeck.player.line.last_look import LastLook

OUT_PACKETS = 3
"""How often the packet that puts the lights out is repeated: a receiver may lose one."""
_SECOND_NS = 1_000_000_000


class LineOut:
    """All ways out of a player, as one."""

    def __init__(
        self,
        routes: Sequence[Outlet] = (),
        dark: Slots | None = None,
        blackout: Blackout | None = None,
        before_out: Callable[[], tuple[str, ...]] = tuple,
    ) -> None:
        self.blackout = blackout or Blackout()
        """Whether the line is kept dark, whatever is sent."""
        self._routes: tuple[Outlet, ...] = tuple(routes)
        self._dark = dark
        self._last_look: LastLook | None = None
        self.has_sent = threading.Event()
        """Set with a packet: whoever works in between packets waits for it, so as not to disturb one."""
        self.wakes_from_ns = 0
        """Packets that are due before this do not set it: to wake a thread costs as much as a packet."""
        self.before_out = before_out
        """Called before the lights are put out: leaves the ways that have a spare, and returns their names."""
        self.last: Packet | None = None
        """The packet that left last, as it left."""
        self.look: Slots | None = None
        """What it would have been without a blackout, shape (universes, 512)."""

    @property
    def is_blacked_out(self) -> bool:
        """Whether the line is kept dark, whatever is sent."""
        return self.blackout.is_on

    @is_blacked_out.setter
    def is_blacked_out(self, is_on: bool) -> None:
        self.blackout.set(is_on)

    def change(self, routes: Sequence[Outlet], dark: Slots, last_look: LastLook | None) -> None:
        """Send elsewhere from the next packet on; `dark` is what a blackout leaves, shape (universes, 512)."""
        self._routes = tuple(routes)
        self._dark = dark
        self._last_look = last_look

    def let_go(self) -> None:
        """Send nowhere from the next packet on, and forget what was sent. A blackout stays."""
        self._routes, self._dark, self._last_look = (), None, None
        self.last = self.look = None
        self.blackout.packets = 0

    def send(self, packet: Packet) -> Packet:
        """Send a packet everywhere, and return it as it left."""
        self.look = packet.slots  # kept first and undimmed: a release and the next player go on from it
        if self.blackout.is_on and self._dark is not None:
            packet = replace(packet, slots=self._dark)
        for route in self._routes:
            route.send(packet)
        self.last = packet
        self.blackout.packets += 1
        if packet.due_ns >= self.wakes_from_ns:
            self.has_sent.set()
        if self._last_look is not None:  # after the packet: the file may cost a page fault, the line goes first
            self._last_look.keep(self.look)
        return packet

    def hold(
        self, clock: Clock, refresh_hz: float, slots: Slots, is_over: Callable[[], bool], most: int | None = None
    ) -> None:
        """Send slots, shape (universes, 512), at every beat until it is over, or so many times at most.

        A receiver that hears nothing for a second may go out, so a light that stands still needs packets too. The first
        beat is a period after the packet that left last, or now. Deadlines never move; a packet whose successor is
        already due is left out.
        """
        refresh = Fraction(refresh_hz)
        start_ns = clock.now_ns()
        if self.last is not None:
            start_ns = max(start_ns, self.last.due_ns + int(_SECOND_NS / refresh))
        number = 0
        while not is_over() and (most is None or number < most):
            due_ns = start_ns + int(number * _SECOND_NS / refresh)
            clock.wait_until_ns(due_ns)
            self.send(Packet(number, due_ns, slots))
            passed = int((clock.now_ns() - start_ns) * refresh / _SECOND_NS)
            number = max(number + 1, passed)
