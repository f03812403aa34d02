"""pyserial URL handler recording://NAME: a port that writes down all that is done to it, and when.

It behaves as a UART with a buffer does: a write returns at once, the bytes leave at the baud rate, and
a flush waits until they are out.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from serial.serialutil import SerialBase

from cuedeck.clock import Clock
from tests.output.receiver import Break, Data, Event

SLOT_NS = 44_000


@dataclass
class Wire:
    """What came over one line."""

    clock: Clock
    events: list[Event] = field(default_factory=list)
    settings: dict[str, Any] = field(default_factory=dict)
    free_ns: int = 0
    """When the last byte will be out."""


WIRES: dict[str, Wire] = {}
"""The lines by name, as in recording://NAME."""


class Serial(SerialBase):  # type: ignore[misc]
    """A port on a wire."""

    def open(self) -> None:
        """Plug in."""
        self.wire = WIRES[self.port.removeprefix("recording://")]
        self._reconfigure_port()
        self.is_open = True

    def close(self) -> None:
        """Unplug."""
        self.is_open = False

    def write(self, content: bytes) -> int:
        """Queue bytes; they leave when the ones before them are out."""
        start_ns = max(self.wire.clock.now_ns(), self.wire.free_ns)
        self.wire.events.append(Data(start_ns, bytes(content)))
        self.wire.free_ns = start_ns + SLOT_NS * len(content)
        return len(content)

    def flush(self) -> None:
        """Wait until the last byte is out."""
        self.wire.clock.wait_until_ns(self.wire.free_ns)

    def _reconfigure_port(self) -> None:
        names = ("baudrate", "bytesize", "parity", "stopbits", "xonxoff", "rtscts", "dsrdtr")
        self.wire.settings = {name: getattr(self, name) for name in names}

    def _update_break_state(self) -> None:
        self.wire.events.append(Break(self.wire.clock.now_ns(), self._break_state))
