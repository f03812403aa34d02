"""Where axes and lights are at a time of a shot: a light as it is hung, or where the axis that it rides carries it.

Metres, the product at the origin, x to camera right, y away from the camera, z up.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from cuedeck.timeline.plan import ShotPlan
from cuedeck.timing.moves import Axis


@dataclass(frozen=True)
class Position:
    """A place on the set, in metres."""

    x_m: float
    y_m: float
    z_m: float


@dataclass(frozen=True)
class AxisPosition:
    """Where one axis of the move is."""

    axis: str
    position: float
    """In millimetres or degrees."""
    unit: str


PRODUCT_POSITION = Position(0, 0, 0)


def axis_of(plan: ShotPlan, light: str) -> Axis | None:
    rides = plan.show.rig[light].rides
    return plan.move.axes.get(rides) if plan.move and rides is not None else None


def position_of(plan: ShotPlan, light: str, time_s: float) -> Position:
    """Return where a light is: a length carries it to the right, an angle turns it counterclockwise about z."""
    x, y, z = plan.show.rig[light].at
    axis = axis_of(plan, light)
    if axis is None:
        return Position(x, y, z)
    travel = axis.position_at(time_s)
    if axis.unit == "mm":
        return Position(x + travel / 1000, y, z)
    turn = math.radians(travel)
    return Position(x * math.cos(turn) - y * math.sin(turn), x * math.sin(turn) + y * math.cos(turn), z)


def positions(plan: ShotPlan, time_s: float) -> dict[str, Position]:
    return {light.name: position_of(plan, light.name, time_s) for light in plan.patch.lights}


def axis_positions(plan: ShotPlan, time_s: float) -> tuple[AxisPosition, ...]:
    axes = plan.move.axes.values() if plan.move else ()
    return tuple(AxisPosition(axis.name, axis.position_at(time_s), axis.unit) for axis in axes)
