"""Curves: how a value runs from where it is to where it goes: a shape in time, along a scale of light.

Moves and fades have the same shapes: strictly increasing, from 0 at the start to 1 at the end. On a curve with
no scale the dimmer's control value moves; on the others it is the light itself, through the fixture's dimmer, so
that an even-stops fade loses the same number of stops in each second at the meter.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np

from cuedeck.arrays import Values
from cuedeck.light.scales import light_from_lightness, light_from_stops, lightness_from_light, stops_from_light


def linear(share: Values) -> Values:
    """Constant rate."""
    return share


def minimum_jerk(share: Values) -> Values:
    """Ease in and out with the least jerk: 10 s^3 - 15 s^4 + 6 s^5, peak rate 1.875 at the middle.

    The polynomial with no speed and no acceleration at either end (the minimum-jerk profile of the
    motion-control literature).
    """
    return share * share * share * (10.0 + share * (6.0 * share - 15.0))


def minimum_jerk_inverse(progress: float) -> float:
    """Return the share of the time at which a minimum-jerk change has come so far, to 1e-15."""
    if progress <= 0:
        return 0.0
    low, high = 0.0, 1.0
    for _ in range(60):
        middle = (low + high) / 2
        if middle * middle * middle * (10.0 + middle * (6.0 * middle - 15.0)) < progress:
            low = middle
        else:
            high = middle
    return (low + high) / 2


@dataclass(frozen=True)
class Shape:
    """How far a change has come, 0 to 1, at a share of its time, 0 to 1; and the inverse for one value."""

    at: Callable[[Values], Values]
    inverse: Callable[[float], float]
    peak_rate: tuple[float, float] = (1.0, 0.0)
    """The fastest, against a change at constant rate, and at which share of the time."""
    peak_acceleration: tuple[float, float] | None = None
    """The most, in changes over the square of the time, and at which share; None where the rate only jumps."""


@dataclass(frozen=True)
class Scale:
    """A scale of light, both ways."""

    from_light: Callable[[Values], Values]
    to_light: Callable[[Values], Values]


@dataclass(frozen=True)
class Curve:
    """A shape in time, and the scale of light that it runs along; None is the control value itself."""

    shape: Shape
    scale: Scale | None = None
    hint: str = ""
    """What its name does not say."""


_LINEAR = Shape(linear, lambda progress: progress)
_MINIMUM_JERK = Shape(minimum_jerk, minimum_jerk_inverse, (1.875, 0.5), (10 / 3**0.5, (3 - 3**0.5) / 6))
"""Its peaks are where the second and the third derivative of the polynomial are zero."""
_BLACK_STOPS = float(stops_from_light(np.zeros(1))[0])

CURVES: Mapping[str, Curve] = {
    "linear": Curve(_LINEAR),
    "ease": Curve(_MINIMUM_JERK, hint="minimum jerk"),
    "even stops": Curve(_LINEAR, Scale(stops_from_light, light_from_stops), f"black counts as {_BLACK_STOPS:.2f} stop"),
    "even lightness": Curve(_LINEAR, Scale(lightness_from_light, light_from_lightness), "L*"),
}
"""The curves of a fade by name. The first is meant where none is written."""
CURVE_HINT = ", ".join(f"{name} ({curve.hint})" if curve.hint else name for name, curve in CURVES.items())
EASES: Mapping[str, Shape] = {name: curve.shape for name, curve in CURVES.items() if curve.scale is None}
"""The shapes of a move by name."""
