"""Channels of a GDTF mode as pygdtf reads them, once for all the places where they stand.

Owns what each attribute of DIN SPEC 15800 is called in a show, and which function of a channel counts.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any
from xml.etree.ElementTree import Element

from cuedeck.rig.gdtf.modes import PlacedChannel

ATTRIBUTES_OF_LIGHT: Mapping[str, str] = {
    "Dimmer": "intensity",
    "ColorAdd_R": "red",
    "ColorAdd_G": "green",
    "ColorAdd_B": "blue",
    "ColorAdd_W": "white",
    "ColorAdd_RY": "amber",
    "ColorAdd_GY": "lime",
    "ColorAdd_C": "cyan",
    "ColorAdd_UV": "violet",
    "ColorAdd_WW": "warm white",
    "ColorAdd_CW": "cool white",
    "HSB_Hue": "hue",
    "HSB_Saturation": "saturation",
    "CIE_X": "x",
    "CIE_Y": "y",
}
"""Attributes of DIN SPEC 15800, Annex A, and the word of a show for them [source seen: pygdtf 1.4.5, annex data]."""
TEMPERATURE = "colour temperature"
NOTHING = "NoFeature"
_TEMPERATURES = ("CTC", "CTO", "CTB")
_MOST_BYTES = 3


@dataclass(frozen=True)
class _Node:
    """A channel as pygdtf reads it, wherever it stands."""

    functions: Sequence[Any]
    """Those that count: of one choice of the mode master."""
    default: int | None
    """The DMX value at the start, at the full width of the channel; None where the file says nothing."""
    snaps: bool


@dataclass(frozen=True)
class ReadChannel:
    """A channel at one of its places, and the slots of it that a show can say."""

    node: _Node
    slots: tuple[int, ...]
    width: int
    """How many slots follow each other, at most three."""

    @property
    def functions(self) -> Sequence[Any]:
        """The functions that count, as pygdtf reads them."""
        return self.node.functions

    @property
    def attributes(self) -> list[str]:
        """The attribute of each function."""
        return [str(function.attribute) for function in self.functions]

    @property
    def sets_nothing(self) -> bool:
        """Whether it only holds its slots."""
        return set(self.attributes) <= {NOTHING}

    @property
    def light(self) -> str | None:
        """The word of a show for a channel that does one thing over its whole travel, or None."""
        if len(self.functions) != 1 or self.functions[0].dmx_from.value != 0:
            return None
        attribute = self.attributes[0]
        return TEMPERATURE if attribute in _TEMPERATURES else ATTRIBUTES_OF_LIGHT.get(attribute)

    @property
    def inverted(self) -> bool:
        """Whether its first function falls while the DMX value rises."""
        function = self.functions[0]
        falls = bool(function.physical_from.value > function.physical_to.value)
        return falls != self.counts_down

    @property
    def counts_down(self) -> bool:
        """Whether the DMX values of its first function count from the top (DMXInvert, in files before 1.2)."""
        return str(self.functions[0].dmx_invert) == "Yes"

    @property
    def profile(self) -> str:
        """The name of the DMX profile of its first function, or '' where it runs evenly."""
        return link_of(self.functions[0].dmx_profile)

    @property
    def snaps(self) -> bool:
        """Whether the file says that it jumps."""
        return self.node.snaps

    @property
    def left_bytes(self) -> int:
        """How many of its finest bytes cannot be said."""
        return len(self.slots) - self.width

    @property
    def full_default(self) -> int:
        """The DMX value at the start, at the full width of the channel; 0 where the file says nothing."""
        return self.node.default or 0

    @property
    def default(self) -> int | None:
        """The DMX value at the start, at the width that is said; None where the file says nothing."""
        return None if self.node.default is None else self.node.default >> 8 * self.left_bytes


class ChannelReader:
    """Reads channels with pygdtf; one that stands at many places is read once."""

    def __init__(self, pygdtf: Any) -> None:
        self._pygdtf = pygdtf
        self._nodes: dict[Element, _Node] = {}

    def read(self, placed: PlacedChannel) -> ReadChannel:
        """Return a channel at its place. Raises whatever pygdtf makes of odd content."""
        slots, width = placed.slots, 1
        while width < min(len(slots), _MOST_BYTES) and slots[width] == slots[width - 1] + 1:
            width += 1
        if placed.element not in self._nodes:
            self._nodes[placed.element] = self._node(placed.element)
        return ReadChannel(self._nodes[placed.element], slots, width)

    def _node(self, element: Element) -> _Node:
        node = self._pygdtf.DmxChannel(xml_node=element)
        functions = [function for logical in node.logical_channels for function in logical.channel_functions]
        first = _initial(node, functions)
        chosen = [function for function in functions if _master(function) == _master(first)]
        _set_ends(chosen, [other for other in functions if _may_meet(first, other)], len(node.offset))
        snaps = any(str(logical.snap) in ("Yes", "On") for logical in node.logical_channels)
        return _Node(chosen, _default(element, node, functions.index(first)), snaps)


def _default(element: Element, node: Any, first: int) -> int | None:
    """Return the default that is written: of the function at an index, or in files before 1.2 of the channel."""
    if element.get("Default") is not None and element.get("InitialFunction") is None:
        return int(node.default.value)
    written = element.findall("LogicalChannel/ChannelFunction")
    text = written[first].get("Default") if first < len(written) else None
    return None if text is None else int(text.split("/")[0])


def _set_ends(functions: Sequence[Any], rivals: Sequence[Any], width: int) -> None:
    """Set where functions and their channel sets end (DIN SPEC 15800, tables of ChannelFunction and ChannelSet).

    A function ends where the next one that may be active with it begins; a set where the next set does, and with its
    function at the latest. pygdtf looks for the next one within a logical channel and one choice of a mode master,
    and lets the last set run to the end of the channel.
    """
    full = (1 << 8 * width) - 1
    starts = sorted(rival.dmx_from.value for rival in rivals)
    for function in functions:
        place = bisect_right(starts, function.dmx_from.value)
        function.dmx_to.value = starts[place] - 1 if place < len(starts) else full
        end = function.dmx_to.value
        for one in sorted(function.channel_sets, key=lambda one: one.dmx_from.value, reverse=True):
            one.dmx_to.value = end
            end = min(end, one.dmx_from.value - 1)


def _may_meet(one: Any, other: Any) -> bool:
    """Whether no mode master keeps two functions of a channel apart."""
    (master, low, high), (other_master, other_low, other_high) = _master(one), _master(other)
    is_apart = master == other_master and master and (high < other_low or other_high < low)
    return not is_apart


def _master(function: Any) -> tuple[str, int, int]:
    """Return which choice of another channel a function belongs to."""
    return link_of(function.mode_master), function.mode_from.value, function.mode_to.value


def link_of(link: Any) -> str:
    """Return where a link of pygdtf leads, or '' where it leads nowhere."""
    return "" if link is None else link.str_link or ""


def _initial(node: Any, functions: Sequence[Any]) -> Any:
    """Return the function that is active at the start: the one named, else the first.

    pygdtf leaves the default at 0 where no function is named [computed, T11].
    """
    link = str(getattr(node, "initial_function", None) or "")
    for logical in node.logical_channels:
        for function in logical.channel_functions:
            if f"{node.name}.{logical.attribute}.{function.name}" == link:
                return function
    return functions[0]
