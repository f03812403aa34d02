"""Channels of a GDTF mode in the words of a show file.

Owns how a channel is said, short or long, and the order of the slots: what is written covers every slot of
the mode once, from the first to the last.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from itertools import pairwise
from typing import Any

from cuedeck.rig.gdtf.modes import ModeRefused, PlacedMode
from cuedeck.rig.gdtf.names import channel_name, default_text, lower_case_words, ranges_of, unused
from cuedeck.rig.gdtf.reading import ATTRIBUTES_OF_LIGHT, NOTHING, TEMPERATURE, ChannelReader, ReadChannel, link_of
from cuedeck.rig.gdtf.values import STEPS, Shares
from cuedeck.show.problems import counted
from cuedeck.show.units import print_number, shorten

_EMITTERS = frozenset(["red", "green", "blue", "white", "amber", "lime", "cyan", "violet"]) | {
    "warm white",
    "cool white",
}
_TAKEN_WORDS = frozenset({*ATTRIBUTES_OF_LIGHT.values(), TEMPERATURE, "level", "colour", "like", "everything"})
"""Words that mean something else in a look, so that no channel of the fixture's own is called that."""
_LIKELY_KELVINS = (1000.0, 40_000.0)
_NEEDED_BESIDE: Mapping[str, tuple[str, ...]] = {
    TEMPERATURE: ("intensity",),
    "hue": ("saturation", "intensity"),
    "saturation": ("hue", "intensity"),
    "x": ("y", "intensity"),
    "y": ("x", "intensity"),
}
SMALLEST = 1e-6
"""Numbers are written to six places."""
MOST_EMITTERS = 8
"""With measured colours, in one type; a show mixes no more."""
MOST_PARTS = 50_000
"""Channels and ranges of one type, all modes together, those left out too."""


@dataclass(frozen=True)
class WrittenChannel:
    """A channel as a show file says it."""

    first_slot: int
    width_slots: int
    data: str | dict[str, Any]
    """The short form as a text, or the long form as a mapping."""

    @property
    def name(self) -> str:
        """What it is called, with its width."""
        return self.data if isinstance(self.data, str) else str(self.data["channel"])


@dataclass
class _Mode:
    """What the channels of one mode share."""

    start: str
    taken: set[str] = field(default_factory=lambda: set(_TAKEN_WORDS))
    known: set[str] = field(default_factory=set)
    lights: frozenset[str] = frozenset()
    """The words of light that its channels have."""


class ModeWriter:
    """Writes modes, and keeps what the type says once for all of them: colour temperature and emitters."""

    def __init__(
        self,
        pygdtf: Any,
        pretty: Mapping[str, str],
        emitters: Iterable[str],
        profiles: Mapping[str, Shares | None],
        notes: dict[str, None],
    ) -> None:
        self._reader = ChannelReader(pygdtf)
        self._profiles = profiles
        self._pretty = pretty
        self._emitters_by_words = {lower_case_words(name).removesuffix(" led"): name for name in emitters}
        self._emitter_names = frozenset(emitters)
        self._parts_left = MOST_PARTS
        self._notes = notes
        self.scales: dict[str, Mapping[str, str]] = {}
        """What the type says once of `colour temperature` and `dimmer`."""
        self.lights: frozenset[str] = frozenset()
        """The words of light that channels of its modes have."""
        self.emitters: dict[str, str] = {}
        """The measured emitter in the file of each emitter channel."""

    def write(self, placed: PlacedMode) -> list[WrittenChannel]:
        """Return the channels of a mode. Raises ModeRefused where none of them can be set."""
        before = dict(self.scales), dict(self.emitters)
        try:
            return self._written(placed)
        except ModeRefused:
            self.scales, self.emitters = before
            raise

    def _written(self, placed: PlacedMode) -> list[WrittenChannel]:
        here = [self._reader.read(channel) for channel in placed.channels]
        if not here:
            raise ModeRefused("none of its channels has a slot")
        if all(one.sets_nothing for one in here):
            raise ModeRefused("none of its channels can be set")
        mode = _Mode(f"mode '{placed.name}'", lights=frozenset(one.light for one in here if one.light))
        self.lights |= mode.lights
        if not mode.lights & (_EMITTERS | {"intensity"}):
            self._note(mode, "it has no intensity and no emitter that a show knows")
        written = sorted(
            (channel for one in here for channel in self._channel(one, mode)), key=lambda channel: channel.first_slot
        )
        return list(_without_gaps(written))

    def _channel(self, here: ReadChannel, mode: _Mode) -> Iterator[WrittenChannel]:
        if here.sets_nothing:
            octets = here.full_default.to_bytes(len(here.slots), "big")
            pairs = zip(here.slots, octets, strict=True)
            yield from (WrittenChannel(slot, 1, f"fixed {octet}") for slot, octet in pairs)
            return
        data = self._light_data(here, mode) or self._own_data(here, mode)
        channel = WrittenChannel(here.slots[0], here.width, data)
        yield channel
        if here.left_bytes:
            what = counted(here.left_bytes, "fine byte")
            self._note(mode, f"'{channel.name}' has {what} that cannot be said; held at 0")
        yield from (WrittenChannel(slot, 1, "fixed 0") for slot in here.slots[here.width :])

    def _spend(self, parts: int) -> None:
        self._parts_left -= parts
        if self._parts_left < 0:
            raise ModeRefused("the type would be too large by then; name one mode, with --mode")

    def _light_data(self, here: ReadChannel, mode: _Mode) -> str | dict[str, Any] | None:
        """Return a channel of light that a show has a word for, or None where it has none."""
        word = here.light
        function = here.functions[0]
        if word is None or word in mode.known or not self._is_complete(word, here, mode):
            return None
        self._spend(1)
        mode.known.add(word)
        if word in _EMITTERS:
            self._find_emitter(word, link_of(function.emitter))
        if here.profile and word != TEMPERATURE:
            self._take_dimmer(here, word, mode)
        long: dict[str, Any] = {"channel": f"{word}{_width_text(here.width)}{' inverted' if here.inverted else ''}"}
        self._add_start(long, here, mode, word)
        return long if len(long) > 1 else str(long["channel"])

    def _own_data(self, here: ReadChannel, mode: _Mode) -> dict[str, Any]:
        """Return a channel of the fixture's own, in the long form."""
        attribute = next(one for one in here.attributes if one != NOTHING)
        repeated = here.light if here.light in mode.known else None
        name = unused(repeated or channel_name(attribute, self._pretty.get(attribute, "")), mode.taken)
        mode.taken.add(name)
        long: dict[str, Any] = {"channel": f"{name}{_width_text(here.width)}"}
        ranges, left_out = ranges_of(here.functions, here.width, here.left_bytes)
        self._spend(1 + len(ranges) + left_out)
        if left_out:
            what = f"{counted(left_out, 'range')} of '{name}'"
            self._note(mode, f"{what} overlapped, or fell between two 8-bit numbers, and left out")
        if ranges:
            long["ranges"] = ranges
        self._add_start(long, here, mode, name)
        return long

    def _add_start(self, long: dict[str, Any], here: ReadChannel, mode: _Mode, name: str) -> None:
        """Add the default and the snap, where there are any and they can be meant.

        A channel of the fixture's own starts at 0 unless something is said; an emitter, a white or a hue does not.
        """
        is_light = name == here.light
        lit = name == "intensity" or (here.light in _EMITTERS and "intensity" not in mode.lights)
        if here.default is not None and (here.default or (is_light and not lit)):
            text = default_text(here.default, here.width, inverted=is_light and here.inverted)
            if lit:
                self._note(mode, f"the default of '{name}' ({text}) is left out: a shot starts dark")
            else:
                long["default"] = text
        if here.snaps:
            long["snap"] = "start"

    def _is_complete(self, word: str, here: ReadChannel, mode: _Mode) -> bool:
        """Whether a channel has the others beside it without which its word says nothing."""
        missing = [one for one in _NEEDED_BESIDE.get(word, ()) if one not in mode.lights]
        if missing:
            attribute = here.functions[0].attribute
            self._note(mode, f"'{attribute}' is a channel of its own: {word} needs {missing[0]} beside it")
        return not missing and (word != TEMPERATURE or self._takes_temperature(here, mode))

    def _takes_temperature(self, here: ReadChannel, mode: _Mode) -> bool:
        """Whether the type's one colour temperature is, or can become, that of a channel."""
        function = here.functions[0]
        what = f"'{function.attribute}' is a channel of its own:"
        start, end = _physical_ends(function)
        low, high = sorted((start, end))
        if not (_LIKELY_KELVINS[0] <= low < high <= _LIKELY_KELVINS[1]):
            self._note(mode, f"{what} the file gives no kelvins for it")
            return False
        scale: dict[str, str] | None = {"low": f"{decimal(low)} K", "high": f"{decimal(high)} K", "even in": "kelvin"}
        if here.profile:
            scale = self._readings(here, lambda share: f"{decimal(start + share * (end - start))} K", is_strict=True)
        if scale is None:
            self._note(mode, f"{what} its profile '{here.profile}' does not run one way between its kelvins")
        elif self.scales.setdefault(TEMPERATURE, scale) != scale:
            self._note(mode, f"{what} its kelvins differ from those of the first mode")
            scale = None
        return scale is not None

    def _take_dimmer(self, here: ReadChannel, word: str, mode: _Mode) -> None:
        """Take the profile of an intensity as the dimmer of the type; that of anything else is told."""
        readings = self._readings(here, decimal) if word == "intensity" else None
        if readings is None or self.scales.setdefault("dimmer", readings) != readings:
            self._note(mode, f"the profile '{here.profile}' of '{word}' cannot be said; it is taken to run evenly")

    def _readings(
        self, here: ReadChannel, text: Callable[[float], str], *, is_strict: bool = False
    ) -> dict[str, str] | None:
        """Return what the profile of a channel gives along it; None where it does not run one way from end to end."""
        shares = self._profiles.get(here.profile)
        if shares is None:
            return None
        along = shares[::-1] if here.counts_down != here.inverted else shares
        rises = along if along[0] < along[-1] else along[::-1]
        is_one_way = all(one < other or (one == other == 0 and not is_strict) for one, other in pairwise(rises))
        if not is_one_way or not (is_strict or (along[0], along[-1]) == (0.0, 1.0)):
            return None
        return {f"{decimal(100 * step / STEPS)} %": text(share) for step, share in enumerate(along)}

    def _find_emitter(self, word: str, link: str) -> None:
        name = link if link in self._emitter_names else self._emitters_by_words.get(word)
        if name is not None and len(self.emitters) < MOST_EMITTERS:
            self.emitters.setdefault(word, name)

    def _note(self, mode: _Mode, what: str) -> None:
        self._notes[f"{mode.start}: {shorten(what, 300)}"] = None


def decimal(value: float) -> str:
    """Return a number as a show file writes it: a decimal of at most six places."""
    return print_number(Fraction(round(value / SMALLEST)) * Fraction(1, 10**6))


def _physical_ends(function: Any) -> tuple[float, float]:
    """Return what a function sets at its low and its high end; with a profile, what that runs between."""
    low, high = float(function.physical_from.value), float(function.physical_to.value)
    if not link_of(function.dmx_profile):
        return low, high
    return (
        low if function.min_val is None else float(function.min_val),
        high if function.max_val is None else float(function.max_val),
    )


def _width_text(width: int) -> str:
    return "" if width == 1 else f" {8 * width}-bit"


def _without_gaps(channels: Iterable[WrittenChannel]) -> Iterator[WrittenChannel]:
    """Yield channels with 'fixed 0' in every slot that none of them has."""
    slot = 1
    for channel in channels:
        yield from (WrittenChannel(gap, 1, "fixed 0") for gap in range(slot, channel.first_slot))
        yield channel
        slot = channel.first_slot + channel.width_slots
