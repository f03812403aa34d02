"""Framed serial: an interface with a microcontroller of its own. It gets packets in frames and times the line itself.

All of it is common practice, from memory: no published document of the frame was at hand, and no interface to try it
with. A frame is a start byte, the type of message, the length of the payload with the low byte first, the payload and
an end byte. The port is a USB device that takes bytes as fast as they come, so its baud rate means nothing.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from cuedeck.output.serial_output import WRITE_S, SerialOutput

FRAME_START = 0x7E
FRAME_END = 0xE7
SEND_LEVELS = 6
"""The type of a message whose payload, a start code and slots, is to be sent on the line."""
FEWEST_SLOTS_IN_FRAME = 24
LONGEST_PAYLOAD = 600
"""No message is longer: more than a start code and 512 slots. A length over this is garbage."""
LOOK_NS = 2_000_000
"""How often to look whether the interface has fetched a frame."""


@dataclass(frozen=True)
class Frame:
    """One message."""

    type: int
    """0 to 255."""
    payload: bytes

    @property
    def encoded(self) -> bytes:
        """The bytes on the port. Raises ValueError where the payload is longer than any message."""
        if len(self.payload) > LONGEST_PAYLOAD:
            raise ValueError(f"a payload of {len(self.payload)} bytes is longer than {LONGEST_PAYLOAD}")
        header = bytes([FRAME_START, self.type, *len(self.payload).to_bytes(2, "little")])
        return header + self.payload + bytes([FRAME_END])


def levels_frame(content: bytes) -> Frame:
    """Return the frame that sends a start code and slots; fewer than 24 slots are filled up with zeros."""
    return Frame(SEND_LEVELS, content.ljust(1 + FEWEST_SLOTS_IN_FRAME, b"\0"))


class FramedSerial(SerialOutput):
    """One universe over one interface that takes frames."""

    kind = "framed"
    baud = 115_200
    stop_bits = 1

    def _put(self, port: Any, content: bytearray) -> None:
        self._drain(port)  # a frame must never wait behind an old one
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
