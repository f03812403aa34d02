"""What every output has in common: the line, the packet, and the interface of an output."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING, Protocol, runtime_checkable

from cuedeck.arrays import Slots
from cuedeck.errors import Refusal
from cuedeck.show.units import FULL_UNIVERSE

if TYPE_CHECKING:
    from cuedeck.rig.patch import Patch  # only named: what puts light on a line must load quickly

START_CODE_LEVELS = 0
"""ANSI E1.11: the NULL start code, untyped level data."""


@dataclass(frozen=True)
class Line:
    """What a take sends: the same for every packet of it."""

    universes: tuple[int, ...]
    slots_sent: int
    """Slots in each packet, and what the refresh is worked out for."""
    refresh_hz: float
    slots_needed: int = FULL_UNIVERSE
    """Slots that a line with a baud rate has to carry: those patched, where the show does not ask for more."""
    is_rehearsal: bool = False
    """Whether what is sent is to be looked at only, and not to be acted upon."""
    is_resumed: bool = False
    """Whether it is the last look of a player that was killed: another machine may be further on in the take."""


def line_of(patch: Patch, refresh_hz: Fraction, *, is_rehearsal: bool = False) -> Line:
    """Return what is sent for a rig."""
    return Line(patch.universes, patch.slots_sent, float(refresh_hz), patch.slots_needed, is_rehearsal)


@dataclass(frozen=True, eq=False)
class Packet:
    """The slots of every universe for one instant of a take, start code 0."""

    number: int
    """Counted from the start of the take."""
    due_ns: int
    """When it is to leave, on the clock of the take."""
    slots: Slots
    """Shape (universes, 512)."""
    carried: int | None = None
    """Which packet of the shot it is, where the take follows timecode or was held; else the one of its number."""


class OutputLost(Refusal):
    """An output that cannot send any more. The message says which and why."""


class Output(Protocol):
    """Where packets go: a line, a network, the simulator."""

    @property
    def name(self) -> str:
        """What the user calls it."""

    @property
    def port(self) -> str | None:
        """The serial port that it opens, which can be open once only; None where it opens none."""

    @property
    def is_prompt(self) -> bool:
        """Whether `send` always returns at once, so that nothing has to wait for it, and `open` is cheap, so that it
        may be tried often."""

    def open(self, line: Line) -> None:
        """Get ready to send. One that is open changes over to another line without letting go.

        Raises OutputLost, and may then be tried again.
        """

    def send(self, packet: Packet) -> None:
        """Send one packet now. Raises OutputLost."""

    def close(self) -> None:
        """Let go of it; safe to call twice."""


@runtime_checkable
class Shared(Protocol):
    """An output whose lamps another computer may light as well."""

    @property
    def has_spare(self) -> bool:
        """Whether another is there that has the lamps once this one ends, so that it must not put them out first."""


@runtime_checkable
class Renewable(Protocol):
    """An output that can be asked for in another way under the same name."""

    def renew(self, asked: Output) -> bool:
        """Be what another of this name was asked to be, from the next `open` on; return whether that is a change."""
