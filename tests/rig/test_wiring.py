"""Levels to slots and back: widths, rounding, inversion, and emitters that one intensity scales."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cuedeck.rig.patch import Patch
from cuedeck.rig.types import BUILT_IN
from tests.rig.rigs import MEASURED, patch_of
from tests.tools import times

DIMMERS = ["linear", "square", "s-curve", MEASURED]


def sent(patch: Patch, *levels: float, slots: int = 4) -> list[int]:
    return [int(slot) for slot in patch.encode(np.array([levels], dtype=np.float64))[0, 0, :slots]]


# Coarse byte first (DIN SPEC 15800, "most significant first"); the rounding is this project's own word.


@pytest.mark.parametrize(
    ("width", "level", "slots"),
    [
        ("8-bit", 0.0, [0, 0, 0]),
        ("8-bit", 0.5, [128, 0, 0]),  # 127.5
        ("8-bit", 0.498, [127, 0, 0]),  # 126.99
        ("8-bit", 1.0, [255, 0, 0]),
        ("16-bit", 0.5, [0x80, 0x00, 0]),  # 32767.5
        ("16-bit", 0.2, [0x33, 0x33, 0]),  # 13107
        ("16-bit", 1 / 65535, [0, 1, 0]),
        ("16-bit", 0.49 / 65535, [0, 0, 0]),
        ("16-bit", 1.0, [255, 255, 0]),
        ("24-bit", 0.5, [0x80, 0x00, 0x00]),  # 8388607.5
        ("24-bit", 0.2, [0x33, 0x33, 0x33]),  # 3355443
        ("24-bit", 1 / 16777215, [0, 0, 1]),
        ("24-bit", 256 / 16777215, [0, 1, 0]),
        ("24-bit", 65536 / 16777215, [1, 0, 0]),
        ("24-bit", 1.0, [255, 255, 255]),
    ],
)
def test_a_level_is_the_nearest_value_of_its_width_halves_upwards(width: str, level: float, slots: list[int]) -> None:
    assert sent(patch_of(f"channels: [intensity {width}]"), level, slots=3) == slots


@pytest.mark.parametrize(
    ("width", "level", "slots"),
    [
        ("8-bit", 0.0, [255, 0, 0]),
        ("8-bit", 1.0, [0, 0, 0]),
        ("8-bit", 0.2, [204, 0, 0]),
        ("16-bit", 0.0, [255, 255, 0]),
        ("16-bit", 0.2, [0xCC, 0xCC, 0]),
        ("24-bit", 1.0, [0, 0, 0]),
        ("24-bit", 0.2, [0xCC, 0xCC, 0xCC]),
    ],
)
def test_an_inverted_channel_is_full_at_0(width: str, level: float, slots: list[int]) -> None:
    assert sent(patch_of(f"channels: [intensity {width} inverted]"), level, slots=3) == slots


def test_channels_of_all_widths_lie_in_the_order_of_the_type_with_fixed_slots_between() -> None:
    patch = patch_of("channels: [red 24-bit, fixed 9, intensity, green 16-bit, fixed 8, blue inverted]")
    # Parameters in the order of the channels: red, intensity, green, blue.
    assert sent(patch, 0.2, 1.0, 0.2, 0.2, slots=9) == [0x33, 0x33, 0x33, 9, 255, 0x33, 0x33, 8, 204]


@pytest.mark.parametrize("slot", [0, 1, 37, 127, 128, 254, 255])
@pytest.mark.parametrize("octets", [1, 2, 3])
@pytest.mark.parametrize("inverted", ["", " inverted"])
def test_a_default_value_is_on_the_line_in_every_byte_whatever_the_width_and_direction(
    slot: int, octets: int, inverted: str
) -> None:
    patch = patch_of(f"channels: [intensity, {{channel: fan {8 * octets}-bit{inverted}, default: value {slot}}}]")
    assert sent(patch, *patch.defaults, slots=1 + octets) == [0, *[slot] * octets]


def test_the_middle_of_a_range_is_on_the_line_also_inverted() -> None:
    for inverted in ("", " inverted"):
        strobe = f"{{channel: strobe{inverted}, ranges: {{open: 0-10, fast: 11-255}}, default: fast}}"
        patch = patch_of(f"channels: [intensity, {strobe}]")
        assert sent(patch, *patch.defaults, slots=2) == [0, 133]


@pytest.mark.parametrize(
    ("dimmer", "slots"),
    [
        # Light of half control: 1/2, 1/4, 1/2. The light of both halves multiplied: 1/4, 1/16, 1/4.
        ("linear", [64, 64]),  # 63.75
        ("square", [64, 64]),  # the root of 1/16 is 1/4
        ("s-curve", [83, 83]),  # 3 x^2 - 2 x^3 = 1/4 at x = 1/2 - sin(asin(1/2) / 3) = 0.32635
    ],
)
def test_the_light_of_two_controls_multiplies(dimmer: str, slots: list[int]) -> None:
    patch = patch_of(f"channels: [red, green], dimmer: {dimmer}")
    assert sent(patch, 0.5, 0.5, 0.5, slots=2) == slots


def test_the_light_of_two_controls_multiplies_at_the_meter() -> None:
    # Half control reads 1180 of 5210 lux. A light that gives 42 of 1180 lux of what half control gives is at
    # 42 / 5210 of full, read at 10 %: 0.1 x 65535 = 6553.5.
    patch = patch_of(f"channels: [red 16-bit], dimmer: {MEASURED}")
    (light,) = patch.fixtures
    drive = float(light.dimmer.control_from_light(np.array([42 / 1180]))[0])
    coarse, fine = sent(patch, 0.5, drive, slots=2)
    assert abs(256 * coarse + fine - 6553.5) <= 1


@given(st.sampled_from(DIMMERS), st.floats(0, 1), st.floats(0, 1))
@settings(max_examples=times(60))
def test_through_any_dimmer_the_light_on_the_line_is_that_of_drive_times_intensity(
    dimmer: str, intensity: float, drive: float
) -> None:
    patch = PATCHES[dimmer]
    light = patch.fixtures[0].dimmer.light_from_control
    slots = sent(patch, intensity, drive, 1.0, slots=6)
    for control, of_channel in (((slots[0] << 16 | slots[1] << 8 | slots[2]) / 16777215, drive), (_second(slots), 1.0)):
        wanted = light(np.array([intensity])) * light(np.array([of_channel]))
        # Half a step of 24 bits in control, where no curve here rises more steeply than threefold.
        assert float(light(np.array([control]))[0]) == pytest.approx(float(wanted[0]), abs=1e-7)


def _second(slots: list[int]) -> float:
    return (slots[3] << 16 | slots[4] << 8 | slots[5]) / 16777215


PATCHES = {dimmer: patch_of(f"channels: [red 24-bit, green 24-bit], dimmer: {dimmer}") for dimmer in DIMMERS}


@pytest.mark.parametrize("dimmer", DIMMERS)
def test_full_and_out_are_exact_through_every_dimmer(dimmer: str) -> None:
    patch = PATCHES[dimmer]
    assert sent(patch, 1.0, 1.0, 0.0, slots=6) == [255, 255, 255, 0, 0, 0]
    assert sent(patch, 0.0, 1.0, 1.0, slots=6) == [0] * 6


def test_a_light_with_a_dimmer_of_its_own_does_not_scale_its_emitters() -> None:
    patch = patch_of(f"channels: [intensity, red, {{channel: fan}}], dimmer: {MEASURED}")
    assert sent(patch, 0.2, 1.0, 0.5) == [51, 255, 128, 0]


def test_a_channel_of_its_own_is_not_scaled_on_a_light_without_a_dimmer() -> None:
    patch = patch_of("channels: [red, {channel: fan, default: 50 %}]")
    assert sent(patch, *patch.defaults) == [0, 128, 0, 0]


def test_no_packets_are_no_slots() -> None:
    for width in ("8-bit", "16-bit", "24-bit"):
        patch = patch_of(f"channels: [intensity {width}]")
        assert patch.encode(np.empty((0, 1))).shape == (0, 1, 512)
        assert patch.decode(np.empty((0, 1, 512), dtype=np.uint8)).shape == (0, 1)


# Decoding.


def test_slots_in_the_dark_stretch_of_a_dimmer_are_dark_and_their_colour_unknown() -> None:
    patch = patch_of("channels: [red, green], dimmer: {40 %: 0, 60 %: 5, 100 %: 6}")
    slots = np.zeros((1, 1, 512), dtype=np.uint8)
    slots[0, 0, :2] = 90, 20  # 35 % and 8 %
    assert patch.decode(slots)[0].tolist() == [90 / 255, 1, 1]


COLOURS = ["red", "green", "blue", "white", "amber"]


@st.composite
def types(draw: st.DrawFn) -> str:
    """Draw a type of emitters and channels of its own, of any width and direction."""
    names = draw(st.lists(st.sampled_from([*COLOURS, "intensity", "fixed 7", "fan", "iris"]), min_size=1, max_size=8))
    names = list(dict.fromkeys(names))
    if not set(names) & {*COLOURS, "intensity"}:
        names.append("red")
    channels = []
    for name in names:
        words = draw(st.sampled_from(["", " 8-bit", " 16-bit", " 24-bit"])) + draw(st.sampled_from(["", " inverted"]))
        is_own = name in ("fan", "iris")
        channels.append(name if name.startswith("fixed") else f"{{channel: {name}{words}}}" if is_own else name + words)
    return f"channels: [{', '.join(channels)}], dimmer: {draw(st.sampled_from(DIMMERS))}"


@given(types(), st.data())
@settings(max_examples=times(80))
def test_decoding_slots_gives_levels_that_encode_to_the_same_slots(kind: str, data: st.DataObject) -> None:
    patch = patch_of(kind)
    count = len(patch.parameters)
    levels = np.array([data.draw(st.lists(st.floats(0, 1), min_size=count, max_size=count))])
    slots = patch.encode(levels)
    decoded = patch.decode(slots)
    assert ((decoded >= 0) & (decoded <= 1)).all()
    assert np.array_equal(patch.encode(decoded), slots)


@given(types(), st.binary(min_size=24, max_size=24))
@settings(max_examples=times(60))
def test_any_slots_decode_to_levels_that_encode_to_them(kind: str, octets: bytes) -> None:
    patch = patch_of(kind)
    slots = np.zeros((1, 1, 512), dtype=np.uint8)
    slots[0, 0, :24] = np.frombuffer(octets, dtype=np.uint8)
    again = patch.encode(patch.decode(slots))
    (light,) = patch.fixtures
    place = 0
    for channel in light.channels:
        if channel.attribute is not None:
            part = slice(place, place + channel.width_slots)
            assert again[0, 0, part].tolist() == slots[0, 0, part].tolist()
        place += channel.width_slots


@pytest.mark.parametrize("name", list(BUILT_IN))
def test_what_a_built_in_light_is_sent_decodes_to_its_levels_to_half_a_step(name: str) -> None:
    kind = BUILT_IN[name]
    assert kind.channels is not None
    words = [f"{channel.attribute} {8 * channel.width_slots}-bit" for channel in kind.channels]
    ends = "colour temperature: {low: 2700 K, high: 6500 K}, " if "two-tone" in name else ""
    patch = patch_of(f"{ends}channels: [{', '.join(words)}]")
    levels = np.linspace(0.05, 1.0, len(patch.parameters))[None]
    if not patch.fixtures[0].has_own_dimmer:
        levels[0, -1] = 1.0  # the strongest emitter tells what the intensity is
    full = 65535 if "16-bit" in name else 255
    decoded = patch.decode(patch.encode(levels))
    assert decoded[:, :1] == pytest.approx(levels[:, :1], abs=0.5 / full + 1e-12)
    if patch.fixtures[0].has_own_dimmer:
        assert decoded == pytest.approx(levels, abs=0.5 / full + 1e-12)
    else:
        assert decoded * decoded[:, :1] == pytest.approx(levels * levels[:, :1], abs=1 / full)
