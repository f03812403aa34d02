"""Curves: along which path a fade runs from one level to the next.

A curve is a shape in time on a scale of light. On a linear scale the dimmer's control value moves; on
the others it is the light itself, through the fixture's dimmer curve, so that an even-stops fade
loses the same number of stops in each second at the meter.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from cuedeck.light.scales import (
    Values,
    light_from_lightness,
    light_from_stops,
    lightness_from_light,
    stops_from_light,
)
from cuedeck.rig.dimmer import DIMMERS, Dimmer
from cuedeck.show.model import CurveName, DimmerName
from cuedeck.timing.shapes import linear, minimum_jerk


@dataclass(frozen=True)
class Curve:
    """A shape in time, and the scale of light that it runs along; None is the control value itself."""

    shape: Callable[[Values], Values]
    scale_from_light: Callable[[Values], Values] | None = None
    light_from_scale: Callable[[Values], Values] | None = None

    @property
    def is_of_light(self) -> bool:
        """Whether it runs along a scale of light rather than of control values."""
        return self.scale_from_light is not None

    def to_scale(self, control: Values, dimmer: DimmerName) -> Values:
        """Return control values on the scale of this curve."""
        if self.scale_from_light is None:
            return control
        return self.scale_from_light(_dimmer(dimmer).light_from_control(control))

    def from_scale(self, scaled: Values, dimmer: DimmerName) -> Values:
        """Return the control values at places on the scale; the inverse of to_scale."""
        if self.light_from_scale is None:
            return scaled
        return _dimmer(dimmer).control_from_light(self.light_from_scale(scaled))


def _dimmer(name: DimmerName) -> Dimmer:
    return DIMMERS[name]


CURVES: Mapping[CurveName, Curve] = {
    "linear": Curve(linear),
    "ease": Curve(minimum_jerk),
    "even stops": Curve(linear, stops_from_light, light_from_stops),
    "even lightness": Curve(linear, lightness_from_light, light_from_lightness),
}
