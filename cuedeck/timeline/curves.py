"""Curves: along which path a fade runs from one level to the next.

A curve is a shape in time on a scale of light. On a linear scale the dimmer's control value moves; on
the others it is the light itself, through the fixture's dimmer curve, so that an even-stops fade
loses the same number of stops in each second at the meter.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from cuedeck.arrays import Values
from cuedeck.light.scales import light_from_lightness, light_from_stops, lightness_from_light, stops_from_light
from cuedeck.show.model import CurveName
from cuedeck.timing.shapes import linear, minimum_jerk


@dataclass(frozen=True)
class Scale:
    """A scale of light, both ways."""

    from_light: Callable[[Values], Values]
    to_light: Callable[[Values], Values]


@dataclass(frozen=True)
class Curve:
    """A shape in time, and the scale of light that it runs along; None is the control value itself."""

    shape: Callable[[Values], Values]
    scale: Scale | None = None


CURVES: Mapping[CurveName, Curve] = {
    "linear": Curve(linear),
    "ease": Curve(minimum_jerk),
    "even stops": Curve(linear, Scale(stops_from_light, light_from_stops)),
    "even lightness": Curve(linear, Scale(lightness_from_light, light_from_lightness)),
}
