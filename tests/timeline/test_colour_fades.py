"""Fades of colour: as light mixes or channel by channel, and what becomes of them when a cue cuts in."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cuedeck.light.curves import CURVES
from cuedeck.timeline.plan import ShotPlan
from tests.light.colour_science import colour as reference
from tests.rig.rigs import EMITTERS, MEASURED, emitters_text
from tests.timeline.shows import plan
from tests.tools import times

NAMES = ("red", "green", "blue", "white")
CHANNELS = ", ".join(f"{name} 24-bit" for name in NAMES)


def head(dimmer: str, own_dimmer: str = "") -> str:
    """Return a show of two washes at slots 1 and 16; packet n is for n x 25 ms."""
    return f"""\
cuedeck: 1
refresh: 40 Hz
slots: 64
types: {{wash: {{channels: [{own_dimmer}{CHANNELS}], dimmer: {dimmer}, {emitters_text(*NAMES)}}}}}
rig:
  wash: {{type: wash, address: 1.1}}
  other: {{type: wash, address: 1.16}}
groups: {{both: [wash, other]}}
"""


LOOKS = """\
looks:
  dark: {both: {level: out, colour: sRGB 255 0 0}}
  up: {both: {level: full, colour: sRGB 0 0 255}}
  a: {both: {level: full, colour: sRGB 255 60 0}}
  b: {both: {level: full, colour: sRGB 0 90 255}}
  c: {both: {level: full, colour: 5600 K}}
  no red: {wash: {red: 0 %}}
  red: {wash: {red: 100 %}}
  wash b: {wash: {colour: sRGB 0 90 255}}
  wash c: {wash: {colour: 5600 K}}
  half: {both: 30 %}
"""
PACKETS = np.arange(40, 121)
SHARES = np.linspace(0, 1, 81)[:, None]


def shot(*cues: str, dimmer: str = "linear", own_dimmer: str = "") -> ShotPlan:
    return plan(*cues, head=head(dimmer, own_dimmer), looks=LOOKS)


def controls(faded: ShotPlan, packets: np.ndarray = PACKETS, first_slot: int = 1) -> np.ndarray:
    """Return what four neighbouring channels of 24 bits are sent, 0 to 1; shape (packets, 4)."""
    slots = faded.timeline().slots(packets)[:, 0, first_slot - 1 : first_slot + 11].astype(float)
    return np.asarray(slots.reshape(len(packets), 4, 3) @ [65536, 256, 1] / 16777215)


def uv_and_luminance(faded: ShotPlan, drives: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Return u', v' and luminance of light of drives through the dimmer, as colour-science adds it up."""
    dimmer = faded.patch.fixtures[0].dimmer if not faded.patch.fixtures[0].has_own_dimmer else None
    amounts = drives if dimmer is None else dimmer.light_from_control(drives)
    xyz = amounts @ reference.xyY_to_XYZ([EMITTERS[name] for name in NAMES])
    return np.array([reference.xy_to_Luv_uv(xy) for xy in reference.XYZ_to_xy(xyz)]), xyz[:, 1]


FADE = ("cue: 1, at: 0 s, look: a", "cue: 2, at: 1 s, look: b, fade: 2 s")


@pytest.mark.parametrize("own_dimmer", ["", "intensity 24-bit, "])
@pytest.mark.parametrize("dimmer", ["linear", "square", "s-curve", MEASURED])
def test_a_fade_of_colour_moves_evenly_in_uv_without_a_dip_in_light(dimmer: str, own_dimmer: str) -> None:
    faded = shot(*FADE, dimmer=dimmer, own_dimmer=own_dimmer)
    uv, luminance = uv_and_luminance(faded, controls(faded, first_slot=4 if own_dimmer else 1))
    assert np.hypot(*(uv[-1] - uv[0])) > 0.1
    assert uv == pytest.approx(uv[0] + (uv[-1] - uv[0]) * SHARES, abs=2e-6)
    assert np.diff(luminance).min() * np.diff(luminance).max() >= -1e-9


@pytest.mark.parametrize("dimmer", ["linear", "square", "s-curve", MEASURED])
def test_a_fade_of_some_channels_of_a_colour_moves_evenly_in_uv_without_a_dip_in_light(dimmer: str) -> None:
    some = "  reddish: {wash: {level: full, red: 100 %, green: 0 %, blue: 20 %, white: 0 %}}\n"
    others = "  greenish: {wash: {red: 0 %, green: 60 %}}\n"
    cues = ("cue: 1, at: 0 s, look: reddish", "cue: 2, at: 1 s, look: greenish, fade: 2 s")
    faded = plan(*cues, head=head(dimmer), looks=LOOKS + some + others)
    sent = controls(faded)
    uv, luminance = uv_and_luminance(faded, sent)
    assert sent[-1] == pytest.approx([0, 0.6, 0.2, 0], abs=1e-7)
    assert (sent[:, 2] == sent[0, 2]).all()
    assert uv == pytest.approx(uv[0] + (uv[-1] - uv[0]) * SHARES, abs=2e-6)
    assert np.diff(luminance).min() * np.diff(luminance).max() >= -1e-9


@pytest.mark.parametrize("dimmer", ["linear", "s-curve", MEASURED])
def test_a_fade_of_colour_stays_even_while_the_level_fades_too(dimmer: str) -> None:
    faded = shot(*FADE, "cue: 3, at: 1.2 s, look: half, fade: 1 s, curve: ease", dimmer=dimmer)
    uv, luminance = uv_and_luminance(faded, controls(faded))
    assert luminance[-1] < 0.7 * luminance[0]
    assert uv == pytest.approx(uv[0] + (uv[-1] - uv[0]) * SHARES, abs=1e-4)


def test_channel_by_channel_each_control_moves_evenly() -> None:
    faded = shot(FADE[0], f"{FADE[1]}, colour path: channels", dimmer=MEASURED)
    sent = controls(faded)
    assert sent == pytest.approx(sent[0] + (sent[-1] - sent[0]) * SHARES, abs=1e-7)


def test_both_ways_begin_and_end_at_the_same_values() -> None:
    mixed, by_channel = shot(*FADE), shot(FADE[0], f"{FADE[1]}, colour path: channels")
    ends = np.array([39, 40, 120])
    assert np.array_equal(controls(mixed, ends), controls(by_channel, ends))
    assert not np.array_equal(controls(mixed, np.array([80])), controls(by_channel, np.array([80])))


def test_a_fade_that_cuts_in_starts_from_the_colour_on_stage() -> None:
    faded = shot(*FADE, "cue: 3, at: 2 s, look: c, fade: 1 s")
    uncut = controls(shot(*FADE), np.array([80]))
    assert np.array_equal(controls(faded, np.array([80])), uncut)
    uv, _ = uv_and_luminance(faded, controls(faded, np.arange(80, 121)))
    assert uv == pytest.approx(uv[0] + (uv[-1] - uv[0]) * np.linspace(0, 1, 41)[:, None], abs=2e-6)


@pytest.mark.parametrize("fade", ["0 s", "0.5 s", "4 s"])
def test_a_part_of_a_colour_that_a_cue_takes_over_leaves_the_rest_on_its_way(fade: str) -> None:
    alone = controls(shot(*FADE))
    cut = controls(shot(*FADE, f"cue: 3, at: 2 s, look: no red, fade: {fade}"))
    assert np.array_equal(cut[:, 1:], alone[:, 1:])
    assert np.array_equal(cut[:40, 0], alone[:40, 0])
    red = cut[40:, 0]
    assert (np.diff(red) <= 0).all()
    if fade != "4 s":
        assert red[-1] == 0
    if fade == "0 s":
        assert (red == 0).all()


def test_parts_of_a_colour_may_be_taken_over_one_after_the_other_and_then_the_whole() -> None:
    looks = LOOKS + "  no green: {wash: {green: 0 %}}\n"
    cues = [
        *FADE,
        "cue: 3, at: 1.5 s, look: no red",
        "cue: 4, at: 2 s, look: no green",
        "cue: 5, at: 2.5 s, look: a, fade: 0.5 s",
    ]
    cut = controls(plan(*cues, head=head("linear"), looks=looks))
    alone = controls(shot(*FADE))
    assert np.array_equal(cut[20:60, 2:], alone[20:60, 2:])
    assert (cut[20:60, 0] == 0).all()
    assert (cut[40:60, 1] == 0).all()
    assert np.array_equal(cut[-1], alone[0])


@pytest.mark.parametrize("cue", ["look: wash c, fade: 1 s", "look: wash c", "look: no red", "look: red, fade: 3 s"])
def test_a_light_of_the_same_kind_that_a_cue_does_not_name_goes_on_to_the_bit(cue: str) -> None:
    alone = shot(*FADE, dimmer=MEASURED).timeline().slots(PACKETS)[:, 0, 15:27]
    beside = shot(*FADE, f"cue: 3, at: 2 s, {cue}", dimmer=MEASURED).timeline().slots(PACKETS)[:, 0, 15:27]
    assert np.array_equal(beside, alone)


@pytest.mark.parametrize("own_dimmer", ["", "intensity 24-bit, "])
def test_a_dark_light_takes_its_colour_at_once(own_dimmer: str) -> None:
    faded = shot("cue: 1, at: 0 s, look: dark", "cue: 2, at: 1 s, look: up, fade: 2 s", own_dimmer=own_dimmer)
    levels = faded.timeline().levels(np.array([0.999, 1.0, 1.5, 3.0]))
    light = faded.patch.fixtures[0]
    intensity = levels[:, light.columns["intensity"]]
    colours = levels[:, [light.columns[name] for name in NAMES]]
    assert intensity.tolist() == [0, 0, 0.25, 1]
    assert not np.array_equal(colours[0], colours[1])
    assert (colours[1:] == colours[3]).all()


def test_of_two_lights_the_dark_one_takes_its_colour_at_once_and_the_lit_one_fades_it() -> None:
    looks = LOOKS + "  one out: {other: out}\n"
    cues = [FADE[0], "cue: 2, at: 0 s, look: one out", "cue: 3, at: 1 s, look: b, fade: 2 s"]
    faded = plan(*cues, head=head("linear"), looks=looks)
    wash, other = faded.patch.fixtures
    levels = faded.timeline().levels(np.array([1.0, 3.0]))
    at = {light.name: levels[:, [light.columns[name] for name in NAMES]] for light in (wash, other)}
    assert np.array_equal(at["other"][0], at["other"][1])
    assert np.array_equal(at["other"][1], at["wash"][1])
    assert not np.array_equal(at["wash"][0], at["wash"][1])


def test_a_light_that_is_never_dark_fades_its_colour_also_from_out() -> None:
    """A light that is out takes its colour at once, where nobody sees it; one that is held is seen."""
    held = head("linear").replace("address: 1.1}", "address: 1.1, never below: 20 %}")
    faded = plan("cue: c0, at: 0 s, look: dark", "cue: c1, at: 1 s, look: up, fade: 2 s", head=held, looks=LOOKS)
    way, free = controls(faded), controls(faded, first_slot=16)
    assert way[0].argmax() == 0  # the red that it was set to while it was out
    assert way[0].max() == pytest.approx(0.2, abs=1e-6)
    assert (np.abs(np.diff(way, axis=0)) < 0.05).all()
    assert way[-1].argmax() == free[1].argmax() == 2
    assert not free[0].any()


# The same packets again.

cues = st.tuples(
    st.integers(0, 80),
    st.sampled_from(["dark", "up", "a", "b", "c", "no red", "red", "wash b", "half"]),
    st.sampled_from([0, 300, 1000, 1777]),
    st.sampled_from(list(CURVES)),
    st.sampled_from(["u'v'", "channels"]),
)


def _drawn(drawn: list[tuple[int, str, int, str, str]], dimmer: str) -> ShotPlan:
    return shot(
        *(
            f"cue: c{n}, at: {at * 25} ms, look: {look}, fade: {fade} ms, curve: {curve}, colour path: {path}"
            for n, (at, look, fade, curve, path) in enumerate(drawn)
        ),
        dimmer=dimmer,
    )


@given(st.lists(cues, min_size=1, max_size=6), st.sampled_from(["linear", "s-curve", MEASURED]), st.data())
@settings(max_examples=times(40))
def test_a_packet_alone_is_to_the_bit_the_same_as_among_all_the_others_and_rendered_again(
    drawn: list[tuple[int, str, int, str, str]], dimmer: str, data: st.DataObject
) -> None:
    timeline, again = _drawn(drawn, dimmer).timeline(), _drawn(drawn, dimmer).timeline()
    slots = timeline.slots(range(timeline.packet_count))
    assert slots.tobytes() == again.slots(range(again.packet_count)).tobytes()
    for packet in data.draw(st.lists(st.integers(0, timeline.packet_count - 1), min_size=1, max_size=10)):
        assert timeline.slots([packet])[0].tobytes() == slots[packet].tobytes()


@given(st.lists(cues, min_size=1, max_size=6), st.sampled_from(["linear", "s-curve", MEASURED]))
@settings(max_examples=times(40))
def test_colours_stay_within_their_channels(drawn: list[tuple[int, str, int, str, str]], dimmer: str) -> None:
    timeline = _drawn(drawn, dimmer).timeline()
    levels = timeline.levels(timeline.times_s(range(timeline.packet_count)))
    assert np.isfinite(levels).all()
    assert levels.min() >= 0
    assert levels.max() <= 1
