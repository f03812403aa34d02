"""Paths: through which values parameters go on their way from where they are to where a cue sends them.

A path knows nothing of time: it is handed the share of the way, 0 to 1, that the curve has covered.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from dataclasses import dataclass

import numpy as np

from cuedeck.arrays import Values
from cuedeck.light.curves import Scale
from cuedeck.rig.dimmer import Dimmer
from cuedeck.rig.mixing import Mixer


class Path(ABC):
    """From one set of values to another. Values are (columns,), shares (n,), what comes out (n, columns)."""

    is_each_alone = True
    """Whether each column goes its own way, so that some may leave the path and the rest stay on it."""

    def entry(self, values: Values) -> Values:
        """Return control values in the terms of the path."""
        return values

    @abstractmethod
    def at(self, origin: Values, aim: Values, share: Values) -> Values:
        """Return the control values at shares of the way between two entries."""


@dataclass(frozen=True)
class Straight(Path):
    """The control values themselves move evenly."""

    def at(self, origin: Values, aim: Values, share: Values) -> Values:
        return origin + (aim - origin) * share[:, None]


@dataclass(frozen=True)
class AlongLight(Path):
    """The light moves evenly on a scale, through the dimmer."""

    scale: Scale
    dimmer: Dimmer

    def entry(self, values: Values) -> Values:
        """Return where the light of control values lies on the scale."""
        return self.scale.from_light(self.dimmer.light_from_control(values))

    def at(self, origin: Values, aim: Values, share: Values) -> Values:
        scaled = origin + (aim - origin) * share[:, None]
        return self.dimmer.control_from_light(self.scale.to_light(scaled))


@dataclass(frozen=True)
class Held(Path):
    """The values stay; the fade has ended before they jump."""

    def at(self, origin: Values, aim: Values, share: Values) -> Values:  # noqa: ARG002 - the shape of a path
        """Return where the way began. A curve may round to the whole way a little before its end."""
        return np.broadcast_to(origin, (len(share), len(origin)))


@dataclass(frozen=True)
class Mixed(Path):
    """The colours of lights of one kind move as light mixes, the columns of each light side by side."""

    mixer: Mixer
    is_each_alone = False

    def at(self, origin: Values, aim: Values, share: Values) -> Values:
        by_light = (-1, len(self.mixer.attributes))
        return self.mixer.crossed(origin.reshape(by_light), aim.reshape(by_light), share).reshape(len(share), -1)


STRAIGHT = Straight()
HELD = Held()
