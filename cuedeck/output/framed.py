"""Framed serial: an interface with a microcontroller of its own, which is handed packets and times the line itself.

Common practice, from memory, as is the frame itself (see `frames.py`): the port is a USB device that takes
bytes as fast as they come, so the baud rate says nothing. What the interface has not fetched yet is waited
for, so that a packet never stands in line behind old ones.
"""

from __future__ import annotations

from typing import Any

from cuedeck.output.frames import levels_frame
from cuedeck.output.serial_output import WRITE_S, SerialOutput

LOOK_NS = 2_000_000
"""How often to look whether the interface has fetched a frame."""


class FramedSerial(SerialOutput):
    """One universe over one interface that takes frames."""

    kind = "framed"
    baud = 115_200
    stop_bits = 1

    def _put(self, port: Any, content: bytearray) -> None:
        self._drain(port)
        port.write(levels_frame(bytes(content)).encoded)

    def _drain(self, port: Any) -> None:
        """Wait until the frame is fetched. Unlike a flush it does not wait for ever for one that has hung."""
        deadline_ns = self._clock.now_ns() + WRITE_S * 1_000_000_000
        while getattr(port, "out_waiting", 0):
            now_ns = self._clock.now_ns()
            if now_ns >= deadline_ns:
                port.reset_output_buffer()
                raise TimeoutError("the interface takes no more frames")
            self._clock.wait_until_ns(now_ns + LOOK_NS)
