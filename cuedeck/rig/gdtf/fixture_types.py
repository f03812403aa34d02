"""A fixture type of a show, from the description in a GDTF file (DIN SPEC 15800).

pygdtf reads the nodes of channels, attributes and emitters; what they mean in a show is said here. What
a show cannot say is left out or brought near, and where that changes what the fixture does, it is noted.
Wheels, models, relations, macros and the labels on a channel of light are not read.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any
from xml.etree.ElementTree import Element

from cuedeck.errors import Refusal
from cuedeck.rig.gdtf.channels import SMALLEST, ModeWriter, WrittenChannel, decimal
from cuedeck.rig.gdtf.modes import Geometries, ModeRefused, PlacedMode, place_channels, positive
from cuedeck.rig.gdtf.names import clean, unused
from cuedeck.rig.gdtf.values import profiles_of
from cuedeck.rig.gdtf.xml import read_description
from cuedeck.rig.mixing import COLOUR_ATTRIBUTES
from cuedeck.show.problems import choice_of, counted
from cuedeck.show.units import ColourTemperature, shorten

MOST_MODES = 256
MOST_REASONS = 3
MOST_MODE_CHARACTERS = 70
"""Of the name of a mode, so that a number still fits behind it."""
LEAST_KELVIN, MOST_KELVIN = float(ColourTemperature.LEAST), float(ColourTemperature.MOST)
MOST = 1e6
"""Of watts and lumens."""
STANDARD_WATTS, STANDARD_LUMENS = 1000, 10_000
"""What the schema gives a beam that says nothing: unknown. Source: DIN SPEC 15800, table of Beam attributes."""


class GdtfRefused(Refusal):
    """A GDTF file that cannot be read, or holds nothing that a show can use. The message says what to do."""


@dataclass(frozen=True)
class ImportedType:
    """A fixture type as a GDTF file gives it."""

    name: str
    maker: str
    data_version: str
    modes: Mapping[str, tuple[WrittenChannel, ...]]
    """The channels of each mode, in the order of their slots, without gaps."""
    description: Mapping[str, Any]
    """The type in the words of a show file: texts, lists and mappings."""
    notes: tuple[str, ...]
    """What was left out or brought near, one sentence each."""

    def slot_count(self, mode: str) -> int:
        """Return how many slots a mode takes."""
        return sum(channel.width_slots for channel in self.modes[mode])


def import_type(description: bytes, file: str, mode: str | None = None) -> ImportedType:
    """Return the fixture type in the bytes of a description.xml, with all its modes or the one named.

    Raises ProblemsFound where the description is not sound, GdtfRefused where there is nothing to import.
    """
    root = read_description(description, file)
    pygdtf = _pygdtf()
    try:
        return _Importer(root, file, pygdtf).imported(mode)
    except Refusal:
        raise
    except Exception as error:  # pygdtf has no errors of its own: whatever it makes of odd content ends here
        reason = shorten(f"{type(error).__name__}: {error}", 200)
        what = f"{shorten(file, 200)}: pygdtf cannot read its description ({reason})"
        raise GdtfRefused(f"{what}; ask the maker for a sound file, or write the type by hand") from error


def _pygdtf() -> Any:
    try:
        import pygdtf
    except ImportError as error:
        raise GdtfRefused("GDTF files need pygdtf, which is missing: pip install 'cuedeck[gdtf]'") from error
    return pygdtf


class _Importer:
    """One import: the modes one after the other, and what they share."""

    def __init__(self, root: Element, file: str, pygdtf: Any) -> None:
        self._file = shorten(file, 200)
        self._pygdtf = pygdtf
        self._root = root
        described = root.find("FixtureType")
        self._type = root if described is None else described
        self._notes: dict[str, None] = {}
        self._emitters = _emitters(self._type, pygdtf, self._notes)
        self._placed: list[PlacedMode] = []

    def imported(self, wanted: str | None) -> ImportedType:
        """Return the type with the wanted mode, or all. Raises GdtfRefused where none is left."""
        named = self._named_modes(wanted)
        pretty = _pretty_names(self._type, self._pygdtf)
        writer = ModeWriter(self._pygdtf, pretty, self._emitters, profiles_of(self._type), self._notes)
        geometries = Geometries(self._type)
        modes: dict[str, tuple[WrittenChannel, ...]] = {}
        refused: list[str] = []
        for name, element in named.items():
            try:
                placed = place_channels(element, name, geometries)
                modes[name] = tuple(writer.write(placed))
            except ModeRefused as refusal:
                refused.append(f"mode '{name}' is left out: {refusal}")
                continue
            self._note_mode(placed)
        if not modes:
            reasons = "; ".join(refused[:MOST_REASONS]) or "it has no mode with a channel"
            raise GdtfRefused(f"{self._file}: there is nothing to import: {reasons}; write the type by hand")
        return ImportedType(
            name=clean(self._type.get("Name", "")) or "fixture",
            maker=clean(self._type.get("Manufacturer", "")),
            data_version=clean(self._root.get("DataVersion", "unknown")),
            modes=modes,
            description=self._description(modes, writer),
            notes=(*refused, *self._notes),
        )

    def _named_modes(self, wanted: str | None) -> dict[str, Element]:
        """Return the modes under names that a show can use, no two alike."""
        elements = self._type.findall("DMXModes/DMXMode")
        if len(elements) > MOST_MODES:
            raise GdtfRefused(f"{self._file}: there are more than {MOST_MODES} modes; ask the maker for a smaller file")
        named: dict[str, Element] = {}
        for number, element in enumerate(elements, 1):
            named[unused(clean(element.get("Name", ""), MOST_MODE_CHARACTERS) or f"mode {number}", named)] = element
        if wanted is None:
            return named
        if wanted not in named:
            cure = choice_of(wanted, named, none="the file has no mode at all")
            raise GdtfRefused(f"{self._file}: there is no mode '{shorten(wanted)}': {cure}")
        return {wanted: named[wanted]}

    def _note_mode(self, placed: PlacedMode) -> None:
        self._placed.append(placed)
        start = f"mode '{placed.name}':"
        if placed.virtual:
            self._notes[f"{start} {counted(placed.virtual, 'virtual channel')} without a slot left out"] = None
        if placed.elsewhere:
            what = counted(placed.elsewhere, "channel")
            self._notes[f"{start} {what} outside the geometry of the mode, kept on the slots they name"] = None
        if placed.references:
            what = f"{counted(placed.references, 'repeated part')} written out one after the other"
            self._notes[f"{start} {what}, as channels with numbers"] = None

    def _description(self, modes: Mapping[str, tuple[WrittenChannel, ...]], writer: ModeWriter) -> dict[str, Any]:
        said: dict[str, Any] = {"modes": {name: [one.data for one in channels] for name, channels in modes.items()}}
        said |= writer.scales
        emitters = {name: self._emitters[one] for name, one in writer.emitters.items()}
        if emitters:
            said["emitters"] = emitters
            lights = {one["luminance"] for one in emitters.values()}
            if len(lights) == 1 and len(emitters) > 1:
                self._notes["all emitters have the same luminance in the file: measure them before mixing by it"] = None
        return said | self._light_of_beams(has_colour=not writer.lights.isdisjoint(COLOUR_ATTRIBUTES))

    def _light_of_beams(self, *, has_colour: bool) -> dict[str, Any]:
        """Return the power, the light, the white and the size of the type, as far as the file gives them."""
        said = {
            "watts": self._highest("power", "W", {mode.watts for mode in self._placed}, STANDARD_WATTS),
            "lumens": self._highest(
                "luminous flux",
                "lm",
                {sum(positive(beam, "LuminousFlux") for beam in mode.beams) for mode in self._placed},
                STANDARD_LUMENS,
            ),
        }
        beams = [beam for mode in self._placed for beam in mode.beams]
        kelvins = {positive(beam, "ColorTemperature") for beam in beams}
        if not has_colour and len(kelvins) == 1 and LEAST_KELVIN <= (kelvin := kelvins.pop()) <= MOST_KELVIN:
            said["white"] = f"{decimal(kelvin)} K"
        metres = {2 * positive(beam, "BeamRadius") for beam in beams}
        if (
            all(len(mode.beams) <= 1 for mode in self._placed)
            and len(metres) == 1
            and 0 < (across := metres.pop()) < 10
        ):
            said["size"] = decimal(across)
        return {key: value for key, value in said.items() if value}

    def _highest(self, what: str, unit: str, of_modes: set[float], standard: float) -> str:
        """Return the highest of the modes, or '' where the file gives none that can be meant."""
        given = {one for one in of_modes if one > 0}
        if not given:
            return ""
        highest = max(given)
        if highest == standard:
            self._notes[f"a {what} of {standard} {unit} is what the standard gives a beam that says none: left out"] = (
                None
            )
            return ""
        if not SMALLEST <= highest <= MOST:
            self._notes[f"a {what} of {highest:g} {unit} is out of range and is left out"] = None
            return ""
        if len(given) > 1:
            self._notes[f"the modes differ in {what}: the highest is written"] = None
        return decimal(highest)


def _pretty_names(fixture_type: Element, pygdtf: Any) -> dict[str, str]:
    nodes = [
        pygdtf.Attribute(xml_node=one) for one in fixture_type.iterfind("AttributeDefinitions/Attributes/Attribute")
    ]
    return {node.name: node.pretty for node in nodes if node.name and node.pretty}


def _emitters(fixture_type: Element, pygdtf: Any, notes: dict[str, None]) -> dict[str, dict[str, str]]:
    """Return the measured emitters by name, as {x, y, luminance}.

    pygdtf gives a colour that is missing or broken as white, so the text is looked at first.
    """
    found: dict[str, dict[str, str]] = {}
    for element in fixture_type.iterfind("PhysicalDescriptions/Emitters/Emitter"):
        name = element.get("Name", "")
        if not _is_measured(element.get("Color", "")):
            notes[f"emitter '{clean(name)}' has no measured colour and is left out"] = None
            continue
        colour = pygdtf.Emitter(xml_node=element).color
        x, y, luminance = (decimal(value) for value in (colour.x, colour.y, colour.Y))
        found.setdefault(name, {"x": x, "y": y, "luminance": luminance})
    return found


def _is_measured(text: str) -> bool:
    parts = text.split(",")
    if len(parts) != 3 or not all(re.fullmatch(r"\s*\d{0,9}\.?\d{1,12}\s*", part, re.ASCII) for part in parts):
        return False
    x, y, luminance = (round(float(part), 6) for part in parts)
    return SMALLEST <= x < 1 and SMALLEST <= y < 1 and x + y <= 1 and SMALLEST <= luminance < 1e9
