"""White along a colour temperature channel: from a position on the channel to kelvin, and back.

Between the two ends of a light it runs evenly in mired; where the light was measured, through its
readings, evenly in mired from one to the next. Positions and kelvins may be arrays.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from cuedeck.arrays import Values
from cuedeck.light.white import mired_from_kelvin
from cuedeck.show.fixtures import ColourRange
from cuedeck.show.units import ColourTemperature, Percent

_KELVIN_POSITIONS = tuple(n / 255 for n in range(256))
"""Enough that straight lines in mired between them are even in kelvin to less than a step of 16 bits."""


@dataclass(frozen=True)
class WhiteScale:
    """Positions on a channel, rising, and the mired that each gives, all rising or all falling."""

    positions: tuple[float, ...]
    mireds: tuple[float, ...]

    @property
    def warmest_kelvin(self) -> float:
        return 1e6 / max(self.mireds)

    @property
    def coolest_kelvin(self) -> float:
        return 1e6 / min(self.mireds)

    @cached_property
    def is_even(self) -> bool:
        """Whether equal steps on the channel are equal steps in mired."""
        return len(self.positions) == 2

    def mired_at(self, position: Values | float) -> Values:
        """Return the mired at positions; beyond the last reading it stays as it is."""
        return np.asarray(np.interp(position, self.positions, self.mireds))

    def position_of_mired(self, mired: Values | float) -> Values:
        """Return where on the channel mireds lie, the nearest end where they are out of reach."""
        order = slice(None) if self.mireds[0] < self.mireds[-1] else slice(None, None, -1)
        return np.asarray(np.interp(mired, self.mireds[order], self.positions[order]))

    def kelvin_at(self, position: float) -> float:
        return 1e6 / float(self.mired_at(position))

    def position_of(self, kelvin: float) -> float:
        """Return where on the channel a colour temperature lies, the nearest end where it is out of reach."""
        return float(self.position_of_mired(mired_from_kelvin(kelvin)))


def white_scale(white: ColourRange | Mapping[Percent, ColourTemperature]) -> WhiteScale:
    """Return the scale of a light's colour temperature channel; check_rig says whether its readings will do."""
    if isinstance(white, ColourRange):
        low, high = float(white.low), float(white.high)
        positions = (0.0, 1.0) if white.even_in == "mired" else _KELVIN_POSITIONS
        return WhiteScale(positions, tuple(mired_from_kelvin(low + (high - low) * share) for share in positions))
    pairs = sorted((float(control), mired_from_kelvin(float(kelvin))) for control, kelvin in white.items())
    return WhiteScale(tuple(control for control, _ in pairs), tuple(mired for _, mired in pairs))
