"""GDTF files built for the tests from DIN SPEC 15800 (section 12.1 of the check values); maker and names invented."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Mapping
from pathlib import Path

ATTRIBUTES = """\
<AttributeDefinitions><FeatureGroups/><Attributes>
 <Attribute Name="Dimmer" Pretty="Dim" Feature="Dimmer.Dimmer"/>
 <Attribute Name="ColorAdd_R" Pretty="R" Feature="Color.RGB"/>
 <Attribute Name="ColorAdd_GC" Pretty="Blue-Green" Feature="Color.RGB"/>
 <Attribute Name="Shutter1" Pretty="Sh1" Feature="Beam.Beam"/>
 <Attribute Name="Shutter1Strobe" Pretty="Strobe1" Feature="Beam.Beam"/>
 <Attribute Name="Fans" Pretty="Fans" Feature="Control.Control"/>
 <Attribute Name="ColorMacro1" Pretty="CM1" Feature="Color.Color"/>
</Attributes></AttributeDefinitions>
"""
EMITTERS = """\
<PhysicalDescriptions><Emitters>
 <Emitter Name="deep red chip" Color="0.6900,0.3100,20.0" DominantWaveLength="630">
  <Measurement Physical="100"/></Emitter>
 <Emitter Name="Green LED" Color="0.17, 0.70, 60" DominantWaveLength="525"/>
 <Emitter Name="Blue" Color="0.14,0.05,6.5"/>
 <Emitter Name="UV" Color="" DominantWaveLength="395"/>
</Emitters></PhysicalDescriptions>
"""
WHEELS = '<Wheels><Wheel Name="w"><Slot Name="Open" Color="0.3,0.3,100"/></Wheel></Wheels>'
GEOMETRIES = """\
<Geometries>
 <Geometry Name="Body">
  <WiringObject Name="Inlet" ConnectorType="x" ComponentType="Consumer" ElectricalPayLoad="320"/>
  <Axis Name="Yoke"><Beam Name="Lens" PowerConsumption="150"/></Axis>
  <GeometryReference Name="Cell 1" Geometry="Cell"><Break DMXOffset="1" DMXBreak="1"/></GeometryReference>
  <GeometryReference Name="Cell 2" Geometry="Cell"><Break DMXOffset="5" DMXBreak="1"/></GeometryReference>
 </Geometry>
 <Beam Name="Cell" PowerConsumption="10"><Geometry Name="Chip"/></Beam>
 <Geometry Name="Plain"><Beam Name="Plain lens" PowerConsumption="90"/></Geometry>
</Geometries>
"""


def function(attribute: str, name: str = "", sets: str = "", **more: str) -> str:
    """Return a ChannelFunction; keys with capitals as in the standard."""
    keys = "".join(f' {key}="{value}"' for key, value in more.items())
    return f'<ChannelFunction Name="{name or attribute}" Attribute="{attribute}"{keys}>{sets}</ChannelFunction>'


def channel_set(name: str, start: str) -> str:
    return f'<ChannelSet Name="{name}" DMXFrom="{start}"/>'


def channel(
    offset: str, attribute: str, functions: str = "", *, geometry: str = "Lens", snap: str = "No", **more: str
) -> str:
    """Return a DMXChannel with one LogicalChannel."""
    keys = "".join(f' {key}="{value}"' for key, value in more.items())
    body = functions or function(attribute)
    return (
        f'<DMXChannel Offset="{offset}" Geometry="{geometry}"{keys}>'
        f'<LogicalChannel Attribute="{attribute}" Snap="{snap}" Master="None">{body}</LogicalChannel></DMXChannel>'
    )


def mode(name: str, channels: str, geometry: str = "Body") -> str:
    return f'<DMXMode Name="{name}" Geometry="{geometry}"><DMXChannels>{channels}</DMXChannels></DMXMode>'


def description(
    modes: str, *, emitters: str = EMITTERS, geometries: str = GEOMETRIES, attributes: str = ATTRIBUTES
) -> bytes:
    """Return the bytes of a description.xml with these modes."""
    return (
        '<?xml version="1.0" encoding="UTF-8"?>\n<GDTF DataVersion="1.2">\n'
        '<FixtureType Name="Tallow 4" ShortName="T4" LongName="Tallow 4 Cell" Manufacturer="Osier Works"'
        ' Description="invented" FixtureTypeID="00000000-0000-4000-8000-000000000001">\n'
        f"{attributes}{WHEELS}{emitters}{geometries}<DMXModes>{modes}</DMXModes></FixtureType></GDTF>\n"
    ).encode()


STROBE = channel(
    "9",
    "Shutter1",
    function("Shutter1", "Shutter", channel_set("Open", "0/1"), DMXFrom="0/1")
    + function(
        "Shutter1Strobe",
        "Strobe",
        channel_set("", "11/1") + channel_set("Slow  to fast", "16/1") + channel_set("Random 50%", "200/1"),
        DMXFrom="11/1",
    ),
    snap="Yes",
    InitialFunction="Lens_Shutter1.Shutter1.Shutter",
)
FULL_MODE = mode(
    "Full 16 bit",
    channel("1,2", "Dimmer", InitialFunction="Lens_Dimmer.Dimmer.Dimmer")
    + channel("3", "ColorAdd_R", function("ColorAdd_R", Emitter="deep red chip", Default="255/1"))
    + channel("4", "ColorAdd_G")
    + channel("5", "ColorAdd_B")
    + channel("6", "ColorAdd_GC")
    + channel("7,8", "CTC", function("CTC", PhysicalFrom="6500", PhysicalTo="2800", Default="128/1"))
    + STROBE
    + channel("11,12", "Fans", function("Fans", Default="77/1s"))
    + channel("13,15", "Zoom")
    + channel("16", "NoFeature", function("NoFeature", Default="7/1"))
    + channel("17,18,19", "Pan", function("Pan", PhysicalFrom="-270", PhysicalTo="270", Default="8388608/3"))
    + channel("None", "Dimmer", geometry="Yoke"),
)
CELL_MODE = mode(
    "Cells",
    channel("1,2", "Dimmer")
    + "".join(
        channel(str(slot), f"ColorAdd_{letter}", geometry=geometry, DMXBreak="Overwrite")
        for slot, letter, geometry in ((3, "R", "Cell"), (4, "G", "Cell"), (5, "B", "Chip"), (6, "W", "Cell"))
    ),
)
PLAIN_MODE = mode("1", channel("1", "Dimmer", geometry="Plain lens"), geometry="Plain")
RICH = description(FULL_MODE + CELL_MODE + PLAIN_MODE)
"""Widths of one to three bytes, a gap, a split fine byte, a virtual channel, ranges, kelvins, repeated cells."""


def archive(entries: Mapping[str, bytes], packing: int = zipfile.ZIP_DEFLATED) -> bytes:
    """Return the bytes of a zip archive."""
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", packing) as file:
        for name, content in entries.items():
            file.writestr(name, content)
    return packed.getvalue()


def write_gdtf(folder: Path, content: bytes = RICH, name: str = "Osier Works@Tallow 4@invented.gdtf") -> Path:
    """Write a GDTF file with a description and a picture, and return its path."""
    path = folder / name
    path.write_bytes(archive({"thumbnail.png": b"no picture", "description.xml": content}))
    return path
