"""Holding a light: one packet on the line again and again, until something else is wanted.

A receiver that hears nothing for a second may go out, so a light that is to stand still needs packets all the
same. Deadlines are absolute and never move; a packet whose successor is already due is left out.
"""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction

from cuedeck.arrays import Slots
from cuedeck.clock import Clock
from cuedeck.output.base import Packet
from cuedeck.player.line.line_out import LineOut

OUT_PACKETS = 3
"""How often the packet that puts the lights out is repeated: a receiver may lose one."""
_SECOND_NS = 1_000_000_000


def hold(
    line_out: LineOut,
    clock: Clock,
    refresh_hz: float,
    slots: Slots,
    is_over: Callable[[], bool],
    most: int | None = None,
) -> None:
    """Send slots, shape (universes, 512), at every beat until it is over, or so many times at most.

    The first beat is a period after the packet that left last, or now.
    """
    refresh = Fraction(refresh_hz)
    last = line_out.last
    start_ns = max(clock.now_ns(), 0 if last is None else last.due_ns + int(_SECOND_NS / refresh))
    number = 0
    while not is_over() and (most is None or number < most):
        due_ns = start_ns + int(number * _SECOND_NS / refresh)
        clock.wait_until_ns(due_ns)
        line_out.send(Packet(number, due_ns, slots))
        passed = int((clock.now_ns() - start_ns) * refresh / _SECOND_NS)
        number = max(number + 1, passed)
