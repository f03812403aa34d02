"""The description in a GDTF file (DIN SPEC 15800), read as from a stranger.

Owns the promise that whatever leaves this module is small and sound: no document type, no entity, limits
on depth and number of elements, only the elements and attributes that the import reads, every number
checked, and every DMX value written out at the width of its own channel.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from math import isfinite
from typing import NoReturn
from xml.etree.ElementTree import Element, SubElement
from xml.parsers import expat

from cuedeck.show.problems import Place, Problem, ProblemsFound
from cuedeck.show.units import shorten

DESCRIPTION_FILE = "description.xml"
MOST_DESCRIPTION_BYTES = 10_000_000
MOST_DEPTH = 64
MOST_ELEMENTS = 100_000
MOST_ATTRIBUTE_CHARACTERS = 2_000
FARTHEST_OFFSET = 65_536

_GEOMETRIES = frozenset(
    {
        *("Geometry", "GeometryReference", "Axis", "Beam", "Laser", "Inventory", "Structure", "Support", "Magnet"),
        *("FilterBeam", "FilterColor", "FilterGobo", "FilterShaper", "Display", "WiringObject"),
        *("MediaServerMaster", "MediaServerLayer", "MediaServerCamera"),
    }
)
_BELOW_GEOMETRY = _GEOMETRIES | {"Break"}
_OF_GEOMETRY = ("Name", "Geometry", "PowerConsumption", "ComponentType", "ElectricalPayLoad")
_DMX_VALUES = ("DMXFrom", "Default")

_KEPT: Mapping[str, tuple[frozenset[str], tuple[str, ...]]] = {
    "GDTF": (frozenset({"FixtureType"}), ("DataVersion",)),
    "FixtureType": (
        frozenset({"AttributeDefinitions", "PhysicalDescriptions", "Geometries", "DMXModes"}),
        ("Name", "Manufacturer"),
    ),
    "AttributeDefinitions": (frozenset({"Attributes"}), ()),
    "Attributes": (frozenset({"Attribute"}), ()),
    "Attribute": (frozenset(), ("Name", "Pretty")),
    "PhysicalDescriptions": (frozenset({"Emitters"}), ()),
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
            *("ModeMaster", "ModeFrom", "ModeTo"),
        ),
    ),
    "ChannelSet": (frozenset(), ("Name", "DMXFrom")),
}
"""What the import reads: for each element, the elements in it and its attributes."""

_DMX_VALUE = re.compile(r"(\d{1,10})/([1-4])(s?)", re.ASCII)
_NUMBER = re.compile(r"[+-]?(?:\d{1,30}\.?\d{0,30}|\.\d{1,30})(?:[eE][+-]?\d{1,3})?", re.ASCII)
_DMX_ADDRESS = re.compile(r"(?:(\d{1,4})\.)?(\d{1,6})", re.ASCII)


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
    """Return the refusal of a description over the limit."""
    what = f"the description is larger than {MOST_DESCRIPTION_BYTES // 1_000_000} MB unpacked"
    return ProblemsFound([Problem(Place(place_name(file), 1, 1), what, "ask the maker for a smaller file")])


def place_name(file: str) -> str:
    """Return what messages call the description inside a file."""
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
        check, expected = _CHECKS.get(name, (str, ""))
        found = check(text.strip())
        if found is None:
            self._refuse(f"{name} is '{shorten(text)}'", f"write {expected}")
        return found


def _dmx_value(text: str) -> str | None:
    if text.casefold() == "none":
        return ""
    match = _DMX_VALUE.fullmatch(text)
    return text if match and int(match[1]) < 256 ** int(match[2]) else None


def _number(text: str) -> str | None:
    return text if _NUMBER.fullmatch(text) and isfinite(float(text)) and abs(float(text)) < 1e12 else None


def _offsets(text: str) -> str | None:
    if text == "None":
        return ""
    parts = [part.strip() for part in text.split(",")]
    sound = all(re.fullmatch(r"\d{1,6}", part, re.ASCII) and 1 <= int(part) <= FARTHEST_OFFSET for part in parts)
    return ",".join(parts) if sound and len(parts) <= 4 and len(set(parts)) == len(parts) else None


def _break(text: str) -> str | None:
    if text == "Overwrite":
        return text
    return str(int(text)) if re.fullmatch(r"\d{1,3}", text, re.ASCII) and int(text) >= 1 else None


def _address(text: str) -> str | None:
    match = _DMX_ADDRESS.fullmatch(text)
    if not match:
        return None
    absolute = (max(1, int(match[1] or 1)) - 1) * 512 + int(match[2])
    return str(absolute) if 1 <= absolute <= FARTHEST_OFFSET else None


_CHECKS: Mapping[str, tuple[Callable[[str], str | None], str]] = {
    **dict.fromkeys(("DMXFrom", "Default", "ModeFrom", "ModeTo"), (_dmx_value, "a DMX value such as 128/1 or 65535/2")),
    **dict.fromkeys(
        ("PhysicalFrom", "PhysicalTo", "PowerConsumption", "ElectricalPayLoad"), (_number, "a number such as 0.5")
    ),
    "Offset": (_offsets, "one to four different slots such as '1,2', most significant first, or None"),
    "DMXBreak": (_break, "a number from 1 to 999, or Overwrite"),
    "DMXOffset": (_address, "an address such as 5 or 1.5"),
}


def write_out_values(channel: Element) -> None:
    """Write the DMX values in a channel out at its width, as '65535/2', so that no shift or mirroring is left."""
    width = len(channel.get("Offset", "").split(",")) if channel.get("Offset") else None
    for element in channel.iter():
        for name in _DMX_VALUES:
            text = element.get(name)
            if text == "":
                del element.attrib[name]
            elif text is not None:
                element.set(name, _written_out(text, width))
        for name in ("ModeFrom", "ModeTo"):
            if element.get(name) is not None:
                element.set(name, (element.get(name) or "0/1").removesuffix("s"))


def _written_out(text: str, width: int | None) -> str:
    value, byte_count = text.removesuffix("s").split("/")
    wanted = width or int(byte_count)
    return f"{resized(int(value), int(byte_count), wanted, shifts=text.endswith('s'))}/{wanted}"


def resized(value: int, byte_count: int, width: int, *, shifts: bool) -> int:
    """Return a DMX value of `byte_count` bytes on a channel of `width` bytes (DIN SPEC 15800, DMXValue).

    255/1 on two bytes is 65535 (the bytes repeat); 255/1s is 65280 (they shift). A narrower channel keeps
    the most significant bytes.
    """
    if width <= byte_count:
        return value >> (8 * (byte_count - width))
    if shifts:
        return value << (8 * (width - byte_count))
    pattern = value.to_bytes(byte_count, "big") * width
    return int.from_bytes(pattern[:width], "big")
