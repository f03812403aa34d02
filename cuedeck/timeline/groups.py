"""Groups: which parameters of a patch travel together in a fade, and along which path."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from weakref import WeakKeyDictionary

import numpy as np

from cuedeck.arrays import Index, Values
from cuedeck.light.curves import Curve
from cuedeck.rig.dimmer import Dimmer
from cuedeck.rig.mixing import COLOUR_ATTRIBUTES, Mixer
from cuedeck.rig.parameters import PatchedFixture
from cuedeck.rig.patch import Patch
from cuedeck.show.model import ColourPathName
from cuedeck.timeline.paths import HELD, STRAIGHT, AlongLight, Mixed, Path

WHOLE = Fraction(1)


@dataclass(frozen=True)
class Journey:
    """Columns that fade together."""

    columns: Index
    """Among them, for a path that needs them, columns that the cue leaves where they are."""
    path: Path
    share_of_fade: Fraction = WHOLE
    """How much of the cue's fade they take."""


@dataclass(frozen=True, eq=False)
class Groups:
    """The columns of a patch by how they travel."""

    intensities: tuple[tuple[Dimmer, Index], ...]
    """Intensities by dimmer."""
    others: Index
    """Columns that fade, each alone, and are no intensity."""
    snapping: tuple[tuple[Fraction, Index], ...]
    """Columns that jump, by where in the fade they do."""
    mixed: tuple[tuple[Mixer, Index], ...]
    """Columns whose colour mixes as light, by how it does; each of shape (lights, channels)."""
    intensity_of_colour: Index
    """For each column that is part of a colour, the column of its light's intensity; -1 for the rest.

    A light that is never dark is among the rest: its colour never jumps.
    """

    def ends_s(self, columns: Index, start_s: Fraction, fade_s: Fraction) -> list[Fraction]:
        """Return when a cue has finished with each of some columns."""
        jumps = {column: share for share, snapping in self.snapping for column in snapping.tolist()}
        return [start_s + jumps.get(column, WHOLE) * fade_s for column in columns.tolist()]

    def journeys(
        self, on_stage: Values, wanted: Values, curve: Curve, colour_path: ColourPathName
    ) -> Iterator[Journey]:
        """Yield the columns that a cue fades. What jumps at once, and the colour of a dark light, is not among them."""
        travels = ~np.isnan(wanted)
        is_colour = self.intensity_of_colour >= 0
        travels[is_colour] &= on_stage[self.intensity_of_colour[is_colour]] != 0
        straight = [self.others]
        for dimmer, columns in self.intensities:
            if curve.scale is None:
                straight.append(columns)
            else:
                yield Journey(columns[travels[columns]], AlongLight(curve.scale, dimmer))
        for mixer, by_light in self.mixed:
            mixes = travels[by_light].any(axis=1) & (colour_path == "u'v'")
            yield Journey(by_light[mixes].reshape(-1), Mixed(mixer))
            straight.append(by_light[~mixes].reshape(-1))
        together = np.sort(np.concatenate(straight))
        yield Journey(together[travels[together]], STRAIGHT)
        for share, columns in self.snapping:
            if share:
                yield Journey(columns[travels[columns]], HELD, share)


_known: WeakKeyDictionary[Patch, Groups] = WeakKeyDictionary()
"""The groups of each patch for as long as there is that patch: a show that is read again has another."""


def groups_of(patch: Patch) -> Groups:
    groups = _known.get(patch)
    if groups is None:
        groups = _known[patch] = _groups(patch)
    return groups


def _groups(patch: Patch) -> Groups:
    intensities: dict[Dimmer, list[int]] = {}
    snapping: dict[Fraction, list[int]] = {}
    others: list[int] = []
    mixed: dict[Mixer, list[list[int]]] = {}
    intensity_of_colour = np.full(len(patch.parameters), -1, dtype=np.intp)
    for fixture in patch.fixtures:
        mixers = _crossing(fixture)
        for mixer in mixers:
            mixed.setdefault(mixer, []).append([fixture.columns[name] for name in mixer.attributes])
        for attribute, column in fixture.columns.items():
            if attribute in COLOUR_ATTRIBUTES and not fixture.stays_lit:
                intensity_of_colour[column] = fixture.columns["intensity"]
            channel = fixture.by_attribute.get(attribute)
            if channel is not None and channel.snaps_at is not None:
                snapping.setdefault(channel.snaps_at, []).append(column)
            elif attribute == "intensity":
                intensities.setdefault(fixture.dimmer, []).append(column)
            elif not any(attribute in mixer.attributes for mixer in mixers):
                others.append(column)
    return Groups(
        tuple((dimmer, _index(columns)) for dimmer, columns in intensities.items()),
        _index(others),
        tuple((share, _index(columns)) for share, columns in snapping.items()),
        tuple((mixer, np.array(by_light, dtype=np.intp)) for mixer, by_light in mixed.items()),
        intensity_of_colour,
    )


def _crossing(fixture: PatchedFixture) -> list[Mixer]:
    """Return the mixers of a light whose colours cross as light mixes: none of their channels jumps."""
    jumps = {name for name, channel in fixture.by_attribute.items() if channel.snaps_at is not None}
    return [mixer for mixer in fixture.mixers if not mixer.is_straight and jumps.isdisjoint(mixer.attributes)]


def _index(columns: list[int]) -> Index:
    return np.array(columns, dtype=np.intp)
