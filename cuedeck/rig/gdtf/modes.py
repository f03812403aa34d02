"""The slots of a GDTF mode: its channels, once for each geometry that has them.

Owns the walk along the geometries. pygdtf flattens a mode too, but it leaves out what stands below a
referenced geometry and lets the later of two channels on one slot win; here neither happens unsaid.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from xml.etree.ElementTree import Element

from cuedeck.show.units import FULL_UNIVERSE, shorten

MOST_VISITS = 20_000
"""Geometries and channels of one mode, references followed: far more than 512 slots can need."""
MOST_NESTED = 64

Breaks = Sequence[tuple[int, int]]
"""For each DMX break, in the order of the file: what is added to offsets, as (break, slots)."""


class ModeRefused(Exception):
    """A mode that cannot be written as a list of channels. The message says why."""


@dataclass(frozen=True)
class PlacedChannel:
    """A DMX channel where it stands: its slots, counted from 1, the most significant first."""

    element: Element
    slots: tuple[int, ...]


@dataclass
class PlacedMode:
    """What the walk along the geometries of a mode found."""

    name: str
    channels: list[PlacedChannel] = field(default_factory=list)
    virtual: int = 0
    """Channels without a slot."""
    elsewhere: int = 0
    """Channels of geometries that the mode does not reach; they keep the slots that they name."""
    references: int = 0
    """Geometries that are repeated by reference and have channels."""
    watts: float = 0.0
    """Power drawn, or 0 where the file says nothing."""
    beams: Sequence[Element] = ()
    """Where it shines from, references followed."""


class Geometries:
    """The geometries of a fixture type by name, the first of each."""

    def __init__(self, fixture_type: Element) -> None:
        collected = fixture_type.find("Geometries")
        self._by_name: dict[str, Element] = {}
        self._first: Element | None = None
        if collected is not None:
            self._first = next(iter(collected), None)
            for top in (*collected, *collected.iter()):
                if top.get("Name") is not None and top.tag != "GeometryReference":
                    self._by_name.setdefault(top.get("Name", ""), top)

    def root(self, name: str | None) -> Element | None:
        """Return the geometry that a mode starts from; the first one where it names none."""
        return self._first if name is None else self._by_name.get(name)

    def named(self, name: str | None) -> Element | None:
        """Return the geometry that a reference leads to."""
        return self._by_name.get(name or "")


def place_channels(mode: Element, name: str, geometries: Geometries) -> PlacedMode:
    """Return the channels of a mode in the order of their slots. Raises ModeRefused."""
    placed, walk = PlacedMode(name), _Walk(mode, geometries)
    by_break: dict[int, list[PlacedChannel]] = {}
    taken: set[tuple[int, int]] = set()
    for element, breaks in walk.channels():
        if not element.get("Offset"):
            placed.virtual += 1
            continue
        number, added = _break_of(element, breaks)
        channel = PlacedChannel(element, tuple(int(one) + added for one in element.get("Offset", "").split(",")))
        if max(channel.slots) > FULL_UNIVERSE:
            raise ModeRefused(f"it reaches slot {max(channel.slots)}, beyond the {FULL_UNIVERSE} of one universe")
        for slot in channel.slots:
            if (number, slot) in taken:
                raise ModeRefused(f"two of its channels stand on slot {slot}")
            taken.add((number, slot))
        by_break.setdefault(number, []).append(channel)
    if len(by_break) > 1:
        shown = " and ".join(str(number) for number in sorted(by_break)[:4])
        raise ModeRefused(f"its channels stand in DMX breaks {shown}, which are addressed apart")
    placed.channels = sorted((one for channels in by_break.values() for one in channels), key=lambda one: one.slots)
    placed.elsewhere, placed.references = walk.elsewhere, walk.references
    placed.watts, placed.beams = walk.watts, walk.beams
    return placed


def _break_of(channel: Element, breaks: Breaks) -> tuple[int, int]:
    """Return the DMX break of a channel, and what is added to its offsets there."""
    written = channel.get("DMXBreak", "1")
    if written == "Overwrite":
        return breaks[-1] if breaks else (1, 0)  # the last Break of a reference is the one that overwrites
    return int(written), dict(breaks).get(int(written), 0)


class _Walk:
    def __init__(self, mode: Element, geometries: Geometries) -> None:
        self._geometries = geometries
        self._root = geometries.root(mode.get("Geometry"))
        self._by_geometry: dict[str, list[Element]] = {}
        for channel in mode.iterfind("DMXChannels/DMXChannel"):
            self._by_geometry.setdefault(channel.get("Geometry", ""), []).append(channel)
        self._reached: set[str] = set()
        self._visits = 0
        self._consumer_watts = 0.0
        self.beams: list[Element] = []
        self.references = self.elsewhere = 0

    @property
    def watts(self) -> float:
        """What the consumers of the wiring draw, or where none is described, the beams."""
        return self._consumer_watts or sum(positive(beam, "PowerConsumption") for beam in self.beams)

    def channels(self) -> Iterator[tuple[Element, Breaks]]:
        """Yield each channel of each geometry, with what the references on the way add to its offsets."""
        if self._root is not None:
            yield from self._geometry(self._root, (), 0)
        for name, channels in self._by_geometry.items():
            if name not in self._reached:
                self.elsewhere += sum(1 for channel in channels if channel.get("Offset"))
                yield from ((channel, ()) for channel in channels)

    def _geometry(self, geometry: Element, breaks: Breaks, depth: int) -> Iterator[tuple[Element, Breaks]]:
        name = geometry.get("Name", "")
        channels = self._by_geometry.get(name, ())
        self._visits += 1 + len(channels)
        if self._visits > MOST_VISITS or depth > MOST_NESTED:
            raise ModeRefused("its geometries refer to each other without end, or there are far too many")
        self._reached.add(name)
        self._look_at(geometry)
        yield from ((channel, breaks) for channel in channels)
        for part in geometry:
            if part.tag == "GeometryReference":
                yield from self._reference(part, breaks, depth)
            elif part.tag != "Break":
                yield from self._geometry(part, breaks, depth + 1)

    def _reference(self, reference: Element, outer: Breaks, depth: int) -> Iterator[tuple[Element, Breaks]]:
        target = self._geometries.named(reference.get("Geometry"))
        if target is None:
            shown = shorten(reference.get("Geometry", ""))
            raise ModeRefused(f"it refers to the geometry '{shown}', which the file does not have")
        added: Mapping[int, int] = dict(outer)
        breaks = [
            (number, int(one.get("DMXOffset", "1")) - 1 + added.get(number, 0))
            for one in reference.iterfind("Break")
            for number in (int(one.get("DMXBreak", "1")) if one.get("DMXBreak", "1").isdigit() else 1,)
        ]
        if self._by_geometry.get(target.get("Name", "")):
            self.references += 1
        yield from self._geometry(target, breaks, depth + 1)

    def _look_at(self, geometry: Element) -> None:
        if geometry.tag == "Beam":
            self.beams.append(geometry)
        if geometry.tag == "WiringObject" and geometry.get("ComponentType") == "Consumer":
            self._consumer_watts += positive(geometry, "ElectricalPayLoad")


def positive(element: Element, name: str) -> float:
    """Return a number of an element, or 0 where it is missing or below."""
    return max(0.0, float(element.get(name, "0")))
