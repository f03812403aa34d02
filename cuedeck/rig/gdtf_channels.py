"""Channels of a GDTF mode in the words of a show file.

Owns how a channel is said, short or long, and the order of the slots: what is written covers every slot of
the mode once, from the first to the last.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any

from cuedeck.rig.gdtf_modes import ModeRefused, PlacedMode
from cuedeck.rig.gdtf_names import channel_name, unused, words_of
from cuedeck.rig.gdtf_ranges import default_text, ranges_of
from cuedeck.rig.gdtf_reading import ATTRIBUTES_OF_LIGHT, NOTHING, TEMPERATURE, ChannelReader, ReadChannel
from cuedeck.show.problems import counted
from cuedeck.show.units import shorten

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

    def __init__(self, pygdtf: Any, pretty: Mapping[str, str], emitters: Iterable[str], notes: dict[str, None]) -> None:
        self._reader = ChannelReader(pygdtf)
        self._pretty = pretty
        self._emitters_by_words = {words_of(name).removesuffix(" led"): name for name in emitters}
        self._emitter_names = frozenset(emitters)
        self._parts_left = MOST_PARTS
        self._notes = notes
        self.temperature: tuple[float, float] | None = None
        """The ends of the colour temperature, in kelvins."""
        self.emitters: dict[str, str] = {}
        """The measured emitter in the file of each emitter channel."""

    def write(self, placed: PlacedMode) -> list[WrittenChannel]:
        """Return the channels of a mode. Raises ModeRefused where none of them can be set."""
        before = self.temperature, dict(self.emitters)
        try:
            return self._written(placed)
        except ModeRefused:
            self.temperature, self.emitters = before
            raise

    def _written(self, placed: PlacedMode) -> list[WrittenChannel]:
        here = [self._reader.read(channel) for channel in placed.channels]
        if not here:
            raise ModeRefused("none of its channels has a slot")
        if all(one.sets_nothing for one in here):
            raise ModeRefused("none of its channels can be set")
        mode = _Mode(f"mode '{placed.name}'", lights=frozenset(one.light for one in here if one.light))
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
        if word is None or word in mode.known or not self._is_complete(word, function, mode):
            return None
        self._spend(1)
        mode.known.add(word)
        if word in _EMITTERS:
            self._find_emitter(word, str(function.emitter or ""))
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
        """Add the default and the snap, where there are any and they can be meant."""
        text = default_text(here.default, here.width)
        lit = name == "intensity" or (here.light in _EMITTERS and "intensity" not in mode.lights)
        if text and (lit or (name == here.light and here.inverted)):
            why = "a shot starts dark" if lit else "the channel is inverted"
            self._note(mode, f"the default of '{name}' ({text}) is left out: {why}")
        elif text:
            long["default"] = text
        if here.snaps:
            long["snap"] = "start"

    def _is_complete(self, word: str, function: Any, mode: _Mode) -> bool:
        """Whether a channel has the others beside it without which its word says nothing."""
        missing = [one for one in _NEEDED_BESIDE.get(word, ()) if one not in mode.lights]
        if missing:
            self._note(mode, f"'{function.attribute}' is a channel of its own: {word} needs {missing[0]} beside it")
        return not missing and (word != TEMPERATURE or self._takes_temperature(function, mode))

    def _takes_temperature(self, function: Any, mode: _Mode) -> bool:
        """Whether the type's one colour temperature is, or can become, that of a function."""
        ends = sorted((function.physical_from.value, function.physical_to.value))
        what = f"'{function.attribute}' is a channel of its own:"
        if not (_LIKELY_KELVINS[0] <= ends[0] < ends[1] <= _LIKELY_KELVINS[1]):
            self._note(mode, f"{what} the file gives no kelvins for it")
        elif self.temperature not in (None, (ends[0], ends[1])):
            self._note(mode, f"{what} its kelvins differ from those of the first mode")
        else:
            self.temperature = (ends[0], ends[1])
            return True
        return False

    def _find_emitter(self, word: str, link: str) -> None:
        name = link if link in self._emitter_names else self._emitters_by_words.get(word)
        if name is not None and len(self.emitters) < MOST_EMITTERS:
            self.emitters.setdefault(word, name)

    def _note(self, mode: _Mode, what: str) -> None:
        self._notes[f"{mode.start}: {shorten(what, 300)}"] = None


def _width_text(width: int) -> str:
    return "" if width == 1 else f" {8 * width}-bit"


def _without_gaps(channels: Iterable[WrittenChannel]) -> Iterator[WrittenChannel]:
    """Yield channels with 'fixed 0' in every slot that none of them has."""
    slot = 1
    for channel in channels:
        yield from (WrittenChannel(gap, 1, "fixed 0") for gap in range(slot, channel.first_slot))
        yield channel
        slot = channel.first_slot + channel.width_slots
