"""Mixing: the colour of one light, from what a look asks for to its channels, and back.

A light has a mixer for each way in which it takes colour: a colour temperature, emitters, hue and
saturation, or x and y. A mixer alone knows what the values of its channels look like, and which values
lie between two colours when one crosses to the other. Mixers that do the same are equal, so that lights
of one kind cross together; what each gives does not depend on how many there are.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property, lru_cache
from typing import Protocol

import numpy as np

from cuedeck.arrays import Values
from cuedeck.light.chromaticity import Xy, uv_prime_from_xy
from cuedeck.light.emitters import Emitters, mix_along_uv
from cuedeck.light.screen import hue_and_saturation_from_rgb, rgb_from_hue_and_saturation, xy_of_screen_colour
from cuedeck.light.white import White, planckian_xy, white_from_xy, xy_from_white
from cuedeck.rig.dimmer import DIMMERS, Dimmer
from cuedeck.rig.white import WhiteScale
from cuedeck.show.channels import EMITTERS, EmitterName
from cuedeck.show.colours import Chromaticity, Colour, WhiteColour
from cuedeck.show.fixtures import Emitter

COLOUR_ATTRIBUTES = ("colour temperature", *EMITTERS, "hue", "saturation", "x", "y")
"""The attributes that make the colour of a light."""
TINTING = (*EMITTERS, "saturation")
"""What colours the white of a colour temperature channel on the same light, unless it is at 0."""
HIT_UV = 0.001
"""How near in CIE 1976 u'v' a colour counts as reached; about a step that is just visible side by side."""
SRGB = "sRGB"
"""The primaries of a light that turns hue and saturation into a red, green and blue of which nothing is known."""
_SRGB_PRIMARIES = ((0.64, 0.33, 0.2126), (0.30, 0.60, 0.7152), (0.15, 0.06, 0.0722))
"""x, y and luminance of red, green and blue (IEC 61966-2-1), for lights whose own are not known."""
_SCAN = np.linspace(0.0, 1.0, 1025)


@dataclass(frozen=True)
class Mixture:
    """What the channels of a light must be for a colour, and the colour they give."""

    values: Mapping[str, float]
    reached_xy: Xy
    distance_uv: float
    """How far that is from the colour asked for, in CIE 1976 u'v'."""
    luminance: float | None = None
    """How bright the light can be in this colour, relative to all its emitters at full; None where unknown."""

    @property
    def is_reached(self) -> bool:
        """Whether the light gives the colour asked for."""
        return self.distance_uv <= HIT_UV


class Mixer(Protocol):
    """One way in which a light takes colour."""

    @property
    def attributes(self) -> Sequence[str]:
        """The channels it sets, in the order of the values it is handed."""

    @property
    def is_straight(self) -> bool:
        """Whether its colours cross evenly when each channel does."""

    def solve(self, colour: Colour) -> Mixture | None:
        """Return the values for a colour, or the nearest it can; None where nothing is known of its colours."""

    def crossed(self, origin: Values, aim: Values, share: Values) -> Values:
        """Return values at shares of the way, (n,), between two sets of values, (..., channels): (n, ..., channels)."""

    def xy(self, values: Values) -> Xy | None:
        """Return the chromaticity that values give; None where that is not known."""


def xy_of_colour(colour: Colour) -> Xy:
    if isinstance(colour, Chromaticity):
        return float(colour.x), float(colour.y)
    if isinstance(colour, WhiteColour):
        return xy_from_white(White(colour.filtered_kelvin, float(colour.duv)))
    xy = xy_of_screen_colour((float(colour.red) / 255, float(colour.green) / 255, float(colour.blue) / 255))
    assert xy is not None  # noqa: S101 - black is refused where it is read
    return xy


def distance_uv(one: Xy, other: Xy) -> float:
    """Return how far two colours are from each other in CIE 1976 u'v'."""
    (u1, v1), (u2, v2) = uv_prime_from_xy(one), uv_prime_from_xy(other)
    return float(np.hypot(u1 - u2, v1 - v2))


def _along(share: Values, values: Values) -> Values:
    """Return shares, (n,), in a shape that goes with values of any shape: (n, 1, ...)."""
    return share.reshape(-1, *(1,) * values.ndim)


@dataclass(frozen=True)
class WhiteMixer:
    """A colour temperature channel: whites on the locus, evenly in mired when they cross."""

    scale: WhiteScale
    attributes: Sequence[str] = ("colour temperature",)

    @property
    def is_straight(self) -> bool:
        """Whether the channel itself runs evenly in mired."""
        return self.scale.is_even

    def solve(self, colour: Colour) -> Mixture:
        """Return the nearest white that the channel reaches."""
        wanted = xy_of_colour(colour)
        if isinstance(colour, WhiteColour):
            position = self.scale.position_of(colour.filtered_kelvin)
        else:
            position = self._position_near(wanted)
        reached = self.xy(np.array([position]))
        return Mixture({self.attributes[0]: position}, reached, distance_uv(reached, wanted))

    def crossed(self, origin: Values, aim: Values, share: Values) -> Values:
        """Return positions evenly in mired between two."""
        start, end = self.scale.mired_at(origin), self.scale.mired_at(aim)
        along = _along(share, origin)
        # Positions beyond the last reading are the same white as far as is known: what they lie beyond it goes evenly.
        beyond_start = origin - self.scale.position_of_mired(start)
        beyond_end = aim - self.scale.position_of_mired(end)
        beyond = beyond_start + (beyond_end - beyond_start) * along
        crossing = self.scale.position_of_mired(start + (end - start) * along) + beyond
        return np.where(along <= 0, origin, np.where(along >= 1, aim, crossing))

    def xy(self, values: Values) -> Xy:
        """Return the chromaticity of the white at a position."""
        return planckian_xy(self.scale.kelvin_at(float(values[0])))

    def _position_near(self, wanted: Xy) -> float:
        white = white_from_xy(wanted)
        if white is not None:
            return self.scale.position_of(white.kelvin)
        return float(min(_SCAN, key=lambda position: distance_uv(self.xy(np.array([position])), wanted)))


Known = tuple[tuple[str, Emitter], ...]
"""The emitters of a light that were measured, by name."""


@dataclass(frozen=True)
class EmitterMixer:
    """Emitters with a channel each; those whose chromaticity is known mix any colour between them."""

    attributes: tuple[str, ...]
    known: Known
    dimmer: Dimmer
    """How each emitter's light follows its channel."""

    @cached_property
    def _emitters(self) -> Emitters | None:
        return _emitters(self.known, self._known_names)

    @cached_property
    def _known_names(self) -> list[str]:
        known = dict(self.known)
        return [name for name in self.attributes if name in known]

    @cached_property
    def _known_index(self) -> list[int]:
        return [self.attributes.index(name) for name in self._known_names]

    @cached_property
    def _pulls(self) -> Sequence[float]:
        """The weight in u'v' of each known emitter at full."""
        known = len(self._known_index)
        return [] if self._emitters is None else [float(self._emitters.weight(one)) for one in np.eye(known)]

    @property
    def is_straight(self) -> bool:
        """Whether nothing is known that would make another way than the channels' own."""
        return self._emitters is None and self.dimmer == DIMMERS["linear"]

    def solve(self, colour: Colour) -> Mixture | None:
        """Return the drives that give a colour at the highest output."""
        if self._emitters is None:
            return None
        solution = self._emitters.solve(xy_of_colour(colour))
        drives = self.dimmer.control_from_light(np.asarray(solution.amounts))
        values = dict.fromkeys(self.attributes, 0.0) | dict(zip(self._known_names, drives.tolist(), strict=True))
        return Mixture(values, solution.reached_xy, solution.distance_uv, solution.luminance)

    def crossed(self, origin: Values, aim: Values, share: Values) -> Values:
        """Return drives whose light mixes from one colour to the other, evenly in CIE 1976 u'v'."""
        start, end = self.dimmer.light_from_control(origin), self.dimmer.light_from_control(aim)
        mixed = mix_along_uv(_along(share, origin), self._weight(start), self._weight(end))
        crossing = self.dimmer.control_from_light(start + (end - start) * mixed)
        return np.where(mixed <= 0, origin, np.where(mixed >= 1, aim, crossing))

    def _weight(self, amounts: Values) -> Values:
        """Return the weight in u'v' of amounts, shape (..., channels); shape (..., 1)."""
        if self._emitters is None:
            return np.ones((*amounts.shape[:-1], 1))
        # Added one by one: the sum of a light has the same bits alone and among others.
        weight = np.zeros(amounts.shape[:-1])
        for n, pull in zip(self._known_index, self._pulls, strict=True):
            weight = weight + amounts[..., n] * pull
        return weight[..., None]

    def xy(self, values: Values) -> Xy | None:
        """Return the chromaticity of drives, where all emitters that shine are known."""
        light = self.dimmer.light_from_control(np.asarray(values))
        if self._emitters is None or any(light[n] > 0 for n in range(len(light)) if n not in self._known_index):
            return None
        return self._emitters.chromaticity(light[self._known_index])


@dataclass(frozen=True)
class HueMixer:
    """Hue and saturation, as a light turns them into its own red, green and blue."""

    known: Known
    attributes: Sequence[str] = ("hue", "saturation")
    is_straight = False

    @cached_property
    def _emitters(self) -> Emitters:
        return self._own or Emitters.measured(_SRGB_PRIMARIES)

    @cached_property
    def _own(self) -> Emitters | None:
        return _emitters(self.known, ("red", "green", "blue"))

    @property
    def primaries(self) -> str:
        """By which red, green and blue its colours are judged."""
        return SRGB if self._own is None else "its own"

    def solve(self, colour: Colour) -> Mixture:
        """Return the hue and saturation of the drives that give a colour."""
        solution = self._emitters.solve(xy_of_colour(colour))
        hue, saturation = hue_and_saturation_from_rgb(solution.amounts)
        values = {"hue": float(hue), "saturation": float(saturation)}
        return Mixture(values, solution.reached_xy, solution.distance_uv)

    def crossed(self, origin: Values, aim: Values, share: Values) -> Values:
        """Return hue and saturation of the light between, evenly in CIE 1976 u'v'."""
        start, end = self._amounts(origin), self._amounts(aim)
        mixed = mix_along_uv(_along(share, origin), self._weight(start), self._weight(end))
        crossing = np.stack(hue_and_saturation_from_rgb(start + (end - start) * mixed), axis=-1)
        return np.where(mixed <= 0, origin, np.where(mixed >= 1, aim, crossing))

    def xy(self, values: Values) -> Xy | None:
        """Return the chromaticity of hue and saturation."""
        return self._emitters.chromaticity(self._amounts(values))

    def _weight(self, amounts: Values) -> Values:
        red, green, blue = (float(self._emitters.weight(one)) for one in np.eye(3))
        return (amounts[..., :1] * red + amounts[..., 1:2] * green) + amounts[..., 2:] * blue

    @staticmethod
    def _amounts(values: Values) -> Values:
        return rgb_from_hue_and_saturation(values[..., 0], values[..., 1])


@dataclass(frozen=True)
class PointMixer:
    """Channels that take x and y themselves, 0 to 1 over their range."""

    attributes: Sequence[str] = ("x", "y")
    is_straight = False

    def solve(self, colour: Colour) -> Mixture:
        """Return the point itself; what the light makes of it, it alone knows."""
        x, y = xy_of_colour(colour)
        return Mixture({"x": x, "y": y}, (x, y), 0.0)

    def crossed(self, origin: Values, aim: Values, share: Values) -> Values:
        """Return points evenly in CIE 1976 u'v' on the straight line between two."""
        # Both diagrams are projections of the same space: u'v' divides by -2x + 12y + 3, which is the pull of a point.
        start, end = (-2.0 * point[..., :1] + 12.0 * point[..., 1:] + 3.0 for point in (origin, aim))
        return origin + (aim - origin) * mix_along_uv(_along(share, origin), start, end)

    def xy(self, values: Values) -> Xy | None:
        """Return the point, unless it is none."""
        x, y = (float(value) for value in values)
        return (x, y) if y > 0 and x + y <= 1 else None


def _emitters(known: Known, names: Sequence[str]) -> Emitters | None:
    """Return the measured emitters of these names; None where one of them is not known, or there are none."""
    by_name = dict(known)
    if not names or not all(name in by_name for name in names):
        return None
    measured = [by_name[name] for name in names]
    return Emitters.measured([(float(one.x), float(one.y), float(one.luminance)) for one in measured])


def mixers_of(
    attributes: Sequence[str], white: WhiteScale | None, known: Mapping[EmitterName, Emitter], emitter_dimmer: Dimmer
) -> tuple[Mixer, ...]:
    """Return the mixers of a light with these attributes."""
    mixers: list[Mixer] = []
    measured = tuple(sorted(known.items(), key=lambda item: EMITTERS.index(item[0])))
    if white is not None:
        mixers.append(WhiteMixer(white))
    if emitters := tuple(name for name in attributes if name in EMITTERS):
        mixers.append(EmitterMixer(emitters, measured, emitter_dimmer))
    if "hue" in attributes:
        mixers.append(HueMixer(measured))
    if "x" in attributes:
        mixers.append(PointMixer())
    return tuple(mixers)


@lru_cache(maxsize=4096)
def solve(mixers: tuple[Mixer, ...], colour: Colour) -> Mixture | None:
    """Return the mixture of a light that comes nearest to a colour; None where it cannot be asked for one."""
    found = [mixture for mixture in (mixer.solve(colour) for mixer in mixers) if mixture is not None]
    best = min(found, key=lambda mixture: round(mixture.distance_uv, 6), default=None)
    if best is None or "colour temperature" not in best.values:
        return best
    others = [name for mixer in mixers for name in mixer.attributes if name in (*TINTING, "hue")]
    return replace(best, values={**dict.fromkeys(others, 0.0), **best.values})
