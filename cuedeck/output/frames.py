"""Frames for interfaces with a microcontroller of their own: a packet is wrapped in bytes, and they time the line.

The whole format is from memory, of common practice: no published document of it was at hand, and no interface was
there to try it with. A start byte, the type of message, the length of the payload with the low
byte first, the payload, an end byte. There is no checksum, so garbage that looks like a whole frame is
one; whatever does not is skipped byte by byte, and a frame behind it is still found.
"""

from __future__ import annotations

from dataclasses import dataclass

FRAME_START = 0x7E
FRAME_END = 0xE7
SEND_LEVELS = 6
"""The type of a message whose payload, a start code and slots, is to be sent on the line."""
FEWEST_SLOTS_IN_FRAME = 24
LONGEST_PAYLOAD = 600
"""No message is longer: more than a start code and 512 slots. A length over this is garbage."""
HEADER_BYTES = 4
"""Start byte, type and length."""


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


class FrameParser:
    """Takes bytes as they come and gives frames; keeps no more than one frame's worth of them."""

    def __init__(self) -> None:
        self.skipped = 0
        """Bytes that belonged to no frame."""
        self._kept = b""

    def feed(self, content: bytes) -> list[Frame]:
        """Take more bytes; return the frames that they complete. Never raises."""
        kept = self._kept + content
        frames: list[Frame] = []
        at = self._next_start(kept, 0)
        while (length := _frame_bytes(kept, at)) is not None and at + length <= len(kept):
            if length and kept[at + length - 1] == FRAME_END:
                frames.append(Frame(kept[at + 1], kept[at + HEADER_BYTES : at + length - 1]))
                at = self._next_start(kept, at + length)
            else:
                self.skipped += 1
                at = self._next_start(kept, at + 1)
        self._kept = kept[at:]
        return frames

    def _next_start(self, kept: bytes, at: int) -> int:
        """Return where the next start byte is, or the end, and count what is skipped."""
        found = kept.find(FRAME_START, at)
        found = len(kept) if found < 0 else found
        self.skipped += found - at
        return found


def _frame_bytes(kept: bytes, at: int) -> int | None:
    """Return how long the frame that starts here says it is: None before it says so, 0 where none can be."""
    if at + HEADER_BYTES > len(kept):
        return None
    payload = int.from_bytes(kept[at + 2 : at + HEADER_BYTES], "little")
    return HEADER_BYTES + payload + 1 if payload <= LONGEST_PAYLOAD else 0
