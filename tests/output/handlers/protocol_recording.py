"""pyserial URL handler recording://NAME: a port that writes down all that is done to it, and when.

It behaves as a UART with a buffer does: a write returns at once, the bytes leave at the baud rate, and
a flush waits until they are out. A zero byte at a lower baud rate is what it is on the line: low for its
start bit and its eight data bits, then high for two stop bits.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from serial.serialutil import SerialBase, SerialException

from cuedeck.clock import Clock
from tests.output.receiver import Break, Data, Event

BAUD = 250_000
SLOT_BITS = 11
LOW_BITS = 9


@dataclass
class Wire:
    """What came over one line."""

    clock: Clock
    events: list[Event] = field(default_factory=list)
    settings: dict[str, Any] = field(default_factory=dict)
    free_ns: int = 0
    """When the last byte will be out."""
    flush_is_early: bool = False
    """Whether a flush returns when the adapter has the bytes, as some drivers do, rather than when they are out."""
    refused_baud: int | None = None
    """A baud rate that the adapter cannot be set to."""
    opened: int = 0


WIRES: dict[str, Wire] = {}
"""The lines by name, as in recording://NAME."""


class Serial(SerialBase):  # type: ignore[misc]
    """A port on a wire."""

    def open(self) -> None:
        """Plug in."""
        self.wire = WIRES[self.port.removeprefix("recording://")]
        self.wire.opened += 1
        self._reconfigure_port()
        self.is_open = True

    def close(self) -> None:
        """Unplug."""
        self.is_open = False

    def write(self, content: bytes) -> int:
        """Queue bytes; they leave when the ones before them are out."""
        start_ns = max(self.wire.clock.now_ns(), self.wire.free_ns)
        if self.baudrate == BAUD:
            self.wire.events.append(Data(start_ns, bytes(content)))
        else:
            assert content == b"\0", "only zero bytes may leave at another baud rate"
            off_ns = start_ns + LOW_BITS * 1_000_000_000 // self.baudrate
            self.wire.events += [Break(start_ns, True), Break(off_ns, False)]
        self.wire.free_ns = start_ns + SLOT_BITS * len(content) * 1_000_000_000 // self.baudrate
        return len(content)

    def flush(self) -> None:
        """Wait until the last byte is out."""
        if not self.wire.flush_is_early:
            self.wire.clock.wait_until_ns(self.wire.free_ns)

    def _reconfigure_port(self) -> None:
        if self.baudrate == self.wire.refused_baud:
            raise SerialException("the baud rate is out of range")
        if self.wire.settings.get("baudrate", self.baudrate) != self.baudrate:
            assert self.wire.clock.now_ns() >= self.wire.free_ns, "the baud rate changed under a byte"
        names = ("baudrate", "bytesize", "parity", "stopbits", "xonxoff", "rtscts", "dsrdtr")
        self.wire.settings = {name: getattr(self, name) for name in names}

    def _update_break_state(self) -> None:
        self.wire.events.append(Break(self.wire.clock.now_ns(), self._break_state))
