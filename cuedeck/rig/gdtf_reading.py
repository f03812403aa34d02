"""Channels of a GDTF mode as pygdtf reads them, once for all the places where they stand.

Owns what each attribute of DIN SPEC 15800 is called in a show, and which function of a channel counts.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any
from xml.etree.ElementTree import Element

from cuedeck.rig.gdtf_modes import PlacedChannel

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
    default: int
    """The DMX value at the start, at the full width of the channel."""
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
        return falls != (str(function.dmx_invert) == "Yes")

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
        """The DMX value at the start, at the full width of the channel."""
        return self.node.default

    @property
    def default(self) -> int:
        """The DMX value at the start, at the width that is said."""
        return self.node.default >> 8 * self.left_bytes


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
        # Files before 1.2 give the default at the channel; since then it is that of the initial function.
        at_channel = element.get("Default") is not None and element.get("InitialFunction") is None
        snaps = any(str(logical.snap) in ("Yes", "On") for logical in node.logical_channels)
        return _Node(chosen, int((node if at_channel else first).default.value), snaps)


def _master(function: Any) -> tuple[str, int, int]:
    """Return which choice of another channel a function belongs to."""
    return str(function.mode_master or ""), function.mode_from.value, function.mode_to.value


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
