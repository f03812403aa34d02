"""The serial line: an unbuffered USB-RS-485 adapter that this module makes breaks on.

ANSI E1.11: 250 000 baud, 8 data bits, 2 stop bits, no parity; each packet is a break, a mark after
break, a start code and the slots. The bytes of a packet leave by themselves after `send` returns; the
next `send` first waits until they are out, since a break would cut into them.

A break is made by the break condition of the port, or by a zero byte at a lower baud rate, whose start
bit and data bits are the break and whose stop bits are the mark. That the driver says "out" is believed,
and checked: nothing leaves sooner than the baud rate lets it, and some drivers call a byte out as soon as
the adapter has it.
"""

from __future__ import annotations

from typing import Any

from cuedeck.clock import Clock
from cuedeck.output.serial_output import SerialOutput
from cuedeck.output.usb_ports import ListPorts, listed_ports
from cuedeck.timing.line import (
    BREAK_US,
    MARK_AFTER_BREAK_US,
    SHORTEST_BREAK_TO_BREAK_US,
    SLOT_US,
    slow_zero_us,
)

BAUD = 250_000
BREAK_NS = BREAK_US * 1000
MARK_AFTER_BREAK_NS = MARK_AFTER_BREAK_US * 1000
BREAK_BAUD = 90_909
"""The usual lower baud rate: a break of 99 us and a mark of 22 us, and a whole part of the clock of most adapters."""


class SerialLine(SerialOutput):
    """One universe on one serial port, or on any URL that pyserial opens."""

    kind = "serial"
    baud = BAUD
    stop_bits = 2

    def __init__(
        self,
        port: str,
        clock: Clock,
        universe: int | None = None,
        slots: int | None = None,
        break_baud: int | None = None,
        list_ports: ListPorts = listed_ports,
    ) -> None:
        """With a baud rate for breaks they are zero bytes at that rate; without one, break conditions."""
        super().__init__(port, clock, universe, slots, list_ports)
        self._break_baud = break_baud
        self._free_ns = 0
        """Before this a break would cut into a packet, or come too soon after the one before."""

    def _options(self) -> dict[str, object]:
        options = super()._options()
        if self._break_baud is not None:
            options["break"] = "baud" if self._break_baud == BREAK_BAUD else self._break_baud
        return options

    def _prepare(self, port: Any) -> None:
        super()._prepare(port)
        if self._break_baud is not None:
            port.baudrate = self._break_baud  # a driver that cannot says so here, and not in the first packet
            port.baudrate = BAUD

    def _put(self, port: Any, content: bytearray) -> None:
        self._drain(port)
        if self._break_baud is None:
            began_ns = self._break_by_condition(port)
        else:
            began_ns = self._break_by_zero(port, self._break_baud)
        out_ns = self._clock.now_ns() + SLOT_US * 1000 * len(content)
        self._free_ns = max(out_ns, began_ns + SHORTEST_BREAK_TO_BREAK_US * 1000)
        port.write(content)

    def _drain(self, port: Any) -> None:
        port.flush()
        self._clock.wait_until_ns(self._free_ns)

    def _break_by_condition(self, port: Any) -> int:
        """Make a break and a mark; return a time by which the break had begun."""
        port.break_condition = True
        began_ns = self._clock.now_ns()
        self._clock.spin_ns(BREAK_NS)
        port.break_condition = False
        self._clock.spin_ns(MARK_AFTER_BREAK_NS)
        return began_ns

    def _break_by_zero(self, port: Any, baud: int) -> int:
        """Make a break and a mark by a zero byte; return a time by which the break had begun.

        The wait after the flush is as long as the byte: where the driver meant only that the adapter has
        it, it is out by then. Where it was out already, the mark is longer by as much, which is allowed.
        """
        zero_ns = int(sum(slow_zero_us(baud)) * 1000) + 1
        port.baudrate = baud
        port.write(b"\0")
        port.flush()
        began_ns = self._clock.now_ns()
        self._clock.spin_ns(zero_ns)
        port.baudrate = BAUD
        return began_ns
