"""Where lights are on the set at a time of a shot: as they are hung, or where the axis that they ride carries them.

Metres, the product at the origin, x to camera right, y away from the camera, z up.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from cuedeck.timeline.plan import ShotPlan
from cuedeck.timing.moves import Axis


@dataclass(frozen=True)
class Position:
    """A place on the set, in metres."""

    x_m: float
    y_m: float
    z_m: float


PRODUCT_POSITION = Position(0, 0, 0)


def axis_of(plan: ShotPlan, light: str) -> Axis | None:
    """Return the axis that carries a light in this shot."""
    rides = plan.show.rig[light].rides
    return plan.move.axes.get(rides) if plan.move and rides is not None else None


def position_of(plan: ShotPlan, light: str, time_s: float) -> Position:
    """Return where a light is: a length carries it to the right, an angle turns it counterclockwise about z."""
    x, y, z = plan.show.rig[light].at
    axis = axis_of(plan, light)
    if axis is None:
        return Position(x, y, z)
    travel = float(axis.at(np.array([time_s]))[0])
    if axis.unit == "mm":
        return Position(x + travel / 1000, y, z)
    turn = math.radians(travel)
    return Position(x * math.cos(turn) - y * math.sin(turn), x * math.sin(turn) + y * math.cos(turn), z)


def positions(plan: ShotPlan, time_s: float) -> dict[str, Position]:
    """Return where every light of the rig is."""
    return {light.name: position_of(plan, light.name, time_s) for light in plan.patch.lights}
