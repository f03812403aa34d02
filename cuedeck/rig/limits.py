"""Limits of a light: how far its intensity may go, whatever is asked of it.

`Patch.encode` alone keeps them, so that they hold for all that is made of packets: the line, the simulator, the
report. Everything else here only tells what will happen there.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import ceil, floor, gcd
from typing import NamedTuple, Self

import numpy as np

from cuedeck.arrays import Index, Values
from cuedeck.rig.dimmer import Dimmer
from cuedeck.show.channels import EMITTERS, Channel
from cuedeck.show.fixtures import Fixture

_HAIR = 1e-6
"""How much of one step of a channel is rounding, and no part of a limit."""


class Limits(NamedTuple):
    """The least and the most control value of a light, 0 to 1, as the show says them."""

    lowest: float
    highest: float

    def within(self, control: float) -> float:
        """Return the nearest control value that is allowed; the highest wins where the two contradict."""
        return min(max(control, self.lowest), self.highest)

    def values(self, steps: int) -> tuple[int, int]:
        """Return the least and the most value of a channel from 0 to `steps` that keeps to the limits."""
        return ceil(self.lowest * steps - _HAIR), floor(self.highest * steps + _HAIR)


def limits_of(hung: Fixture, dimmer: Dimmer) -> Limits | None:
    """Return the limits of a light as hung; None where it has none that bind."""
    lowest = 0.0 if hung.never_below is None else dimmer.control_of(hung.never_below)
    highest = 1.0 if hung.never_above is None else dimmer.control_of(hung.never_above)
    return None if (lowest, highest) == (0.0, 1.0) else Limits(lowest, highest)


def steps_of_intensity(channels: Sequence[Channel]) -> int:
    """Return how many steps all channels that carry the intensity of a light share; 0 where none does.

    Emitters carry it together where no channel does; 255, 65535 and 16777215 are all whole multiples of 255.
    """
    carriers = [one for one in channels if one.attribute == "intensity"]
    carriers = carriers or [one for one in channels if one.attribute in EMITTERS]
    return gcd(*(256**one.width_slots - 1 for one in carriers))


class LimitedColumn(NamedTuple):
    """The column of levels that holds the intensity of a limited light, and its limits on the steps of the line."""

    column: int
    lowest: float
    highest: float

    @classmethod
    def of(cls, column: int, limits: Limits, steps: int) -> Self:
        """Return the limits of a column, moved inwards to whole steps, so that rounding cannot leave them."""
        lowest, highest = limits.values(steps)
        return cls(column, lowest / steps, highest / steps)


class LimitedColumns:
    """All the limits of a rig."""

    def __init__(self, limited: Sequence[LimitedColumn]) -> None:
        self._columns: Index = np.array([one.column for one in limited], dtype=np.intp)
        self._lowest: Values = np.array([one.lowest for one in limited])
        self._highest: Values = np.array([one.highest for one in limited])

    def clip(self, levels: Values) -> Values:
        """Return a copy of levels, (n, parameters), that keeps to the limits."""
        kept = levels.copy()
        kept[:, self._columns] = np.clip(kept[:, self._columns], self._lowest, self._highest)
        return kept
