"""Ports without hardware: a pair of pseudo-terminals, and a wire that is written down."""

from __future__ import annotations

import os
import select
import tty
from types import TracebackType
from typing import Self

import numpy as np
import pytest
import serial

from cuedeck.clock import Clock
from cuedeck.output.base import Line, Packet
from tests.output.handlers.protocol_recording import WIRES, Wire

FULL = Line((1,), 512, 44.0)


def packet(number: int, universes: int = 1) -> Packet:
    """Return a packet whose slots differ from each other, from packet to packet and between universes."""
    slots = (np.arange(512 * universes).reshape(universes, 512) * 7 + number * 31) % 256
    return Packet(number, number * 22_727_272, slots.astype(np.uint8))


class Pty:
    """A pseudo-terminal: the port is one end, the test reads the other."""

    def __init__(self) -> None:
        self._far, self._near = os.openpty()
        tty.setraw(self._near)
        self.port = os.ttyname(self._near)

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, traceback: TracebackType | None
    ) -> None:
        self.unplug()

    def read(self, count: int) -> bytes:
        """Return so many bytes that came over it."""
        content = b""
        while len(content) < count:
            ready, _, _ = select.select([self._far], [], [], 10)
            assert ready, f"only {len(content)} of {count} bytes came"
            content += os.read(self._far, count - len(content))
        return content

    def write(self, content: bytes) -> None:
        """Send bytes to the port."""
        os.write(self._far, content)

    def is_empty(self) -> bool:
        """Return whether nothing is left to read."""
        return not select.select([self._far], [], [], 0)[0]

    def unplug(self) -> None:
        """Close both ends; safe to call twice."""
        far, near = self._far, self._near
        self._far = self._near = -1
        if far >= 0:
            os.close(near)
            os.close(far)


def wire(name: str, clock: Clock, patch: pytest.MonkeyPatch) -> Wire:
    """Return a wire that recording://NAME writes to."""
    handlers = "tests.output.handlers"
    if handlers not in serial.protocol_handler_packages:
        patch.setattr(serial, "protocol_handler_packages", [*serial.protocol_handler_packages, handlers])
    patch.setitem(WIRES, name, Wire(clock))
    return WIRES[name]
