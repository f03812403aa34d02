"""The receiving end of framed serial: takes bytes as they come and gives frames.

There is no checksum, so garbage that looks like a whole frame is one. Whatever does not is skipped byte by byte, and a
frame behind it is still found.
"""

from __future__ import annotations

from cuedeck.output.framed import FRAME_END, FRAME_START, LONGEST_PAYLOAD, Frame

HEADER_BYTES = 4
"""The start, what kind of frame it is, and the length in two bytes."""


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
