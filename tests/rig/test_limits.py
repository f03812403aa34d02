"""No light is sent more or less than its limits, whatever is asked of it; within them nothing changes."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from cuedeck.rig.limits import steps_of_intensity
from cuedeck.rig.looks import resolve_look
from cuedeck.rig.parameters import PatchedFixture
from cuedeck.rig.patch import Patch, build_patch
from cuedeck.rig.types import BUILT_IN
from tests.rig.rigs import MEASURED, loaded

LIMITS = ("never above: 80 %", "never above: 45 %", "never above: -2 stop", "never below: 30 %, never above: 33 %")
TYPES = (
    *(name for name in BUILT_IN),
    "inverted",
    "measured",
    "s-curve tube",
    "tube of two widths",
    "wide",
)
HEAD = (
    "types:",
    "  inverted: {channels: [intensity 16-bit inverted]}",
    f"  measured: {{channels: [intensity], dimmer: {MEASURED}}}",
    "  s-curve tube: {channels: [red 24-bit, green 24-bit], dimmer: s-curve}",
    "  tube of two widths: {channels: [red 24-bit, green 16-bit, blue], dimmer: square}",
    "  wide: {channels: [intensity 24-bit, fixed 7, red]}",
)


def rig_of(*limits: str) -> Patch:
    """Return the patch of one light of every type, the limits going round among them."""
    lights = (
        f"  f{n}: {{type: {kind}, address: {1 + n // 25}.{1 + 20 * (n % 25)}{limits[n % len(limits)]}}}"
        for n, kind in enumerate(TYPES * max(1, len(limits)))
    )
    return build_patch(loaded(*HEAD, "rig:", *lights).show)


LIMITED = rig_of(*(f", {limit}" for limit in LIMITS), "", ", never below: 12.3 %")
FREE = rig_of(*[""] * (len(LIMITS) + 2))
ANY_LEVELS = st.integers(0, 2**32 - 1).map(
    lambda seed: (
        np.random.default_rng(seed).choice([0.0, 1.0, 0.3, 0.45, 0.8], (3, len(FREE.parameters)))
        * np.random.default_rng(seed + 1).choice([1.0, 0.999, 0.5], (3, len(FREE.parameters)))
    )
)
CELL = st.floats(0, 1)


def intensity_of(fixture: PatchedFixture, decoded: np.ndarray) -> np.ndarray:
    return np.asarray(decoded[:, fixture.columns["intensity"]])


def assert_within(fixture: PatchedFixture, decoded: np.ndarray, levels: np.ndarray) -> None:
    """Assert that what slots say keeps to the limits. Emitters make of the shared intensity what their colour says."""
    sent = intensity_of(fixture, decoded)
    strongest = 1.0
    if not fixture.has_own_dimmer:
        strongest = levels[:, [fixture.columns[name] for name in fixture.emitters]].max(axis=1)
    if fixture.limits is not None:
        assert (sent <= fixture.limits.highest + 1e-12).all(), fixture.name
        lit = np.broadcast_to(strongest == 1.0, sent.shape)
        assert (sent[lit] >= fixture.limits.lowest - 1e-12).all(), fixture.name


@given(ANY_LEVELS)
def test_no_levels_leave_the_limits(levels: np.ndarray) -> None:
    decoded = LIMITED.decode(LIMITED.encode(levels))
    for fixture in LIMITED.lights:
        assert_within(fixture, decoded, levels)


@given(st.data())
def test_no_level_of_one_light_leaves_its_limits(data: st.DataObject) -> None:
    fixture = data.draw(st.sampled_from([one for one in LIMITED.lights if one.limits is not None]))
    levels = np.tile(LIMITED.defaults, (1, 1))
    for column in fixture.columns.values():
        levels[0, column] = data.draw(CELL)
    assert_within(fixture, LIMITED.decode(LIMITED.encode(levels)), levels)


@given(ANY_LEVELS)
def test_within_the_limits_the_bytes_are_those_without(levels: np.ndarray) -> None:
    within = levels.copy()
    for fixture in LIMITED.lights:
        if fixture.limits is not None:
            column, steps = fixture.columns["intensity"], steps_of_intensity(fixture.channels)
            lowest, highest = fixture.limits.values(steps)
            within[:, column] = np.clip(within[:, column], lowest / steps, highest / steps)
    assert (LIMITED.encode(within) == FREE.encode(within)).all()
    assert (LIMITED.encode(levels) == FREE.encode(within)).all()


@given(ANY_LEVELS)
def test_encoding_leaves_the_levels_it_is_handed_alone(levels: np.ndarray) -> None:
    before = levels.copy()
    LIMITED.encode(levels)
    assert (levels == before).all()


@given(ANY_LEVELS)
def test_slots_within_the_limits_decode_to_levels_that_encode_to_the_same_slots(levels: np.ndarray) -> None:
    for fixture in LIMITED.lights:
        if not fixture.has_own_dimmer:  # the strongest emitter is what the shared intensity decodes to
            levels[:, fixture.columns[fixture.emitters[0]]] = 1.0
    slots = LIMITED.encode(levels)
    assert (LIMITED.encode(LIMITED.decode(slots)) == slots).all()


@given(
    st.sampled_from(["out", "full", "1 %", "44 %", "46 %", "-0.1 stop", "-1.2 stop", "-7 stop"]),
    st.sampled_from(LIMITS),
    st.sampled_from(TYPES),
)
def test_no_look_leaves_the_limits(level: str, limit: str, kind: str) -> None:
    rig = f"rig: {{a: {{type: {kind}, address: 1.1, {limit}}}}}"
    show = loaded(*HEAD, rig, f"looks: {{a: {{everything: {level}}}}}").show
    patch = build_patch(show)
    asked = resolve_look(show, patch, "a")
    levels = np.where(np.isnan(asked), patch.defaults, asked)[None]
    (fixture,) = patch.fixtures
    assert_within(fixture, patch.decode(patch.encode(levels)), levels)


# In numbers.


def patch_of(light: str, *more: str) -> Patch:
    return build_patch(loaded(*more, f"rig: {{a: {{address: 1.1, {light}}}}}").show)


def sent(patch: Patch, *levels: float) -> list[int]:
    return [int(slot) for slot in patch.encode(np.array([levels]))[0, 0, :4]]


@pytest.mark.parametrize(
    ("limit", "level", "slot"),
    [
        ("never above: 80 %", 1.0, 204),
        ("never above: 80 %", 0.8, 204),
        ("never above: 80 %", 0.5, 128),
        # 0.45 x 255 is 114.75: a look at 45 % rounds to 115, and a limit of 45 % may not.
        ("never above: 45 %", 1.0, 114),
        ("never below: 45 %", 0.0, 115),
        ("never above: -1 stop", 1.0, 127),  # half of 255 is 127.5
        ("never below: 30 %", 0.0, 77),  # 76.5
        ("never below: 30 %", 0.31, 79),
        ("never above: full, never below: out", 0.3, 77),
        ("never above: out", 1.0, 0),
        ("never below: full", 0.0, 255),
    ],
)
def test_an_intensity_is_held_at_the_last_step_within_its_limit(limit: str, level: float, slot: int) -> None:
    assert sent(patch_of(f"type: dimmer, {limit}"), level)[0] == slot


def test_stops_of_a_limit_go_through_the_dimmer_of_the_light() -> None:
    # Half control of a square law is a quarter of the light (shape: dimmer literature; formula from memory).
    old = "types: {old: {channels: [intensity 16-bit], dimmer: square}}"
    assert sent(patch_of("type: old, never above: -2 stop", old), 1.0)[:2] == [0x7F, 0xFF]


def test_a_limit_of_an_inverted_channel_is_one_of_its_light() -> None:
    kind = "types: {t: {channels: [intensity inverted]}}"
    assert sent(patch_of("type: t, never above: 80 %", kind), 1.0)[0] == 51


def test_emitters_that_share_an_intensity_are_limited_together_and_keep_their_colour() -> None:
    assert sent(patch_of("type: rgb, never above: 40 %"), 1.0, 1.0, 0.5, 0.0) == [102, 51, 0, 0]
    assert sent(patch_of("type: rgb, never below: 40 %"), 0.0, 1.0, 0.5, 0.0) == [102, 51, 0, 0]


def test_emitters_beside_an_intensity_of_their_own_are_left_alone() -> None:
    kind = "types: {t: {channels: [intensity, red, green]}}"
    assert sent(patch_of("type: t, never above: 40 %", kind), 1.0, 1.0, 0.9)[:3] == [102, 255, 230]


def test_a_default_is_limited_too_and_a_light_without_a_cue_stays_at_its_hold_level() -> None:
    patch = patch_of("type: t, never below: 20 %, never above: 40 %", "types: {t: {channels: [intensity]}}")
    assert sent(patch, *patch.defaults)[0] == 51


def test_a_show_without_limits_pays_nothing_for_them() -> None:
    levels = FREE.defaults[None]
    levels.setflags(write=False)
    assert FREE._limited is None
    assert patch_of("type: dimmer, never above: full, never below: 0 %")._limited is None
    assert FREE.encode(levels).any()


def test_emitters_of_several_widths_share_the_steps_of_the_narrowest() -> None:
    (light,) = patch_of("type: t", "types: {t: {channels: [red 24-bit, green 16-bit]}}").fixtures
    assert Fraction(65535, steps_of_intensity(light.channels)).denominator == 1
    assert Fraction(16777215, steps_of_intensity(light.channels)).denominator == 1
