"""What each light is doing, read from the slots alone."""

from __future__ import annotations

import numpy as np
import pytest

from cuedeck.rig.looks import resolve_look
from cuedeck.rig.patch import build_patch
from cuedeck.rig.state import FixtureState, states
from tests.light.colour_science import colour as reference
from tests.rig.rigs import MEASURED, emitters_text, loaded

ALL = emitters_text("red", "green", "blue", "white")


def seen(kind: str, look: str) -> FixtureState:
    """Return the state of a light of a type, and in a look, written as stands in their braces."""
    show = loaded(
        f"types: {{t: {{{kind}}}}}", "rig: {a: {type: t, address: 1.1}}", f"looks: {{look: {{a: {{{look}}}}}}}"
    ).show
    patch = build_patch(show)
    asked = resolve_look(show, patch, "look")
    (state,) = states(patch, patch.encode(np.where(np.isnan(asked), patch.defaults, asked)[None])[0])
    return state


TWO_TONE = "channels: [intensity, colour temperature 16-bit], colour temperature: {low: 2800 K, high: 6500 K}"
WASH = f"channels: [red 16-bit, green 16-bit, blue 16-bit, white 16-bit], {ALL}"


def test_a_plain_light_has_a_level_and_no_colour() -> None:
    state = seen("channels: [intensity 16-bit]", "level: 45 %")
    assert (state.name, state.kelvin, state.screen_colour) == ("a", None, (1.0, 1.0, 1.0))
    assert state.level == pytest.approx(0.45, abs=1e-5)


def test_a_two_tone_light_has_the_colour_temperature_of_its_channel() -> None:
    assert seen(TWO_TONE, "level: full, colour: 4300 K").kelvin == pytest.approx(4300, abs=0.1)


def test_a_two_tone_light_that_was_measured_has_that_of_its_readings() -> None:
    kind = """channels: [intensity, colour temperature 16-bit],
      colour temperature: {0 %: 6500 K, 40 %: 4000 K, 100 %: 2800 K}"""
    assert seen(kind, "level: full, colour: 4300 K").kelvin == pytest.approx(4300, abs=0.1)
    assert seen(kind, "level: full, colour temperature: 40 %").kelvin == pytest.approx(4000, abs=0.1)


@pytest.mark.parametrize("dimmer", ["linear", "square", MEASURED])
def test_emitters_that_mix_a_white_have_its_colour_temperature_at_any_level(dimmer: str) -> None:
    for level in ("full", "-2 stop"):
        state = seen(f"{WASH}, dimmer: {dimmer}", f"level: {level}, colour: 4300 K")
        assert state.kelvin == pytest.approx(4300, abs=5)


def test_a_tinted_white_still_has_a_colour_temperature_and_a_colour_has_none() -> None:
    assert seen(WASH, "level: full, colour: 4300 K Duv 0.01").kelvin == pytest.approx(4300, abs=5)
    assert seen(WASH, "level: full, colour: sRGB 255 0 0").kelvin is None
    assert seen(WASH, "level: full, colour: 4300 K Duv 0.03").kelvin is None


@pytest.mark.parametrize("kind", [WASH, "channels: [intensity, hue 16-bit, saturation 16-bit]"])
def test_a_colour_of_the_screen_is_seen_as_that_colour_on_the_screen(kind: str) -> None:
    # sRGB 255 128 60, decoded and encoded by colour-science (IEC 61966-2-1), the largest part 1.
    linear = reference.cctf_decoding(np.array([255, 128, 60]) / 255, "sRGB")
    wanted = reference.cctf_encoding(linear / linear.max(), "sRGB")
    state = seen(kind, "level: full, colour: sRGB 255 128 60")
    assert state.screen_colour == pytest.approx(tuple(wanted), abs=0.01)


def test_a_light_of_x_and_y_is_seen_in_its_colour() -> None:
    state = seen("channels: [intensity, x 16-bit, y 16-bit]", "level: full, colour: xy 0.3127 0.3290")
    assert state.screen_colour == pytest.approx((1, 1, 1), abs=0.002)
    # CIE 015: D65 has 6504 K, Duv 0.0032.
    assert state.kelvin == pytest.approx(6504, abs=5)


def test_emitters_whose_colours_are_not_known_are_shown_by_their_names() -> None:
    state = seen("channels: [red, green, blue]", "level: full, red: 100 %, green: 0 %, blue: 0 %")
    assert state.kelvin is None
    assert state.screen_colour == pytest.approx((1, 0, 0))
    assert seen("channels: [warm white, cool white]", "level: full").screen_colour == (1.0, 1.0, 1.0)


def test_an_emitter_that_was_not_measured_makes_the_colour_unknown_while_it_shines() -> None:
    kind = f"channels: [red 16-bit, green 16-bit, blue 16-bit, white 16-bit, amber], {ALL}"
    assert seen(kind, "level: full, colour: 4300 K").kelvin == pytest.approx(4300, abs=5)
    assert seen(kind, "level: full, amber: 50 %").kelvin is None


BOTH = f"channels: [intensity, colour temperature, red, green, blue, white], {ALL}" + (
    ", colour temperature: {low: 2800 K, high: 6500 K}"
)


def test_a_light_with_both_is_seen_in_the_white_of_its_channel_or_the_colour_of_its_emitters() -> None:
    white = seen(BOTH, "level: full, colour: 4300 K")
    assert white.kelvin == pytest.approx(4300, abs=20)
    red = seen(BOTH, "level: full, colour: sRGB 255 0 0")
    assert red.kelvin is None
    assert red.screen_colour == pytest.approx((1, 0, 0), abs=0.03)


def test_a_light_out_is_seen_out_in_the_colour_it_would_have() -> None:
    state = seen(TWO_TONE, "level: out, colour: 4300 K")
    assert state.level == 0
    assert state.kelvin == pytest.approx(4300, abs=0.1)


def test_any_slots_are_a_state() -> None:
    kinds = [WASH, BOTH, TWO_TONE, "channels: [intensity, hue, saturation]", "channels: [intensity, x, y]"]
    show = loaded(
        "types:",
        *(f"  t{n}: {{{kind}}}" for n, kind in enumerate(kinds)),
        "rig:",
        *(f"  f{n}: {{type: t{n}, address: 1.{1 + 10 * n}}}" for n in range(len(kinds))),
    ).show
    patch = build_patch(show)
    generator = np.random.default_rng(7)
    packets = generator.integers(0, 256, (200, 1, 512), dtype=np.uint8)
    packets[::4] //= 250  # dark and almost dark ones too
    packets[1::4] = 255
    for packet in packets:
        for state in states(patch, packet):
            assert 0 <= state.level <= 1
            assert all(0 <= part <= 1 for part in state.screen_colour)
            assert state.kelvin is None or 999 <= state.kelvin <= 40001
