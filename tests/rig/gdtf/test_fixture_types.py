"""What a GDTF description becomes in a show. The files are built to DIN SPEC 15800 by the tests themselves."""

from __future__ import annotations

import io
import subprocess
import sys
from pathlib import Path
from typing import Any

import pygdtf
import pytest
from hypothesis import given
from hypothesis import strategies as st

from cuedeck.rig.gdtf.fixture_types import GdtfRefused, ImportedType, import_type
from cuedeck.rig.gdtf.names import channel_name, clean, default_text, lower_case_words, range_name, unused
from cuedeck.rig.gdtf.values import resized
from cuedeck.rig.gdtf.xml import MOST_DEPTH, MOST_DESCRIPTION_BYTES, MOST_ELEMENTS
from cuedeck.rig.types import types_file_text
from cuedeck.show.model import FixtureType
from cuedeck.show.problems import ProblemsFound
from cuedeck.show.source import read_source
from cuedeck.show.spelling import as_one
from tests.rig.gdtf.gdtf_files import GEOMETRIES, RICH, channel, channel_set, description, function, mode

ROOT = Path(__file__).parents[3]


def imported(modes: str, **more: str) -> ImportedType:
    return import_type(description(modes, **more), "tallow.gdtf")


def channels(body: str, **more: str) -> list[Any]:
    """Return what the one mode with these channels becomes."""
    found = imported(mode("m", body), **more)
    return list(found.description["modes"]["m"])


def refusal(raw: bytes) -> str:
    with pytest.raises((ProblemsFound, GdtfRefused)) as caught:
        import_type(raw, "tallow.gdtf")
    return str(caught.value)


# --- The rich file ---


def test_a_rich_file_becomes_the_type_that_a_person_would_write() -> None:
    found = import_type(RICH, "tallow.gdtf")
    assert (found.name, found.maker, found.data_version) == ("Tallow 4", "Osier Works", "1.2")
    assert found.description == {
        "modes": {
            "Full 16 bit": [
                "intensity 16-bit",
                {"channel": "red", "default": "value 255"},
                "green",
                "blue",
                {"channel": "blue-green"},
                {"channel": "colour temperature 16-bit inverted", "default": "value 128"},
                {
                    "channel": "shutter 1",
                    "ranges": {"open": "0-10", "slow to fast": "16-199", "random 50 percent": "200-255"},
                    "snap": "start",
                },
                "fixed 0",
                {"channel": "fans 16-bit", "default": "30.078584 %"},
                {"channel": "zoom"},
                "fixed 0",
                "fixed 0",
                "fixed 7",
                {"channel": "pan 24-bit", "default": "50.00000298 %"},
            ],
            "Cells": [
                *("intensity 16-bit", "red", "green", "blue", "white"),
                *({"channel": f"{colour} 2"} for colour in ("red", "green", "blue", "white")),
            ],
            "1": ["intensity"],
        },
        "colour temperature": {"low": "2800 K", "high": "6500 K", "even in": "kelvin"},
        "emitters": {
            "red": {"x": "0.69", "y": "0.31", "luminance": "20"},
            "green": {"x": "0.17", "y": "0.7", "luminance": "60"},
            "blue": {"x": "0.14", "y": "0.05", "luminance": "6.5"},
        },
        "watts": "320",
    }
    assert {name: found.slot_count(name) for name in found.modes} == {"Full 16 bit": 19, "Cells": 10, "1": 1}
    assert found.notes == (
        "emitter 'UV' has no measured colour and is left out",
        "mode 'Full 16 bit': 'zoom' has 1 fine byte that cannot be said; held at 0",
        "mode 'Full 16 bit': 1 virtual channel without a slot left out",
        "mode 'Cells': 2 repeated parts written out one after the other, as channels with numbers",
        "the modes differ in power: the highest is written",
    )


def test_one_mode_is_imported_alone_and_an_unknown_one_is_named_with_its_neighbour() -> None:
    assert list(import_type(RICH, "tallow.gdtf", "Cells").modes) == ["Cells"]
    with pytest.raises(GdtfRefused, match=r"tallow\.gdtf: there is no mode 'cells': write 'Cells'"):
        import_type(RICH, "tallow.gdtf", "cells")


def test_the_slots_are_those_that_pygdtf_lists_for_the_same_file() -> None:
    """Outside reader: pygdtf 1.4.5, its own flattening of channels and references, `dmx_channels.as_dict()`.

    It lists a fine byte as '+Attribute' and gaps as 'NoFeature' (T11). It does not look below a referenced
    geometry, so the cells here have no parts of their own.
    """
    cells = "".join(
        channel(str(slot), f"ColorAdd_{letter}", geometry="Cell", DMXBreak="Overwrite")
        for slot, letter in ((5, "R"), (6, "G"), (7, "B"), (8, "W"))
    )
    raw = description(
        mode("a", channel("1,2", "Dimmer") + channel("4", "ColorAdd_R") + cells)
        + mode("b", channel("1", "Dimmer") + channel("3,4,5", "Pan") + channel("9,10", "ColorAdd_W"))
    )
    found = import_type(raw, "tallow.gdtf")
    words = {"intensity": "Dimmer", "red": "ColorAdd_R", "green": "ColorAdd_G", "blue": "ColorAdd_B"}
    words |= {"white": "ColorAdd_W", "pan": "Pan", "fixed": "NoFeature"}
    outside = pygdtf.FixtureType(dsc_file=io.BytesIO(raw))
    assert [one.name for one in outside.dmx_modes] == list(found.modes)
    for listed in outside.dmx_modes:
        theirs = {one["dmx"]: one["attribute"] for one in listed.dmx_channels.as_dict()}
        ours = {
            written.first_slot + index: "+" * index + words[written.name.split()[0]]
            for written in found.modes[listed.name]
            for index in range(written.width_slots)
        }
        assert ours == theirs


def test_a_file_written_by_pygdtf_imports_like_the_one_it_was_read_from(tmp_path: Path) -> None:
    """Outside writer: pygdtf 1.4.5, `FixtureTypeWriter`. It writes '77/1s' as '77/1' (T10): that mode is left out."""
    cell = GEOMETRIES.replace('<Geometry Name="Chip"/>', "")
    raw = description(
        mode("16 bit", channel("1,2", "Dimmer") + channel("3", "ColorAdd_R") + channel("4", "Fans"))
        + mode("1", channel("1", "Dimmer", geometry="Plain lens"), geometry="Plain"),
        geometries=cell,
    )
    path = tmp_path / "description.xml"
    pygdtf.FixtureTypeWriter(pygdtf.FixtureType(dsc_file=io.BytesIO(raw))).write_gdtf(path)
    written = import_type(path.read_bytes(), "tallow.gdtf")
    ours = import_type(raw, "tallow.gdtf")
    assert (written.modes, written.description["modes"]) == (ours.modes, ours.description["modes"])
    assert written.name == ours.name
    assert written.description["watts"] == ours.description["watts"]


def test_what_stands_below_a_referenced_geometry_is_written_too() -> None:
    found = import_type(RICH, "tallow.gdtf", "Cells")
    assert [one.name for one in found.modes["Cells"] if "blue" in one.name] == ["blue", "blue 2"]


# --- DMX values ---


@pytest.mark.parametrize(
    ("value", "byte_count", "width", "shifts", "expected"),
    [(255, 1, 2, False, 65535), (255, 1, 2, True, 65280), (128, 1, 2, False, 32896), (128, 1, 2, True, 32768)],
)
def test_a_dmx_value_is_mirrored_or_shifted(
    value: int, byte_count: int, width: int, shifts: bool, expected: int
) -> None:
    """Reference values: DIN SPEC 15800, DMXValue, as in section 12.1 of the check values [source seen: G1]."""
    assert resized(value, byte_count, width, shifts=shifts) == expected


def test_a_narrower_channel_keeps_the_most_significant_bytes() -> None:
    assert resized(0xABCD, 2, 1, shifts=False) == 0xAB


def test_a_shifted_default_is_kept_apart_from_a_mirrored_one() -> None:
    """T10: pygdtf reads '255/1s' as value 255 of one byte, without the shift."""
    mirrored = channels(channel("1,2", "Fans", function("Fans", Default="255/1")))
    shifted = channels(channel("1,2", "Fans", function("Fans", Default="255/1s")))
    assert mirrored == [{"channel": "fans 16-bit", "default": "value 255"}]
    assert shifted == [{"channel": "fans 16-bit", "default": "99.610895 %"}]
    assert (65535 * 99.610895 / 100 + 0.5) // 1 == 65280


@given(st.integers(1, 3), st.data())
def test_a_default_comes_back_to_the_same_bytes(width: int, data: st.DataObject) -> None:
    full = 256**width - 1
    value = data.draw(st.integers(1, full))
    text = default_text(value, width)
    if text.startswith("value "):
        assert int(text.removeprefix("value ")) * (full // 255) == value
    else:
        assert int(full * float(text.removesuffix(" %")) / 100 + 0.5) == value


def test_the_default_is_that_of_the_initial_function_else_of_the_first() -> None:
    two = function("Fans", "Slow", Default="9/1") + function("Fans", "Fast", DMXFrom="100/1", Default="200/1")
    assert channels(channel("1", "Fans", two))[0]["default"] == "value 9"
    named = channel("1", "Fans", two, InitialFunction="Lens_Fans.Fans.Fast")
    assert channels(named)[0]["default"] == "value 200"


def test_a_default_at_the_channel_counts_where_no_function_is_named() -> None:
    assert channels(channel("1", "Fans", Default="33/1"))[0]["default"] == "value 33"


def test_a_light_never_starts_lit_by_its_file() -> None:
    lit = channel("1", "Dimmer", function("Dimmer", Default="255/1"))
    found = imported(mode("m", lit))
    assert found.description["modes"]["m"] == ["intensity"]
    assert "mode 'm': the default of 'intensity' (value 255) is left out: a shot starts dark" in found.notes
    cells = "".join(channel(slot, "ColorAdd_R", function("ColorAdd_R", Default="255/1")) for slot in "12")
    assert channels(cells) == ["red", {"channel": "red 2"}]
    white = {"channel": "red", "default": "value 255"}
    assert channels(cells + channel("3", "Dimmer")) == [white, {**white, "channel": "red 2"}, "intensity"]


# --- Attributes ---


@pytest.mark.parametrize(
    ("attribute", "word"),
    [
        ("Dimmer", "intensity"),
        *(("ColorAdd_R", "red"), ("ColorAdd_G", "green"), ("ColorAdd_B", "blue"), ("ColorAdd_W", "white")),
        *(("ColorAdd_RY", "amber"), ("ColorAdd_GY", "lime"), ("ColorAdd_C", "cyan"), ("ColorAdd_UV", "violet")),
        *(("ColorAdd_WW", "warm white"), ("ColorAdd_CW", "cool white"), ("HSB_Hue", "hue")),
        *(("HSB_Saturation", "saturation"), ("CIE_X", "x"), ("CIE_Y", "y")),
    ],
)
def test_an_attribute_of_light_has_the_word_of_the_show(attribute: str, word: str) -> None:
    """Attributes: DIN SPEC 15800, Annex A [source seen: pygdtf 1.4.5, annex data: RY pretty 'Amber', GY 'Lime']."""
    beside = {"hue": "HSB_Saturation", "saturation": "HSB_Hue", "x": "CIE_Y", "y": "CIE_X"}.get(word, "Pan")
    found = channels(channel("1", attribute) + channel("2", beside) + channel("3", "Dimmer"))
    assert found[0] == word


def test_a_word_that_says_nothing_alone_is_not_given_to_a_lone_channel() -> None:
    found = imported(mode("m", channel("1", "Dimmer") + channel("2", "HSB_Hue")) + mode("n", channel("1", "CIE_X")))
    assert found.description["modes"] == {
        "m": ["intensity", {"channel": "hsb hue"}],
        "n": [{"channel": "cie x"}],
    }
    assert "mode 'm': 'HSB_Hue' is a channel of its own: hue needs saturation beside it" in found.notes
    assert "mode 'n': it has no intensity and no emitter that a show knows" in found.notes


def test_no_more_emitters_are_written_than_a_show_mixes() -> None:
    letters = ("R", "G", "B", "W", "RY", "GY", "C", "UV", "WW", "CW")
    given = "".join(f'<Emitter Name="{one}" Color="0.3,0.3,{n}"/>' for n, one in enumerate(letters, 1))
    body = "".join(
        channel(str(n), f"ColorAdd_{one}", function(f"ColorAdd_{one}", Emitter=one)) for n, one in enumerate(letters, 1)
    )
    emitters = f"<PhysicalDescriptions><Emitters>{given}</Emitters></PhysicalDescriptions>"
    found = imported(mode("m", body), emitters=emitters).description["emitters"]
    assert list(found) == ["red", "green", "blue", "white", "amber", "lime", "cyan", "violet"]


@pytest.mark.parametrize("attribute", ["CTC", "CTO", "CTB"])
def test_a_colour_temperature_takes_its_ends_from_kelvins(attribute: str) -> None:
    warm_first = function(attribute, PhysicalFrom="2700", PhysicalTo="6500.5")
    found = imported(mode("m", channel("1", "Dimmer") + channel("2", attribute, warm_first)))
    assert found.description["modes"]["m"] == ["intensity", "colour temperature"]
    assert found.description["colour temperature"] == {
        "low": "2700 K",
        "high": "6500.5 K",
        "even in": "kelvin",
    }


def test_a_colour_temperature_without_kelvins_is_a_channel_of_its_own() -> None:
    found = imported(mode("m", channel("1", "Dimmer") + channel("2", "CTO")))
    assert found.description["modes"]["m"] == ["intensity", {"channel": "cto"}]
    assert "mode 'm': 'CTO' is a channel of its own: the file gives no kelvins for it" in found.notes


def test_a_colour_temperature_that_differs_between_modes_is_written_once() -> None:
    def one(name: str, high: str) -> str:
        ends = function("CTC", PhysicalFrom="2700", PhysicalTo=high)
        return mode(name, channel("1", "Dimmer") + channel("2", "CTC", ends))

    found = imported(one("a", "6500") + one("b", "5600"))
    assert found.description["modes"]["b"] == ["intensity", {"channel": "ctc"}]
    assert any("differ from those of the first mode" in note for note in found.notes)


def test_a_channel_that_does_two_things_is_no_plain_intensity() -> None:
    two = function("Dimmer", "Dim") + function("Shutter1Strobe", "Strobe", DMXFrom="200/1")
    assert channels(channel("1", "Dimmer", two)) == [
        {"channel": "dimmer", "ranges": {"dim": "0-199", "strobe": "200-255"}}
    ]


def test_a_fixture_without_light_is_imported_and_one_without_anything_is_not() -> None:
    assert channels(channel("1", "Fog1")) == [{"channel": "fog 1"}]
    message = refusal(description(mode("m", channel("1", "NoFeature"))))
    assert message.startswith("tallow.gdtf: there is nothing to import: mode 'm' is left out: none of its channels")


def test_names_of_channels_are_words_and_no_words_of_the_format() -> None:
    assert lower_case_words("ColorMacro1Rate") == "colour macro 1 rate"
    assert channel_name("Shutter1Strobe", "Strobe1") == "strobe 1"
    assert channel_name("Shutter1", "Sh1") == "shutter 1"
    assert channel_name("x", "Zoom inverted 16-bit") == "zoom"
    assert channels(channel("1", "Level") + channel("2", "Colour"))[0] == {"channel": "level 2"}
    assert range_name("50%") == "50 percent"
    assert range_name("Value 12") == "the value 12"
    assert range_name("2700") == "number 2700"
    assert unused("red", {"red", "red 2"}) == "red 3"
    assert clean("a\x1b[31m\u202eb\n" + "c" * 200) == "a [31m b " + "c" * 71


@pytest.mark.parametrize(("given", "written"), [("0.000001", "0.000001"), ("1001", "1001"), ("62.5", "62.5")])
def test_power_is_a_plain_number(given: str, written: str) -> None:
    one = f'<Geometries><Beam Name="Lens" PowerConsumption="{given}"/></Geometries>'
    found = imported(mode("m", channel("1", "Dimmer"), geometry="Lens"), geometries=one)
    assert found.description["watts"] == written


def test_power_that_is_missing_or_absurd_is_not_written() -> None:
    """pygdtf gives a beam without PowerConsumption 1000 W; that is no measurement."""
    for keys in ("", 'PowerConsumption="0"', 'PowerConsumption="1e11"', 'PowerConsumption="1e-9"'):
        one = f'<Geometries><Beam Name="Lens" {keys}/></Geometries>'
        found = imported(mode("m", channel("1", "Dimmer"), geometry="Lens"), geometries=one)
        assert "watts" not in found.description


def test_emitters_of_equal_luminance_are_doubted_and_those_without_colour_left_out() -> None:
    both = "".join(
        f'<Emitter Name="{name}" Color="{xy},100"/>' for name, xy in (("Red", "0.7,0.3"), ("Blue", "0.1,0.1"))
    )
    given = f'<PhysicalDescriptions><Emitters>{both}<Emitter Name="Green"/></Emitters></PhysicalDescriptions>'
    body = "".join(channel(str(slot), f"ColorAdd_{letter}") for slot, letter in ((1, "R"), (2, "G"), (3, "B")))
    found = imported(mode("m", body), emitters=given)
    assert list(found.description["emitters"]) == ["red", "blue"]
    assert "all emitters have the same luminance in the file: measure them before mixing by it" in found.notes
    assert "emitter 'Green' has no measured colour and is left out" in found.notes


# --- Ranges ---


def test_ranges_that_overlap_are_left_out_and_counted() -> None:
    sets = channel_set("A", "0/1") + channel_set("B", "0/1") + channel_set("C", "90/1")
    found = imported(mode("m", channel("1", "Gobo1", function("Gobo1", sets=sets))))
    assert found.description["modes"]["m"] == [{"channel": "gobo 1", "ranges": {"a": "0-89", "c": "90-255"}}]
    assert "mode 'm': 1 range of 'gobo 1' overlapped, or fell between two 8-bit numbers, and left out" in found.notes


def test_a_range_on_sixteen_bits_is_written_with_the_numbers_that_lie_in_it() -> None:
    sets = channel_set("Low", "0/2") + channel_set("Centre", "32768/2") + channel_set("High", "32769/2")
    found = channels(channel("1,2", "Tilt", function("Tilt", sets=sets)))
    assert found == [{"channel": "tilt 16-bit", "ranges": {"low": "0-127", "high": "128-255"}}]
    assert 127 * 257 < 32768 < 32769 <= 128 * 257


def test_functions_of_another_choice_of_the_mode_master_are_left_aside() -> None:
    two = function("Gobo1", "Index") + function("Gobo1Rotate", "Spin", ModeMaster="Lens_Fans", ModeFrom="0/1")
    assert channels(channel("1", "Gobo1", two)) == [{"channel": "gobo 1"}]


# --- Places ---


@pytest.mark.parametrize(
    ("body", "reason"),
    [
        (channel("1", "Dimmer") + channel("1", "Pan"), "two of its channels stand on slot 1"),
        (channel("512,513", "Dimmer"), "it reaches slot 513, beyond the 512 of one universe"),
        (channel("1", "Dimmer") + channel("1", "Pan", DMXBreak="2"), "DMX breaks 1 and 2, which are addressed apart"),
    ],
)
def test_a_mode_that_a_show_cannot_patch_is_left_out_with_its_reason(body: str, reason: str) -> None:
    found = imported(mode("m", body) + mode("sound", channel("1", "Dimmer")))
    assert list(found.modes) == ["sound"]
    assert found.notes[0].startswith("mode 'm' is left out: ")
    assert reason in found.notes[0]


def test_geometries_that_refer_to_each_other_end_in_a_reason() -> None:
    loop = '<Geometries><Geometry Name="Body"><GeometryReference Name="r" Geometry="Body"/></Geometry></Geometries>'
    channels_elsewhere = mode("m", channel("1", "Dimmer", geometry="Nowhere"))
    assert "its geometries refer to each other without end" in refusal(description(channels_elsewhere, geometries=loop))
    channels_in_it = mode("m", channel("1", "Dimmer", geometry="Body"))
    assert "two of its channels stand on slot 1" in refusal(description(channels_in_it, geometries=loop))


def test_a_reference_without_a_geometry_and_a_channel_outside_the_mode_are_told() -> None:
    missing = GEOMETRIES.replace('Geometry="Cell"', 'Geometry="Nowhere"')
    assert "the geometry 'Nowhere', which the file does not have" in refusal(
        description(mode("m", channel("1", "Dimmer")), geometries=missing)
    )
    found = imported(mode("m", channel("1", "Dimmer", geometry="Plain")))
    assert "mode 'm': 1 channel outside the geometry of the mode, kept on the slots they name" in found.notes


def test_a_channel_that_overwrites_its_break_takes_the_last_one_of_the_reference() -> None:
    """Checked against pygdtf 1.4.5 too: "overwrite break is always the last one"."""
    breaks = '<Break DMXOffset="7" DMXBreak="1"/><Break DMXOffset="3" DMXBreak="2"/>'
    reference = f'<GeometryReference Name="r" Geometry="Cell">{breaks}</GeometryReference>'
    one = f'<Geometries><Geometry Name="Body">{reference}</Geometry><Beam Name="Cell"/></Geometries>'
    body = channel("1", "Dimmer", geometry="Cell", DMXBreak="Overwrite")
    assert channels(body, geometries=one) == ["fixed 0", "fixed 0", "intensity"]
    outside = pygdtf.FixtureType(dsc_file=io.BytesIO(description(mode("m", body), geometries=one)))
    listed = outside.dmx_modes[0].dmx_channels.as_dict()
    assert [one["dmx"] for one in listed if one["attribute"] == "Dimmer"] == [3]
    assert channels(body.replace("Overwrite", "1"), geometries=one) == [*["fixed 0"] * 6, "intensity"]


def test_references_inside_references_add_their_offsets() -> None:
    """No source: the standard's text on nested references was not seen."""
    inner = '<GeometryReference Name="r" Geometry="Cell"><Break DMXOffset="2"/></GeometryReference>'
    outer = "".join(
        f'<GeometryReference Name="o{n}" Geometry="Row"><Break DMXOffset="{n}"/></GeometryReference>' for n in (1, 3)
    )
    nested = (
        f'<Geometries><Geometry Name="Body">{outer}</Geometry><Geometry Name="Row">{inner}</Geometry>'
        '<Beam Name="Cell"/></Geometries>'
    )
    body = channel("1", "Dimmer", geometry="Cell")
    assert channels(body, geometries=nested) == ["fixed 0", "intensity", "fixed 0", {"channel": "intensity 2"}]


def test_a_mode_that_is_left_out_leaves_nothing_in_the_type() -> None:
    sets = channel_set("same", "0/1") * 60_000
    large = (
        channel("1", "Dimmer")
        + channel("2", "CTC", function("CTC", PhysicalFrom="2700", PhysicalTo="6500"))
        + channel("3", "ColorAdd_G")
        + channel("4", "Gobo1", function("Gobo1", sets=sets))
    )
    found = imported(mode("small", channel("1", "Dimmer")) + mode("large", large))
    assert found.description == {"modes": {"small": ["intensity"]}, "watts": "320"}
    assert found.notes[0] == "mode 'large' is left out: the type would be too large by then; name one mode, with --mode"


def test_fine_bytes_before_the_coarse_one_are_held_at_zero() -> None:
    assert channels(channel("2,1", "Dimmer")) == ["fixed 0", "intensity"]
    assert channels(channel("1,2,5", "Dimmer")) == ["intensity 16-bit", "fixed 0", "fixed 0", "fixed 0"]


# --- Hostile descriptions ---


def deep(levels: int) -> bytes:
    inside = "<Geometry Name='g'>" * levels + "</Geometry>" * levels
    return description(mode("m", channel("1", "Dimmer")), geometries=f"<Geometries>{inside}</Geometries>")


@pytest.mark.parametrize("encoding", ["utf-8", "utf-16", "latin-1"])
@pytest.mark.parametrize(
    "doctype",
    [
        '<!DOCTYPE GDTF [<!ENTITY a "aaaa"><!ENTITY b "&a;&a;&a;">]>',
        '<!DOCTYPE GDTF SYSTEM "file:///etc/hostname">',
        "<!DOCTYPE GDTF>",
    ],
)
def test_a_document_type_is_refused_in_any_encoding(doctype: str, encoding: str) -> None:
    text = f'<?xml version="1.0" encoding="{encoding}"?>\n{doctype}\n<GDTF><FixtureType Name="&b;"/></GDTF>'
    message = refusal(text.encode(encoding))
    assert message.startswith("tallow.gdtf/description.xml:2:")
    assert "a document type is declared" in message


def test_broken_xml_is_told_with_its_line_and_column() -> None:
    message = refusal(b"<GDTF>\n  <FixtureType>\n </GDTF>")
    assert message.startswith("tallow.gdtf/description.xml:3:4: error: the XML is broken: mismatched tag")


UNSOUND = (
    (b"", "no element found"),
    (b"\0\0\0\0", "the XML is broken"),
    (b"<GDTF/>", "this describes no fixture type"),
    (b"<other/>", "this describes no fixture type"),
    (b"<GDTF><FixtureType/></GDTF>", "it has no mode with a channel"),
    (b'<?xml version="1.0" encoding="none-such"?><GDTF/>', "encoding"),
    (deep(MOST_DEPTH), f"more than {MOST_DEPTH} deep"),
    (b"<GDTF>" + b"<a/>" * MOST_ELEMENTS + b"</GDTF>", f"more than {MOST_ELEMENTS:,} elements"),
    (b" " * (MOST_DESCRIPTION_BYTES + 1), "larger than 10 MB"),
    (description(mode("m", channel("99999999", "Dimmer"))), "Offset is '99999999'"),
    (description(mode("m", channel("1,1", "Dimmer"))), "Offset is '1,1'"),
    (description(mode("m", channel("1", "Dimmer", DMXBreak="0"))), "DMXBreak is '0'"),
    (description(mode("m", channel("1", "D", function("D", Default="256/1")))), "Default is '256/1'"),
    (description(mode("m", channel("1", "D", function("D", DMXFrom="x")))), "DMXFrom is 'x'"),
    (description(mode("m", channel("1", "D", function("D", PhysicalTo="1e999")))), "PhysicalTo is '1e999'"),
    (description(mode("m", channel("1", "D" * 3000))), "longer than 2,000 characters"),
)


@pytest.mark.parametrize(("raw", "words"), UNSOUND, ids=[words for _, words in UNSOUND])
def test_a_description_that_is_not_sound_is_refused_with_what_is_wrong(raw: bytes, words: str) -> None:
    assert words in refusal(raw)


def test_a_zero_byte_at_the_end_of_the_text_is_forgiven() -> None:
    assert import_type(RICH + b"\0", "tallow.gdtf") == import_type(RICH, "tallow.gdtf")


def test_without_pygdtf_the_message_names_the_extra() -> None:
    code = (
        "import sys; sys.modules['pygdtf'] = None\n"
        "from cuedeck.rig.gdtf.fixture_types import import_type, GdtfRefused\n"
        "try: import_type(b'<GDTF><FixtureType/></GDTF>', 'f')\n"
        "except GdtfRefused as refusal: print(refusal)"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True, timeout=120
    )
    assert done.stdout == "GDTF files need pygdtf, which is missing: pip install 'cuedeck[gdtf]'\n"


# --- The model and the text ---


def test_the_model_of_a_show_takes_the_rich_type_with_all_its_slots() -> None:
    found = import_type(RICH, "tallow.gdtf")
    taken: Any = FixtureType.model_validate(found.description)
    slots = {name: sum(one.width_slots for one in channels) for name, channels in taken.modes.items()}
    assert slots == {name: found.slot_count(name) for name in found.modes}


def test_the_text_of_the_rich_file_reads_back_as_what_was_imported() -> None:
    found = import_type(RICH, "tallow.gdtf")
    text = types_file_text(found.name, found.description, ["one", "two\nlines"])
    assert text.startswith("# one\n# two lines\ntypes:\n  Tallow 4:\n    modes:\n      Full 16 bit:\n")
    assert "        - intensity 16-bit\n        - {channel: red, default: value 255}\n        - green\n" in text
    assert '      "1":\n        - intensity\n' in text
    assert read_source("types.yaml", text.encode()).data == {"types": {found.name: found.description}}


ODD_NAMES = (
    *("null", "~", "yes", "1", "0x10", "a: b", "a #b", "- a", "[a", "{a}", "&a", "*a", "!a", "%a", "@a", "'a", '"a'),
    *("a,b", "50 %", "<<", "=", "? a", "a:", "1:2", "---", "...", "# a", "\\", "`", "|", ">", "ä ö", "日本"),
)
NAMES = st.text(min_size=1, max_size=20).map(clean).map(as_one).filter(bool) | st.sampled_from(ODD_NAMES)


@given(
    NAMES, st.dictionaries(NAMES, st.lists(NAMES | st.dictionaries(NAMES, NAMES, min_size=1), min_size=1), min_size=1)
)
def test_whatever_the_names_the_text_reads_back_the_same(name: str, modes: dict[str, list[Any]]) -> None:
    described = {"modes": modes, "watts": "150"}
    text = types_file_text(name, described, [])
    assert read_source("types.yaml", text.encode()).data == {"types": {name: described}}
