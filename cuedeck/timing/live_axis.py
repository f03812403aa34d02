"""Passes of an axis that is followed while it moves.

The same passes as those of a move on file (`moves.Axis.passes`): reaching a position and turning back
counts, as does leaving it where the axis stood on it from the start. A live position trembles, so after
a pass the axis must have gone on, or back, by the hysteresis before it can pass again; what is smaller
than that around the position is one pass and no more.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from enum import Enum, auto

from cuedeck.show.model import Cue
from cuedeck.show.triggers import AtPosition, Direction

HYSTERESIS = 0.5
"""In millimetres or degrees. Rigs report to a tenth or better, and tremble by less: common practice, no source."""


class Side(Enum):
    """Where an axis stands, as far as the next pass of one position is concerned."""

    UNKNOWN = auto()
    STANDING = auto()
    """On the position since the start."""
    BELOW = auto()
    """Far enough under it: reaching it is a pass."""
    ABOVE = auto()
    PASSED = auto()
    """It was passed, and the axis is still near."""


class Zone(Enum):
    """A position of the axis beside the one that is waited for."""

    LOW = auto()
    """Under it by the hysteresis or more."""
    UNDER = auto()
    AT = auto()
    OVER = auto()
    HIGH = auto()
    """Over it by the hysteresis or more."""


_NEAR = (Zone.UNDER, Zone.AT, Zone.OVER)
NEXT: Mapping[tuple[Side, Zone], tuple[Side, Direction | None]] = {
    (Side.UNKNOWN, Zone.LOW): (Side.BELOW, None),
    **{(Side.UNKNOWN, zone): (Side.STANDING, None) for zone in _NEAR},
    (Side.UNKNOWN, Zone.HIGH): (Side.ABOVE, None),
    (Side.STANDING, Zone.LOW): (Side.BELOW, Direction.FALLING),
    **{(Side.STANDING, zone): (Side.STANDING, None) for zone in _NEAR},
    (Side.STANDING, Zone.HIGH): (Side.ABOVE, Direction.RISING),
    (Side.BELOW, Zone.LOW): (Side.BELOW, None),
    (Side.BELOW, Zone.UNDER): (Side.BELOW, None),
    (Side.BELOW, Zone.AT): (Side.PASSED, Direction.RISING),
    (Side.BELOW, Zone.OVER): (Side.PASSED, Direction.RISING),
    (Side.BELOW, Zone.HIGH): (Side.ABOVE, Direction.RISING),
    (Side.ABOVE, Zone.LOW): (Side.BELOW, Direction.FALLING),
    (Side.ABOVE, Zone.UNDER): (Side.PASSED, Direction.FALLING),
    (Side.ABOVE, Zone.AT): (Side.PASSED, Direction.FALLING),
    (Side.ABOVE, Zone.OVER): (Side.ABOVE, None),
    (Side.ABOVE, Zone.HIGH): (Side.ABOVE, None),
    (Side.PASSED, Zone.LOW): (Side.BELOW, None),
    **{(Side.PASSED, zone): (Side.PASSED, None) for zone in _NEAR},
    (Side.PASSED, Zone.HIGH): (Side.ABOVE, None),
}
"""The side after a position, and which way the axis passed, by the side before and the zone."""


@dataclass
class _Waiting:
    """A cue that waits for its pass."""

    cue: str
    trigger: AtPosition
    side: Side = Side.UNKNOWN
    passes_left: int = 1

    def moved(self, position: float, hysteresis: float) -> bool:
        """Take a position; return whether this is the pass that the cue waits for."""
        self.side, passed = NEXT[self.side, _zone(position - float(self.trigger.position), hysteresis)]
        if passed is None or self.trigger.direction not in (Direction.ANY, passed):
            return False
        self.passes_left -= 1
        return self.passes_left == 0


def _zone(offset: float, hysteresis: float) -> Zone:
    if abs(offset) >= hysteresis:
        return Zone.LOW if offset < 0 else Zone.HIGH
    if offset == 0:
        return Zone.AT
    return Zone.UNDER if offset < 0 else Zone.OVER


class LiveAxes:
    """The cues of one shot that are tied to positions, and where their axes stand since its start."""

    def __init__(self, cues: Iterable[Cue], hysteresis: float = HYSTERESIS) -> None:
        """Wait for the cues of a shot; `hysteresis`, above 0, is in millimetres or degrees."""
        self._hysteresis = hysteresis
        self._waiting: dict[str, list[_Waiting]] = {}
        for cue in cues:
            if isinstance(cue.trigger, AtPosition):
                one = _Waiting(cue.cue, cue.trigger, passes_left=cue.trigger.crossing)
                self._waiting.setdefault(cue.trigger.axis, []).append(one)

    @property
    def axes(self) -> frozenset[str]:
        return frozenset(self._waiting)

    def moved(self, axis: str, position: float) -> list[str]:
        """Return the cues, in the order of the file, that an axis fires by being at a position in mm or deg.

        The first position of an axis only says where it stands.
        """
        return [one.cue for one in self._waiting.get(axis, ()) if one.moved(position, self._hysteresis)]
