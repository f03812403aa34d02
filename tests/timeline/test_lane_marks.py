"""What is to be said about lanes."""

from __future__ import annotations

import pytest

from cuedeck.timeline.lane_marks import lane_marks, largest_step
from tests.tui.shows import opened

RIG = """cuedeck: 1
refresh: 40 Hz
types:
  coarse: {channels: [intensity]}
  fine: {channels: [intensity 16-bit]}
rig:
  coarse: {type: coarse, address: 1.1}
  fine: {type: fine, address: 1.2}
  held: {type: fine, address: 1.4, never above: 50 %}
looks:
  black: {everything: out}
  dim: {coarse: 10 %, fine: 10 %}
  bright: {held: 80 %}
"""
SHOTS = """shots:
  "1":
    length: 12 s
    cues:
      - {cue: 1, at: 0 s, look: black}
      - {cue: 2, at: 1 s, look: dim, fade: 10 s}
      - {cue: 3, at: 11 s, look: bright}
"""


def test_a_slow_fade_steps_on_a_coarse_channel_and_a_limit_holds() -> None:
    """10 % over 10 s is 25 values of 8 bit, each held for 16 packets; full was asked of a lamp kept under half."""
    timeline = opened(SHOTS, RIG).plan("1").timeline()
    marks = lane_marks(timeline, timeline.patch.lights, 13)
    assert marks == {"coarse": " ≡≡≡≡≡≡≡≡≡≡≡ ", "fine": "             ", "held": "           ⊤⊤"}


def test_the_largest_step_of_a_cue_is_in_stops() -> None:
    """The first of 255 values is 2^-7.99 of the light, 3.45 stops above black at the end of the scale."""
    timeline = opened(SHOTS, RIG).plan("1").timeline()
    assert largest_step(timeline, timeline.cues[1]) == pytest.approx(3.45, abs=0.01)
