"""GDTF files against DIN SPEC 15800, from the file to the slots on the line.

Source of each rule: the public text of the format, its tables of ChannelFunction, ChannelSet, DMX Profile Point,
Beam and of value types; the files are built from it here, for no maker's file may be shipped.
"""

from __future__ import annotations

import numpy as np
import pytest

from cuedeck.rig.check_rig import check_rig
from cuedeck.rig.gdtf.fixture_types import ImportedType, import_type
from cuedeck.rig.gdtf.values import resized
from cuedeck.rig.looks import resolve_look
from cuedeck.rig.patch import build_patch
from cuedeck.rig.state import states
from cuedeck.rig.types import types_file_text
from cuedeck.show.load import load_show
from tests.rig.gdtf.gdtf_files import channel, channel_set, description, function, mode

DIMMER = channel("1", "Dimmer")


def imported(channels: str, **more: str) -> ImportedType:
    return import_type(description(mode("m", channels), **more), "file.gdtf")


def slots(kind: ImportedType, setting: str | None, count: int) -> list[int]:
    """Return the first slots of a light of a type, before any look where None, else at what a look sets."""
    look = "" if setting is None else f"\nlooks: {{shown: {{a: {setting}}}}}"
    text = types_file_text("t", kind.description, []) + f"rig: {{a: {{type: t, address: 1.1}}}}{look}\n"
    loaded = load_show(f"cuedeck: 2\n{text}".encode())
    assert [str(problem) for problem in loaded.problems if problem.is_error] == []
    patch = build_patch(loaded.show)
    levels = patch.defaults
    if setting is not None:
        look = resolve_look(loaded.show, patch, "shown")
        levels = np.where(np.isnan(look), levels, look)
    return [int(slot) for slot in patch.encode(levels[None])[0, 0, :count]]


@pytest.mark.parametrize(
    ("given", "width", "value"),
    [("255/1", 2, 65535), ("255/1s", 2, 65280), ("128/1", 2, 32896), ("128/1s", 2, 32768), ("65535/2", 1, 255)],
)
def test_a_dmx_value_is_mirrored_or_shifted_to_the_width_of_its_channel(given: str, width: int, value: int) -> None:
    # Value type DMXValue: 255/1 in a 16 bit channel is 65535, 255/1s is 65280; the others computed.
    number, byte_count = given.removesuffix("s").split("/")
    assert resized(int(number), int(byte_count), width, shifts=given.endswith("s")) == value


@pytest.mark.parametrize(
    ("kelvin", "slot"),
    # ChannelFunction: PhysicalFrom at the start, PhysicalTo at the end; (6500 - K) / (6500 - 2700) * 255, computed.
    [(6500, 0), (5600, 60), (4000, 168), (3200, 221), (2700, 255)],
)
def test_kelvins_run_evenly_from_physical_from_to_physical_to(kelvin: int, slot: int) -> None:
    kind = imported(DIMMER + channel("2", "CTO", function("CTO", PhysicalFrom="6500", PhysicalTo="2700")))
    assert slots(kind, f"{{level: 100 %, colour: {kelvin} K}}", 2) == [255, slot]


def profile(*points: str) -> str:
    rows = "".join(f"<Point {point}/>" for point in points)
    profiles = f'<DMXProfiles><DMXProfile Name="p">{rows}</DMXProfile></DMXProfiles>'
    return f"<PhysicalDescriptions>{profiles}</PhysicalDescriptions>"


@pytest.mark.parametrize("scale", [1.0, 100.0])
@pytest.mark.parametrize(("kelvin", "slot"), [(2700, 0), (3650, 127.5), (6500, 255)])
def test_a_dmx_profile_says_otherwise(scale: float, kelvin: int, slot: float) -> None:
    # DMX Profile: output = CFC2 x^2, a quarter of the way at half the channel; 2700 + (6500 - 2700) / 4 = 3650 K.
    ends = function("CTC", PhysicalFrom="2700", PhysicalTo="6500", DMXProfile="p")
    kind = imported(DIMMER + channel("2", "CTC", ends), emitters=profile(f'CFC2="{1 / scale**2:.10f}"'))
    assert slots(kind, f"{{level: 100 %, colour: {kelvin} K}}", 2)[1] == pytest.approx(slot, abs=1)


def test_a_profile_of_the_dimmer_is_its_curve() -> None:
    # Two cubics: half the light over the first 3/4 of the channel, the rest over the last; from the figure's kind.
    dimmer = channel("1", "Dimmer", function("Dimmer", DMXProfile="p"))
    kind = imported(dimmer, emitters=profile('CFC1="0.6666667"', 'DMXPercentage="0.75" CFC0="0.5" CFC1="2"'))
    assert slots(kind, "-1 stop", 1)[0] == pytest.approx(0.75 * 255, abs=1)


def test_a_channel_set_ends_where_its_function_ends() -> None:
    # ChannelSet: up to the next set, or the maximum of the current function; ChannelFunction: up to the next one.
    both = function("Gobo1", "Gobos", channel_set("Open", "0/1") + channel_set("Dots", "20/1"))
    spin = function("Gobo1WheelSpin", "Spin", DMXFrom="128/1")
    wheel = imported(DIMMER + channel("2", "Gobo1", both + spin)).description["modes"]["m"][1]
    assert wheel["ranges"] == {"open": "0-19", "dots": "20-127", "spin": "128-255"}


def test_a_channel_set_ends_before_a_function_of_another_logical_channel_and_of_a_mode_master() -> None:
    # LogicalChannel: those of one DMX channel exclude each other. ModeMaster: a function without one may always be on.
    dots = function("Gobo1", "Gobos", channel_set("Dots", "20/1"))
    apart = (
        '<DMXChannel Offset="2" Geometry="Lens"><LogicalChannel Attribute="Gobo1" Snap="No" Master="None">'
        f'{dots}</LogicalChannel><LogicalChannel Attribute="Gobo1WheelSpin" Snap="No" Master="None">'
        f"{function('Gobo1WheelSpin', 'Spin', DMXFrom='128/1')}</LogicalChannel></DMXChannel>"
    )
    assert imported(DIMMER + apart).description["modes"]["m"][1]["ranges"]["dots"] == "20-127"
    mastered = function("Gobo1WheelSpin", "Spin", DMXFrom="128/1", ModeMaster="Lens_Fans", ModeFrom="0/1", ModeTo="9/1")
    wheel = imported(DIMMER + channel("2", "Gobo1", dots + mastered)).description["modes"]["m"][1]
    assert wheel["ranges"] == {"dots": "20-127"}


def test_functions_of_two_choices_of_one_mode_master_do_not_end_each_other() -> None:
    def chosen(name: str, start: str, low: str, high: str, sets: str = "") -> str:
        keys = {"ModeMaster": "Lens_Fans", "ModeFrom": low, "ModeTo": high}
        return function("Gobo1", name, sets, DMXFrom=start, **keys)

    functions = chosen("A", "0/1", "0/1", "127/1", channel_set("Dots", "20/1")) + chosen("B", "64/1", "128/1", "255/1")
    wheel = imported(DIMMER + channel("2", "Gobo1", functions)).description["modes"]["m"][1]
    assert wheel["ranges"] == {"dots": "20-255"}


def test_a_default_of_zero_is_a_default() -> None:
    # ChannelFunction: Default, the value when it is activated. A light without one is white in cuedeck.
    zero = {"Default": "0/1"}
    emitters = "".join(
        channel(slot, f"ColorAdd_{letter}", function(f"ColorAdd_{letter}", **zero))
        for slot, letter in (("2", "R"), ("3", "G"))
    )
    white = channel("4", "CTC", function("CTC", PhysicalFrom="2700", PhysicalTo="6500", **zero))
    assert slots(imported(DIMMER + emitters + white), None, 4) == [0, 0, 0, 0]
    cool = channel("2", "CTC", function("CTC", PhysicalFrom="6500", PhysicalTo="2700", **zero))
    assert slots(imported(DIMMER + cool), None, 2) == [0, 0]


def test_what_a_beam_says_of_its_light_is_taken_over_and_the_standards_own_numbers_are_unknown() -> None:
    # Beam: PowerConsumption 1000 W and LuminousFlux 10000 lm are what the schema gives a beam that says nothing.
    def beams(*keys: str) -> str:
        return f"<Geometries><Geometry Name='Lens'>{''.join(f'<Beam {key}/>' for key in keys)}</Geometry></Geometries>"

    said = 'PowerConsumption="150" LuminousFlux="8200" ColorTemperature="5600" BeamRadius="0.06"'
    one = import_type(description(mode("m", DIMMER, geometry="Lens"), geometries=beams(said)), "file.gdtf").description
    assert {key: one[key] for key in ("watts", "lumens", "white", "size")} == {
        "watts": "150",
        "lumens": "8200",
        "white": "5600 K",
        "size": "0.12",
    }
    standard = beams('PowerConsumption="1000" LuminousFlux="10000"')
    unknown = import_type(description(mode("m", DIMMER, geometry="Lens"), geometries=standard), "file.gdtf")
    assert not {"watts", "lumens", "white", "size"} & unknown.description.keys()
    assert sum("what the standard gives a beam" in note for note in unknown.notes) == 2
    two = import_type(description(mode("m", DIMMER, geometry="Lens"), geometries=beams(said, said)), "file.gdtf")
    assert (two.description["watts"], two.description["lumens"]) == ("300", "16400")
    assert "size" not in two.description


def test_the_white_of_a_beam_is_what_the_light_looks_like() -> None:
    beam = '<Geometries><Beam Name="Lens" ColorTemperature="3200"/></Geometries>'
    kind = import_type(description(mode("m", DIMMER, geometry="Lens"), geometries=beam), "file.gdtf")
    text = types_file_text("t", kind.description, []) + "rig: {a: {type: t, address: 1.1}}\n"
    patch = build_patch(load_show(f"cuedeck: 2\n{text}".encode()).show)
    (state,) = states(patch, patch.dark)
    assert state.kelvin == pytest.approx(3200, abs=1)
    red, _, blue = state.screen_colour
    assert red > blue


def test_what_is_kept_and_not_used_is_told_by_the_check() -> None:
    said = "{channels: [intensity], lumens: 8200, size: 0.12, white: 3200 K}"
    coloured = "{channels: [intensity, hue, saturation], white: 3200 K}"
    loaded = load_show(
        f"cuedeck: 2\ntypes: {{t: {said}, u: {coloured}}}\nrig: {{a: {{type: t, address: 1.1}}}}\n".encode()
    )
    assert [problem.what for problem in check_rig(loaded)] == [
        "'lumens' of 't' is kept, and nothing is worked out from it yet",
        "'size' of 't' is kept, and nothing is worked out from it yet",
        "'white' of 'u' is not used: a channel sets its colour",
    ]
