"""Levels to slots and back, and the faults of a patch."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from cuedeck.rig.check_rig import check_rig
from cuedeck.rig.patch import Patch, build_patch
from cuedeck.rig.types import BUILT_IN
from cuedeck.show.load import load_show


def patch_of(rig: str, more: str = "") -> Patch:
    loaded = load_show(f"cuedeck: 1\n{more}\nrig:\n{rig}".encode())
    assert loaded.problems == ()
    return build_patch(loaded.show)


def faults(rig: str, more: str = "title: x") -> list[tuple[str, str, str]]:
    problems = check_rig(load_show(f"cuedeck: 1\n{more}\nrig:\n{rig}".encode()))
    return [(f"{problem.place.line}:{problem.place.column}", problem.what, problem.cure) for problem in problems]


def slots_of(patch: Patch, *levels: float) -> list[int]:
    """Return the first four slots that carry one set of levels."""
    slots = patch.encode(np.array([levels], dtype=np.float64))
    return [int(slot) for slot in slots[0, 0, :4]]


# ANSI E1.11-2008 (R2018) gives a slot 0 to 255 and leaves open what a level is (from memory); the rounding
# is this project's own word. Coarse byte first: DIN SPEC 15800 Offset, "most significant first".


@pytest.mark.parametrize(
    ("level", "slot"),
    [(0.0, 0), (0.001, 0), (0.002, 1), (0.45, 115), (0.5, 128), (0.25, 64), (0.999, 255), (1.0, 255)],
)
def test_a_level_becomes_the_nearest_of_256_values_halves_upwards(level: float, slot: int) -> None:
    assert slots_of(patch_of("  a: {type: dimmer, address: 1.1}\n"), level) == [slot, 0, 0, 0]


@pytest.mark.parametrize(
    ("level", "coarse", "fine"),
    [
        (0.0, 0x00, 0x00),
        (0.25, 0x40, 0x00),  # 16383.75
        (0.5, 0x80, 0x00),  # 32767.5, half upwards
        (1 / 65535, 0x00, 0x01),
        (0.75, 0xBF, 0xFF),  # 49151.25
        (1.0, 0xFF, 0xFF),  # DIN SPEC 15800: full is 65535, not 65280
    ],
)
def test_a_wide_level_is_two_slots_coarse_then_fine(level: float, coarse: int, fine: int) -> None:
    assert slots_of(patch_of("  a: {type: dimmer 16-bit, address: 1.1}\n"), level) == [coarse, fine, 0, 0]


def test_the_intensity_of_a_light_of_emitters_scales_them_all() -> None:
    patch = patch_of("  a: {type: rgbw, address: 1.1}\n")
    assert [parameter.attribute for parameter in patch.parameters] == ["intensity", "red", "green", "blue", "white"]
    assert slots_of(patch, 1.0, 1.0, 0.5, 0.0, 0.25) == [255, 128, 0, 64]
    assert slots_of(patch, 0.5, 1.0, 0.5, 0.0, 0.25) == [128, 64, 0, 32]
    assert slots_of(patch, 0.0, 1.0, 0.5, 0.0, 0.25) == [0, 0, 0, 0]


def test_a_light_with_a_dimmer_of_its_own_keeps_its_emitters_full_when_it_is_out() -> None:
    patch = patch_of("  a: {type: t, address: 1.1}\n", "types: {t: {channels: [intensity, red, green]}}")
    assert slots_of(patch, 0.0, 1.0, 0.5) == [0, 255, 128, 0]


def test_a_fixture_listens_at_its_address_in_its_universe() -> None:
    patch = patch_of("  a: {type: dimmer, address: 7.512}\n  b: {type: dimmer, address: 2.3}\n")
    slots = patch.encode(np.array([[1.0, 0.5]]))
    assert patch.universes == (2, 7)
    assert slots.shape == (1, 2, 512)
    assert {(int(u), int(s)): int(slots[0, u, s]) for u, s in np.argwhere(slots[0])} == {(1, 511): 255, (0, 2): 128}


def test_a_fixed_slot_is_held_whatever_the_levels() -> None:
    patch = patch_of("  a: {type: t, address: 1.1}\n", "types: {t: {channels: [fixed 17, intensity]}}")
    assert slots_of(patch, 0.0) == [17, 0, 0, 0]
    assert slots_of(patch, 1.0) == [17, 255, 0, 0]


def test_before_any_cue_lights_are_out_emitters_full_and_white_is_daylight() -> None:
    patch = patch_of("  a: {type: rgb, address: 1.1}\n  b: {type: two-tone, address: 1.4}\n")
    # 5600 K between 2700 and 6500 K in mired: (370.37 - 178.57) / (370.37 - 153.85) = 0.8858
    assert patch.defaults == pytest.approx([0, 1, 1, 1, 0, 0.8858], abs=5e-5)


def test_as_many_slots_are_sent_as_the_show_says() -> None:
    rig = "  a: {type: rgb, address: 1.30}\n"
    assert patch_of(rig).slots_sent == 512
    assert patch_of(rig, "slots: patched").slots_sent == 32
    assert patch_of(rig, "slots: 100").slots_sent == 100
    # 24: the fewest that fill the shortest break to break, 1204 us (ANSI E1.11-2008 (R2018), table 6).
    assert patch_of("  a: {type: rgb, address: 1.1}\n", "slots: patched").slots_sent == 24


ONE_OF_EACH = "".join(f"  f{n}: {{type: {name}, address: 1.{1 + 10 * n}}}\n" for n, name in enumerate(BUILT_IN))
EVERY_BUILT_IN = patch_of(ONE_OF_EACH)
LEVELS = st.lists(
    st.floats(0, 1), min_size=len(EVERY_BUILT_IN.parameters), max_size=len(EVERY_BUILT_IN.parameters)
).map(lambda levels: np.array([levels], dtype=np.float64))


@given(LEVELS)
def test_slots_decode_to_levels_that_encode_to_the_same_slots(levels: np.ndarray) -> None:
    slots = EVERY_BUILT_IN.encode(levels)
    decoded = EVERY_BUILT_IN.decode(slots)
    assert decoded.min() >= 0
    assert decoded.max() <= 1
    assert (EVERY_BUILT_IN.encode(decoded) == slots).all()


@given(LEVELS)
def test_levels_come_back_within_half_a_step(levels: np.ndarray) -> None:
    decoded = EVERY_BUILT_IN.decode(EVERY_BUILT_IN.encode(levels))
    for fixture in EVERY_BUILT_IN.fixtures:
        half_step = 0.5 / (65535 if "16-bit" in fixture.hung.type else 255) + 1e-12
        intensity = fixture.columns["intensity"]
        for column in fixture.columns.values():
            # Of a light of emitters only the light that each gives can come back: drive times intensity.
            if fixture.has_own_dimmer:
                went, came = levels[0, column], decoded[0, column]
            elif column == intensity:
                continue
            else:
                went, came = levels[0, column] * levels[0, intensity], decoded[0, column] * decoded[0, intensity]
            assert abs(came - went) <= half_step


@given(st.binary(min_size=512, max_size=512))
def test_any_slots_decode_to_levels_from_nothing_to_full(slots: bytes) -> None:
    decoded = EVERY_BUILT_IN.decode(np.frombuffer(slots, dtype=np.uint8).reshape(1, 1, 512))
    assert ((decoded >= 0) & (decoded <= 1)).all()
    assert (np.delete(EVERY_BUILT_IN.encode(decoded)[0, 0], _unheard()) == np.delete(list(slots), _unheard())).all()


def _unheard() -> list[int]:
    """Return the indices of slots that no fixture of the patch listens to."""
    heard = {
        slot - 1 for fixture in EVERY_BUILT_IN.fixtures for slot in range(fixture.address.slot, fixture.last_slot + 1)
    }
    return [index for index in range(512) if index not in heard]


def test_two_fixtures_on_one_slot_are_both_named() -> None:
    rig = "  rim left: {type: rgb, address: 1.1}\n  fill: {type: dimmer, address: 1.3}\n"
    assert faults(rig) == [
        (
            "5:33",
            "'fill' and 'rim left' both listen to slot 1.3",
            "move one of them: 'fill' takes 1 slot from 1.3; or let 'cuedeck patch SHOW --auto' find a free one",
        )
    ]


def test_fixtures_side_by_side_or_in_two_universes_do_not_overlap() -> None:
    rig = "  a: {type: rgb, address: 1.1}\n  b: {type: dimmer, address: 1.4}\n  c: {type: rgb, address: 2.1}\n"
    assert faults(rig) == []


def test_a_fixture_past_the_end_of_its_universe_is_reported_and_left_out() -> None:
    rig = "  a: {type: rgbw, address: 1.510}\n  b: {type: rgbw, address: 1.501}\n"
    assert faults(rig) == [
        (
            "4:28",
            "'a' takes 4 slots and would run to 513, past the end at 512",
            "write an address up to 1.509",
        )
    ]
    assert [fixture.name for fixture in patch_of(rig).fixtures] == ["b"]


def test_a_fixture_past_the_slots_that_are_sent_is_reported() -> None:
    assert faults("  a: {type: rgb, address: 1.99}\n", "slots: 100") == [
        (
            "4:27",
            "'a' listens up to slot 101, and only 100 slots are sent",
            "write 'slots: 101' or more at the top of the show, or 'slots: patched'",
        )
    ]


def test_a_fixture_of_an_unknown_type_is_told_the_nearest() -> None:
    assert faults("  a: {type: dimer, address: 1.1}\n") == [
        ("4:13", "'a' is of type 'dimer', which is neither built in nor under types", "write 'dimmer'")
    ]


def test_a_fixture_of_a_type_that_could_not_be_read_is_not_reported_for_it() -> None:
    assert faults("  a: {type: t, address: 1.1}\n", "types: {t: {channels: [fred]}}") == []


@given(st.fractions(0, 1), st.sampled_from([1, 2]))
def test_encoding_is_exact_where_a_fraction_tells_what_is_nearest(level: Fraction, width: int) -> None:
    kind, full = ("dimmer", 255) if width == 1 else ("dimmer 16-bit", 65535)
    slots = slots_of(patch_of(f"  a: {{type: {kind}, address: 1.1}}\n"), float(level))
    value = slots[0] if width == 1 else slots[0] * 256 + slots[1]
    assert abs(value - level * full) <= Fraction(1, 2) + Fraction(1, 10**9)
