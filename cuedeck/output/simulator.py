"""The simulator: a rig of the computer's own. It sees only packets, so a wrong patch looks wrong."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from cuedeck.output.base import Line, Packet
from cuedeck.show.units import FULL_UNIVERSE

if TYPE_CHECKING:
    from cuedeck.rig.patch import Patch
    from cuedeck.rig.state import FixtureState, Known


class Simulator:
    """Keeps the last packet, as fixtures do, and says what each fixture makes of it."""

    name = "simulator"
    port = None
    is_prompt = True

    def __init__(self, patch: Patch | None) -> None:
        """Without a patch it only takes packets."""
        self._patch = patch
        self._last: Packet | None = None
        self._known: Known = {}

    def open(self, line: Line) -> None:
        """Wait for packets."""

    def send(self, packet: Packet) -> None:
        self._last = packet

    def take(self, universes: tuple[int, ...], slots: bytes) -> None:
        """Take the slots of a snapshot, 512 bytes for each universe; those of another rig change nothing."""
        if slots and self._patch is not None and universes == self._patch.universes:
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
        if self._last is None or self._patch is None:
            return ()
        from cuedeck.rig.state import states

        return states(self._patch, self._last.slots, self._known)
