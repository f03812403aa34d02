"""Dimmer curves: how much light a fixture gives at a control value, and the inverse.

Control and light are 0 to 1, arrays of any shape. No published standard fixes these curves; light at
half control through a square-law dimmer is a quarter (shape: common in dimmer literature).
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from cuedeck.show.model import DimmerName

Values = npt.NDArray[np.float64]


@dataclass(frozen=True)
class Dimmer:
    """One dimmer curve, both ways."""

    light_from_control: Callable[[Values], Values]
    control_from_light: Callable[[Values], Values]


def _same(values: Values) -> Values:
    return values


def _square(values: Values) -> Values:
    return values * values


DIMMERS: Mapping[DimmerName, Dimmer] = {
    "linear": Dimmer(_same, _same),
    "square": Dimmer(_square, np.sqrt),
}
