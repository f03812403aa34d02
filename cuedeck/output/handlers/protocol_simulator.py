"""pyserial URL handler simulator://NAME: a port on a simulated line."""

from __future__ import annotations

import errno
from typing import Any

from serial.serialutil import PARITY_NONE, PortNotOpenError, SerialBase

from cuedeck.output.handlers import line_named, name_of
from cuedeck.output.simulated_line import Format, SimulatedLine


class Serial(SerialBase):
    """A port on a simulated line; only one at a time."""

    _line: SimulatedLine | None = None

    def open(self) -> None:
        """Plug in. Raises OSError where the line is in use."""
        line = line_named(name_of(str(self.port)))
        if line.is_open:
            raise OSError(errno.EBUSY, "in use")
        line.is_open = True
        self._line = line
        self._reconfigure_port()
        self.is_open = True

    def close(self) -> None:
        """Unplug."""
        line, self._line = self._line, None
        self.is_open = False
        if line is not None:
            line.drop()
            line.set_break(False)
            line.is_open = False

    @property
    def line(self) -> SimulatedLine:
        """The line that it is plugged in to. Raises PortNotOpenError."""
        if self._line is None:
            raise PortNotOpenError
        return self._line

    def write(self, content: Any, /) -> int:
        """Take bytes; they leave when the ones before them are out."""
        self.line.write(bytes(content))
        return len(content)

    def flush(self) -> None:
        """Wait until the last byte is out."""
        if self._line is not None:  # the end of a file object that was never opened flushes, too
            self._line.flush()

    def read(self, _: int = 1, /) -> bytes:
        """Return nothing: a receiver does not answer."""
        return b""

    @property
    def in_waiting(self) -> int:
        """Nothing is there to read."""
        return 0

    @property
    def out_waiting(self) -> int:
        """How many bytes are not out yet."""
        return self.line.waiting

    def reset_input_buffer(self) -> None:
        """Forget what came: nothing."""

    def reset_output_buffer(self) -> None:
        """Forget the bytes that are not out yet."""
        self.line.drop()

    @property
    def cts(self) -> bool:
        """Control lines are at rest."""
        return False

    dsr = ri = cd = cts

    def _reconfigure_port(self) -> None:
        bits = 1 + self.bytesize + (self.parity != PARITY_NONE) + int(self.stopbits)
        self.line.set_format(Format(self.baudrate, bits))

    def _update_break_state(self) -> None:
        self.line.set_break(self.break_condition)

    def _update_rts_state(self) -> None:
        """Nothing hangs on it."""

    def _update_dtr_state(self) -> None:
        """Nothing hangs on it."""
