"""Channels that jump: when in a fade they do, and that they never stand between two values."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cuedeck.light.curves import CURVES
from cuedeck.timeline.plan import ShotPlan
from tests.timeline.shows import plan, slots_of
from tests.tools import times

RANGES = "ranges: {open: 0-10, slow: 11-100, fast: 101-255}"
"""Their middles are 5, 55.5, which goes up to 56, and 178."""
HEAD = f"""\
cuedeck: 1
refresh: 40 Hz
slots: 24
types:
  spot:
    channels:
      - intensity
      - {{channel: strobe, {RANGES}}}
      - {{channel: wheel, {RANGES}, snap: middle}}
      - {{channel: prism, {RANGES}, snap: end}}
      - {{channel: fan, default: 20 %}}
rig: {{spot: {{type: spot, address: 1.1}}}}
"""
"""Packet n is for n x 25 ms."""
MODES = ("strobe", "wheel", "prism")
LOOKS = """\
looks:
  open: {spot: {level: full, strobe: open, wheel: open, prism: open, fan: 20 %}}
  slow: {spot: {level: full, strobe: slow, wheel: slow, prism: slow, fan: 60 %}}
  fast: {spot: {level: full, strobe: fast, wheel: fast, prism: fast}}
  dim: {spot: 50 %}
"""
OPEN, SLOW, FAST = 5, 56, 178
FIRST = "cue: 1, at: 0 s, look: open"


def modes(shot: ShotPlan, *packets: int) -> list[list[int]]:
    """Return strobe, wheel and prism in some packets."""
    return [slots[1:4] for slots in slots_of(shot, packets, 4)]


def shot(*cues: str) -> ShotPlan:
    return plan(*cues, head=HEAD, looks=LOOKS)


@pytest.mark.parametrize("curve", list(CURVES))
def test_a_channel_jumps_at_the_start_in_the_middle_or_at_the_end_of_a_fade(curve: str) -> None:
    faded = shot(FIRST, f"cue: 2, at: 1 s, look: slow, fade: 2 s, curve: {curve}")
    assert modes(faded, 39, 40, 79, 80, 119, 120) == [
        [OPEN, OPEN, OPEN],
        [SLOW, OPEN, OPEN],
        [SLOW, OPEN, OPEN],
        [SLOW, SLOW, OPEN],
        [SLOW, SLOW, OPEN],
        [SLOW, SLOW, SLOW],
    ]


def test_without_a_fade_every_channel_jumps_at_once() -> None:
    assert modes(shot(FIRST, "cue: 2, at: 1 s, look: slow"), 39, 40) == [[OPEN] * 3, [SLOW] * 3]


def test_a_channel_that_jumps_at_the_end_of_a_long_eased_fade_does_not_jump_before_it() -> None:
    # Minimum jerk is 1 to the last bit long before a fade of a day has ended.
    faded = shot(FIRST, "cue: 2, at: 0 s, look: slow, fade: 86400 s, curve: ease")
    end = 86400 * 40
    assert modes(faded, end // 2 - 1, end // 2, end - 1, end) == [
        [SLOW, OPEN, OPEN],
        [SLOW, SLOW, OPEN],
        [SLOW, SLOW, OPEN],
        [SLOW, SLOW, SLOW],
    ]


def test_a_cue_on_the_level_alone_does_not_keep_a_channel_from_its_jump() -> None:
    for fade in ("0 s", "0.2 s", "5 s"):
        faded = shot(FIRST, "cue: 2, at: 1 s, look: slow, fade: 2 s", f"cue: 3, at: 1.5 s, look: dim, fade: {fade}")
        assert modes(faded, 79, 80, 119, 120) == [
            [SLOW, OPEN, OPEN],
            [SLOW, SLOW, OPEN],
            [SLOW, SLOW, OPEN],
            [SLOW, SLOW, SLOW],
        ]


def test_a_cue_that_comes_before_the_jump_takes_its_place() -> None:
    # Cue 3 fades from 1.5 s to 2.5 s: its middle is packet 80, its end packet 100.
    faded = shot(FIRST, "cue: 2, at: 1 s, look: slow, fade: 2 s", "cue: 3, at: 1.5 s, look: fast, fade: 1 s")
    assert modes(faded, 59, 60, 79, 80, 99, 100, 120) == [
        [SLOW, OPEN, OPEN],
        [FAST, OPEN, OPEN],
        [FAST, OPEN, OPEN],
        [FAST, FAST, OPEN],
        [FAST, FAST, OPEN],
        [FAST, FAST, FAST],
        [FAST, FAST, FAST],
    ]


def test_a_cue_that_comes_after_the_jump_leaves_from_there() -> None:
    # Cue 3 fades from 2.5 s to 3.5 s: its middle is packet 120, its end packet 140.
    faded = shot(FIRST, "cue: 2, at: 1 s, look: slow, fade: 2 s", "cue: 3, at: 2.5 s, look: fast, fade: 1 s")
    assert modes(faded, 99, 100, 119, 120, 139, 140) == [
        [SLOW, SLOW, OPEN],
        [FAST, SLOW, OPEN],
        [FAST, SLOW, OPEN],
        [FAST, FAST, OPEN],
        [FAST, FAST, OPEN],
        [FAST, FAST, FAST],
    ]


def test_a_cue_without_a_fade_during_a_fade_jumps_all_of_them() -> None:
    faded = shot(FIRST, "cue: 2, at: 1 s, look: slow, fade: 2 s", "cue: 3, at: 1.5 s, look: fast")
    assert modes(faded, 59, 60, 80, 120) == [[SLOW, OPEN, OPEN], *[[FAST] * 3] * 3]


def test_a_channel_of_the_lights_own_that_is_no_mode_fades() -> None:
    # From 20 % to 60 %: 51, 76.5, 102, 153 of 255.
    faded = shot(FIRST, "cue: 2, at: 1 s, look: slow, fade: 2 s")
    assert [slots[4] for slots in slots_of(faded, [0, 40, 60, 80, 120], 5)] == [51, 51, 77, 102, 153]


def test_a_dark_light_still_jumps_and_fades_what_is_no_colour() -> None:
    looks = "looks:\n  a: {spot: {level: out, strobe: slow, wheel: slow, fan: 60 %}}\n"
    faded = plan("cue: 1, at: 1 s, look: a, fade: 2 s", head=HEAD, looks=looks)
    assert [slots[1:5] for slots in slots_of(faded, [40, 80], 5)] == [[SLOW, 0, 0, 51], [SLOW, SLOW, 0, 102]]


MIXED_HEAD = """\
cuedeck: 1
refresh: 40 Hz
slots: 24
types:
  wash:
    channels: [intensity, {channel: red, snap: SNAP}, green]
    emitters: {red: {x: 0.69, y: 0.31, luminance: 20}, green: {x: 0.17, y: 0.70, luminance: 60}}
rig: {wash: {type: wash, address: 1.1}}
"""


@pytest.mark.parametrize(("snap", "packet"), [("start", 40), ("middle", 80), ("end", 120)])
def test_an_emitter_that_jumps_is_no_part_of_a_mixture(snap: str, packet: int) -> None:
    looks = "looks:\n  a: {wash: {level: full, red: 0 %, green: 0 %}}\n  b: {wash: {red: 100 %, green: 100 %}}\n"
    faded = plan(
        "cue: 1, at: 0 s, look: a",
        "cue: 2, at: 1 s, look: b, fade: 2 s",
        head=MIXED_HEAD.replace("SNAP", snap),
        looks=looks,
    )
    red, green = np.array(slots_of(faded, range(121), 3))[:, 1:].T
    assert red.tolist() == [0] * packet + [255] * (121 - packet)
    assert green[[40, 60, 80, 120]].tolist() == [0, 64, 128, 255]


cues = st.tuples(
    st.integers(0, 120),
    st.sampled_from(["open", "slow", "fast", "dim"]),
    st.sampled_from([0, 50, 333, 1000, 2500]),
    st.sampled_from(list(CURVES)),
)


@given(st.lists(cues, min_size=1, max_size=6))
@settings(max_examples=times(60))
def test_in_every_packet_a_mode_has_a_value_that_a_look_gave_it_and_changes_once_a_cue_at_most(
    drawn: list[tuple[int, str, int, str]],
) -> None:
    drawn_shot = shot(
        *(
            f"cue: c{number}, at: {packet * 25} ms, look: {look}, fade: {fade} ms, curve: {curve}"
            for number, (packet, look, fade, curve) in enumerate(drawn)
        )
    )
    timeline = drawn_shot.timeline()
    # One packet more: a fade may end after the last packet of its shot.
    values = timeline.slots(range(timeline.packet_count + 1))[:, 0, 1:4].astype(int)
    assert set(np.unique(values).tolist()) <= {0, OPEN, SLOW, FAST}
    assert ((np.diff(values, axis=0) != 0).sum(axis=0) <= len(drawn)).all()
    last = [look for _, look, _, _ in sorted(drawn, key=lambda cue: cue[0]) if look != "dim"][-1:]
    assert values[-1].tolist() == [{"open": OPEN, "slow": SLOW, "fast": FAST}[look] for look in last * 3] or not last
