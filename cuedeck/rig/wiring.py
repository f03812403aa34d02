"""Wiring: the columns of levels and the slots that carry them, for all channels of one width, both ways."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple

import numpy as np

from cuedeck.arrays import Index, Slots, Values
from cuedeck.rig.dimmer import DIMMERS, Dimmer

_POWER_LAWS = (DIMMERS["linear"], DIMMERS["square"])
"""Dimmers through which the light of two controls, multiplied, is the light of their product."""


class WiredChannel(NamedTuple):
    """One channel: its column, the column that scales it (its own where none does), and its first slot."""

    column: int
    scaled_by: int
    place: int
    is_inverted: bool
    dimmer: Dimmer


@dataclass(frozen=True)
class Wiring:
    """The channels of one width, in the order of their slots."""

    entries: Sequence[WiredChannel]
    width_slots: int

    @property
    def full(self) -> int:
        """The value of a channel at full: all its bits set."""
        return int(256**self.width_slots) - 1

    @cached_property
    def columns(self) -> Index:
        """The column of each entry."""
        return np.array([entry.column for entry in self.entries], dtype=np.intp)

    @cached_property
    def places(self) -> Index:
        """Where each entry's first slot is, in a flattened packet."""
        return np.array([entry.place for entry in self.entries], dtype=np.intp)

    def encode(self, levels: Values, flat: Slots) -> None:
        """Put levels, (n, parameters) of 0 to 1, into flattened packets, (n, slots)."""
        if not self.entries:
            return
        values = self._driven(levels).astype(">u4" if self.width_slots > 2 else f">u{self.width_slots}")
        size = values.itemsize
        octets = values.view(np.uint8).reshape(len(levels), len(self.entries), size)[:, :, size - self.width_slots :]
        octets = octets.reshape(len(levels), len(self.entries) * self.width_slots)
        for of_values, of_packet in self._runs:
            flat[:, of_packet] = octets[:, of_values]

    def decode(self, flat: Slots) -> Values:
        """Return the value 0 to 1 that each entry's slots stand for; shape (n, entries)."""
        values = np.zeros((len(flat), len(self.entries)))
        for offset in range(self.width_slots):
            values = values * 256 + flat[:, self.places + offset]
        values /= self.full
        inverted = self._inverted
        values[:, inverted] = 1.0 - values[:, inverted]
        return values

    def _driven(self, levels: Values) -> Values:
        """Return values from 1/2 to full + 1/2: dropping the fraction then rounds, halves upwards."""
        driven = np.take(levels, self.columns, axis=1)
        for index, by, dimmer in self._scaled_through:
            light = dimmer.light_from_control(driven[:, index]) * dimmer.light_from_control(levels[:, by])
            driven[:, index] = dimmer.control_from_light(light)
        driven *= self.full
        index, by = self._scaled
        if index.size:
            driven[:, index] *= levels[:, by]
        inverted = self._inverted
        if inverted.size:
            driven[:, inverted] = self.full - driven[:, inverted]
        driven += 0.5
        return driven

    @cached_property
    def _inverted(self) -> Index:
        return np.flatnonzero([entry.is_inverted for entry in self.entries])

    @cached_property
    def _scaled(self) -> tuple[Index, Index]:
        """The entries that another column scales by a plain product, and those columns."""
        return self._index([n for n in self._scaled_entries if self.entries[n].dimmer in _POWER_LAWS])

    @cached_property
    def _scaled_through(self) -> list[tuple[Index, Index, Dimmer]]:
        """The entries that another column scales through a dimmer that is no power law, by dimmer."""
        groups: dict[Dimmer, list[int]] = {}
        for n in self._scaled_entries:
            if self.entries[n].dimmer not in _POWER_LAWS:
                groups.setdefault(self.entries[n].dimmer, []).append(n)
        return [(*self._index(numbers), dimmer) for dimmer, numbers in groups.items()]

    @property
    def _scaled_entries(self) -> list[int]:
        return [n for n, entry in enumerate(self.entries) if entry.scaled_by != entry.column]

    def _index(self, numbers: list[int]) -> tuple[Index, Index]:
        by = [self.entries[n].scaled_by for n in numbers]
        return np.array(numbers, dtype=np.intp), np.array(by, dtype=np.intp)

    @cached_property
    def _runs(self) -> tuple[tuple[slice, slice], ...]:
        """Where neighbours among the entries are neighbours in the packet too: both as slices."""
        width = self.width_slots
        starts = np.flatnonzero(np.diff(self.places, prepend=-2 * width) != width).tolist()
        ends = [*starts[1:], len(self.places)]
        return tuple(
            (slice(start * width, end * width), slice(place, place + (end - start) * width))
            for start, end, place in zip(starts, ends, self.places[starts].tolist(), strict=False)
        )
