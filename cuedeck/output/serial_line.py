"""The serial line: an unbuffered USB-RS-485 adapter that this module makes breaks on.

ANSI E1.11: 250 000 baud, 8 data bits, 2 stop bits, no parity; each packet is a break, a mark after
break, a start code and the slots. The bytes of a packet leave by themselves after `send` returns; the
next `send` first waits until they are out, since a break would cut into them.
"""

from __future__ import annotations

from typing import Any

from cuedeck.clock import Clock
from cuedeck.output.base import START_CODE_LEVELS, Line, OutputLost, Packet
from cuedeck.ports import failures, reason
from cuedeck.timing.line import SHORTEST_BREAK_US, SHORTEST_MARK_AFTER_BREAK_US

BAUD = 250_000
BREAK_NS = (SHORTEST_BREAK_US + 8) * 1000
MARK_AFTER_BREAK_NS = (SHORTEST_MARK_AFTER_BREAK_US + 4) * 1000
"""A little over the least that E1.11 allows: a full universe at 44 Hz leaves 155 us for both."""


class SerialLine:
    """One universe on one serial port, or on any URL that pyserial opens."""

    is_prompt = False

    def __init__(self, port: str, clock: Clock, universe: int | None = None) -> None:
        self.port = port
        """The port, or a URL that pyserial opens."""
        self._clock = clock
        self._universe = universe
        self._index = 0
        self._universes: tuple[int, ...] = ()
        self._packet_bytes = bytearray(1)
        self._serial: Any = None

    @property
    def name(self) -> str:
        """What the user calls it."""
        return f"serial:{self.port}" + (f",universe={self._universe}" if self._universe is not None else "")

    @property
    def universe(self) -> int | None:
        """The universe that it carries: the one asked for, or the first of the rig once it is open."""
        return self._universe if self._serial is None else self._universes[self._index]

    def open(self, line: Line) -> None:
        """Open the port with the settings of E1.11. Raises OutputLost."""
        import serial

        universe = line.universes[0] if self._universe is None else self._universe
        if universe not in line.universes:
            known = ", ".join(str(one) for one in line.universes)
            raise OutputLost(f"{self.name} is to carry universe {universe}, and the rig uses only {known}")
        self._universes, self._index = line.universes, line.universes.index(universe)
        self._packet_bytes = bytearray([START_CODE_LEVELS]) + bytearray(min(line.slots_sent, line.slots_needed))
        try:
            self._serial = serial.serial_for_url(
                self.port,
                baudrate=BAUD,
                bytesize=serial.EIGHTBITS,
                parity=serial.PARITY_NONE,
                stopbits=serial.STOPBITS_TWO,
                write_timeout=1,
            )
        except (OSError, ValueError, serial.SerialException) as error:
            raise OutputLost(f"{self.name} cannot be opened: {reason(error)}") from error

    def send(self, packet: Packet) -> None:
        """Send a break, a mark after break, the start code and the slots. Raises OutputLost."""
        port = self._serial
        if port is None:
            raise OutputLost(f"{self.name} is not open")
        self._packet_bytes[1:] = packet.slots[self._index, : len(self._packet_bytes) - 1].tobytes()
        try:
            port.flush()
            port.break_condition = True
            self._clock.spin_ns(BREAK_NS)
            port.break_condition = False
            self._clock.spin_ns(MARK_AFTER_BREAK_NS)
            port.write(self._packet_bytes)
        except failures() as error:
            raise OutputLost(f"{self.name} was lost: {reason(error)}") from error

    def close(self) -> None:
        """Let the last bytes out and close the port."""
        port, self._serial = self._serial, None
        if port is None:
            return
        try:
            port.flush()
        except failures():  # the port is gone: nothing is left to let out
            pass
        finally:
            port.close()
