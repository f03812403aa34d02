"""The simulator: a rig that is not there. It sees packets only, so a wrong patch looks wrong."""

from __future__ import annotations

import numpy as np

from cuedeck.output.base import Line, Packet
from cuedeck.rig.patch import Patch
from cuedeck.rig.state import FixtureState, states
from cuedeck.show.slots import FULL_UNIVERSE


class Simulator:
    """Keeps the last packet, as fixtures do, and says what each fixture makes of it."""

    name = "simulator"
    is_prompt = True

    def __init__(self, patch: Patch) -> None:
        self._patch = patch
        self._last: Packet | None = None

    def open(self, line: Line) -> None:
        """Wait for packets."""

    def send(self, packet: Packet) -> None:
        """Take a packet."""
        self._last = packet

    def take(self, universes: tuple[int, ...], slots: bytes) -> None:
        """Take what somebody else heard on the line, 512 bytes for each universe, where it is of this rig."""
        if slots and universes == self._patch.universes:
            shaped = np.frombuffer(slots, np.uint8).reshape(len(universes), FULL_UNIVERSE)
            self.send(Packet(0, 0, shaped))

    def close(self) -> None:
        """Keep the last packet."""

    @property
    def last(self) -> Packet | None:
        """The last packet that arrived."""
        return self._last

    def states(self) -> tuple[FixtureState, ...]:
        """Return what every fixture is doing; nothing before the first packet."""
        return () if self._last is None else states(self._patch, self._last.slots)
