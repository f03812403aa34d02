"""The description in a GDTF file (DIN SPEC 15800), read as from a stranger.

Owns the promise that whatever leaves this module is small and sound: no document type, no entity, limits
on depth and number of elements, only the elements and attributes that the import reads, every number
checked, and every DMX value written out at the width of its own channel.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import NoReturn
from xml.etree.ElementTree import Element, SubElement
from xml.parsers import expat

from cuedeck.rig.gdtf.values import CHECKS, write_out_values
from cuedeck.show.problems import Place, Problem, ProblemsFound
from cuedeck.show.units import shorten

DESCRIPTION_FILE = "description.xml"
MOST_DESCRIPTION_BYTES = 10_000_000
MOST_DEPTH = 64
MOST_ELEMENTS = 100_000
MOST_ATTRIBUTE_CHARACTERS = 2_000

_GEOMETRIES = frozenset(
    {
        *("Geometry", "GeometryReference", "Axis", "Beam", "Laser", "Inventory", "Structure", "Support", "Magnet"),
        *("FilterBeam", "FilterColor", "FilterGobo", "FilterShaper", "Display", "WiringObject"),
        *("MediaServerMaster", "MediaServerLayer", "MediaServerCamera"),
    }
)
_BELOW_GEOMETRY = _GEOMETRIES | {"Break"}
_OF_GEOMETRY = (
    *("Name", "Geometry", "PowerConsumption", "ComponentType", "ElectricalPayLoad"),
    *("LuminousFlux", "ColorTemperature", "BeamRadius"),
)

_KEPT: Mapping[str, tuple[frozenset[str], tuple[str, ...]]] = {
    "GDTF": (frozenset({"FixtureType"}), ("DataVersion",)),
    "FixtureType": (
        frozenset({"AttributeDefinitions", "PhysicalDescriptions", "Geometries", "DMXModes"}),
        ("Name", "Manufacturer"),
    ),
    "AttributeDefinitions": (frozenset({"Attributes"}), ()),
    "Attributes": (frozenset({"Attribute"}), ()),
    "Attribute": (frozenset(), ("Name", "Pretty")),
    "PhysicalDescriptions": (frozenset({"Emitters", "DMXProfiles"}), ()),
    "DMXProfiles": (frozenset({"DMXProfile"}), ()),
    "DMXProfile": (frozenset({"Point"}), ("Name",)),
    "Point": (frozenset(), ("DMXPercentage", "CFC0", "CFC1", "CFC2", "CFC3")),
    "Emitters": (frozenset({"Emitter"}), ()),
    "Emitter": (frozenset(), ("Name", "Color")),
    "Geometries": (_GEOMETRIES, ()),
    **dict.fromkeys(_GEOMETRIES, (_BELOW_GEOMETRY, _OF_GEOMETRY)),
    "Break": (frozenset(), ("DMXOffset", "DMXBreak")),
    "DMXModes": (frozenset({"DMXMode"}), ()),
    "DMXMode": (frozenset({"DMXChannels"}), ("Name", "Geometry")),
    "DMXChannels": (frozenset({"DMXChannel"}), ()),
    "DMXChannel": (
        frozenset({"LogicalChannel"}),
        ("DMXBreak", "Offset", "InitialFunction", "Geometry", "Default"),
    ),
    "LogicalChannel": (frozenset({"ChannelFunction"}), ("Attribute", "Snap")),
    "ChannelFunction": (
        frozenset({"ChannelSet"}),
        (
            *("Name", "Attribute", "DMXFrom", "Default", "PhysicalFrom", "PhysicalTo", "Emitter", "DMXInvert"),
            *("ModeMaster", "ModeFrom", "ModeTo", "DMXProfile", "Min", "Max"),
        ),
    ),
    "ChannelSet": (frozenset(), ("Name", "DMXFrom")),
}
"""What the import reads: for each element, the elements in it and its attributes."""


def read_description(raw: bytes, file: str) -> Element:
    """Return the root of a description, pruned to what the import reads.

    Raises ProblemsFound, at its line and column, for whatever is not sound XML or breaks a limit.
    """
    if len(raw) > MOST_DESCRIPTION_BYTES:
        raise too_large(file)
    if raw.endswith(b"\0") and not raw.startswith((b"\xff\xfe", b"\xfe\xff")) and b"\0" not in raw[:4]:
        raw = raw.rstrip(b"\0")  # some writers end the text with the zero of their strings
    return _Reader(file).read(raw)


def too_large(file: str) -> ProblemsFound:
    what = f"the description is larger than {MOST_DESCRIPTION_BYTES // 1_000_000} MB unpacked"
    return ProblemsFound([Problem(Place(place_name(file), 1, 1), what, "ask the maker for a smaller file")])


def place_name(file: str) -> str:
    return f"{shorten(file, 200)}/{DESCRIPTION_FILE}"


class _Reader:
    """Builds the pruned tree from the events of expat, and stops at the first thing that is not sound."""

    def __init__(self, file: str) -> None:
        self._file = file
        self._open: list[Element] = []
        self._root: Element | None = None
        self._depth = self._skipped_depth = self._count = 0
        self._parser = expat.ParserCreate()
        self._parser.StartElementHandler = self._start
        self._parser.EndElementHandler = self._end
        self._parser.StartDoctypeDeclHandler = self._doctype
        self._parser.EntityDeclHandler = self._doctype

    def read(self, raw: bytes) -> Element:
        try:
            self._parser.Parse(raw, True)
        except expat.ExpatError as error:
            what = f"the XML is broken: {expat.ErrorString(error.code)}"
            place = Place(place_name(self._file), error.lineno, error.offset + 1)
            raise ProblemsFound([Problem(place, what, "fetch the file again, or ask its maker for a sound one")]) from (
                error
            )
        except (LookupError, ValueError) as error:  # an encoding that Python does not know, or no text encoding
            self._refuse(f"the text cannot be read: {shorten(str(error), 100)}", "save description.xml as UTF-8")
        if self._root is None or self._root.find("FixtureType") is None:
            self._refuse("this describes no fixture type", "give a GDTF file, with <GDTF> and <FixtureType> in it")
        return self._root

    def _refuse(self, what: str, cure: str) -> NoReturn:
        place = Place(
            place_name(self._file),
            max(1, self._parser.CurrentLineNumber),
            self._parser.CurrentColumnNumber + 1,
        )
        raise ProblemsFound([Problem(place, what, cure)])

    def _doctype(self, *_: object) -> None:
        cure = "take the <!DOCTYPE ...> out; a GDTF file has none"
        self._refuse("a document type is declared, which could hide or multiply content", cure)

    def _start(self, tag: str, attributes: dict[str, str]) -> None:
        self._depth += 1
        self._count += 1
        if self._depth > MOST_DEPTH:
            self._refuse(
                f"elements stand inside each other more than {MOST_DEPTH} deep", "ask its maker for a sound one"
            )
        if self._count > MOST_ELEMENTS:
            self._refuse(f"there are more than {MOST_ELEMENTS:,} elements", "ask the maker for a smaller file")
        if self._skipped_depth or not self._is_kept(tag):
            self._skipped_depth += 1
            return
        kept = {name: attributes[name] for name in _KEPT[tag][1] if attributes.get(name, "").strip()}
        checked = {name: self._checked(name, text) for name, text in kept.items()}
        if self._open:
            self._open.append(SubElement(self._open[-1], tag, checked))
        else:
            self._root = Element(tag, checked)
            self._open.append(self._root)

    def _is_kept(self, tag: str) -> bool:
        return tag in _KEPT[self._open[-1].tag][0] if self._open else tag == "GDTF"

    def _end(self, _: str) -> None:
        self._depth -= 1
        if self._skipped_depth:
            self._skipped_depth -= 1
            return
        element = self._open.pop()
        if element.tag == "DMXChannel":
            write_out_values(element)

    def _checked(self, name: str, text: str) -> str:
        if len(text) > MOST_ATTRIBUTE_CHARACTERS:
            self._refuse(f"{name} is longer than {MOST_ATTRIBUTE_CHARACTERS:,} characters", "shorten it")
        check, expected = CHECKS.get(name, (str, ""))
        found = check(text.strip())
        if found is None:
            self._refuse(f"{name} is '{shorten(text)}'", f"write {expected}")
        return found
