"""Stops and fades through a dimmer that was measured, checked at the lamp rather than at the curve."""

from __future__ import annotations

import hashlib
import os
import subprocess
import sys

import numpy as np
import pytest

from cuedeck.light.curves import CURVES
from cuedeck.timeline.plan import ShotPlan
from tests.rig.rigs import MEASURED
from tests.timeline.shows import plan

GAMMA = 2.2
"""The law of the lamp, which the tests know and cuedeck does not (common practice, no source)."""
READINGS = ", ".join(f"{5 * n} %: {5000 * (n / 20) ** GAMMA:.6f} lux" for n in range(21))


def head(dimmer: str, channels: str = "intensity 24-bit") -> str:
    return f"""\
cuedeck: 1
refresh: 40 Hz
slots: 24
types: {{lamp: {{channels: [{channels}], dimmer: {{{dimmer}}}}}}}
rig: {{lamp: {{type: lamp, address: 1.1}}}}
"""


LOOKS = "looks: {full: {lamp: full}, quarter: {lamp: -2 stop}, low: {lamp: -4 stop}, black: {lamp: out}}\n"
DOWN = ("cue: 1, at: 0 s, look: full", "cue: 2, at: 1 s, look: low, fade: 4 s, curve: even stops")


def light_at_the_meter(shot: ShotPlan, *packets: int) -> list[float]:
    """Return the light of the lamp, 1 at full, in some packets."""
    slots = shot.timeline().slots(list(packets))[:, 0, :3].astype(float)
    return [float(value) for value in (slots @ [65536, 256, 1] / 16777215) ** GAMMA]


@pytest.mark.parametrize("channels", ["intensity 24-bit", "red 24-bit"])
def test_two_stops_under_full_are_a_quarter_of_the_light_at_the_meter(channels: str) -> None:
    shot = plan("cue: 1, at: 0 s, look: quarter", head=head(READINGS, channels), looks=LOOKS)
    (light,) = light_at_the_meter(shot, 0)
    assert np.log2(light) == pytest.approx(-2, abs=0.005)


def test_a_quarter_that_was_read_itself_is_sent_exactly() -> None:
    readings = "0 %: 0, 20 %: 100 lux, 60 %: 1302.5 lux, 100 %: 5210 lux"
    shot = plan("cue: 1, at: 0 s, look: quarter", head=head(readings, "intensity"), looks=LOOKS)
    assert shot.timeline().slots([0])[0, 0, 0] == 153  # 60 % of 255


@pytest.mark.parametrize("channels", ["intensity 24-bit", "red 24-bit"])
def test_an_even_stops_fade_loses_one_stop_at_the_meter_in_each_second(channels: str) -> None:
    shot = plan(*DOWN, head=head(READINGS, channels), looks=LOOKS)
    light = light_at_the_meter(shot, 40, 80, 120, 160, 200)
    assert np.log2(light) == pytest.approx([0, -1, -2, -3, -4], abs=0.01)


def test_an_even_stops_fade_through_any_readings_moves_evenly_on_their_curve() -> None:
    shot = plan(*DOWN, head=head(MEASURED[1:-1]), looks=LOOKS)
    timeline = shot.timeline()
    levels = timeline.levels(timeline.times_s(range(40, 201)))[:, 0]
    stops = np.log2(shot.patch.fixtures[0].dimmer.light_from_control(levels))
    assert np.diff(stops) == pytest.approx([-4 / 160] * 160, abs=1e-9)


def test_percent_is_control_also_through_a_measured_dimmer() -> None:
    looks = "looks: {half: {lamp: 50 %}}\n"
    shot = plan("cue: 1, at: 0 s, look: half", head=head(READINGS, "intensity"), looks=looks)
    assert shot.timeline().slots([0])[0, 0, 0] == 128


@pytest.mark.parametrize("curve", list(CURVES))
def test_a_fade_through_a_measured_dimmer_ends_at_black_and_at_full_exactly(curve: str) -> None:
    cues = [
        "cue: 1, at: 0 s, look: full, fade: 1 s, curve: even stops",
        f"cue: 2, after: 1, look: black, fade: 1 s, curve: {curve}",
        f"cue: 3, after: 2, look: full, fade: 1 s, curve: {curve}",
    ]
    assert light_at_the_meter(plan(*cues, head=head(READINGS), looks=LOOKS), 0, 40, 80, 120) == [0, 1, 0, 1]


RENDER = """
import hashlib
from tests.timeline.test_measured_dimmers import shot_of_everything
print(hashlib.sha256(shot_of_everything()).hexdigest())
"""


def shot_of_everything() -> bytes:
    """Return all packets of a shot in which colours cross, levels fade and modes jump through measured dimmers."""
    emitters = "emitters: {red: {x: 0.69, y: 0.31, luminance: 20}, green: {x: 0.17, y: 0.70, luminance: 60}}"
    show = f"""\
cuedeck: 1
slots: 64
types:
  wash: {{channels: [red 16-bit, green 16-bit, amber], dimmer: {MEASURED}, {emitters}}}
  spot: {{channels: [intensity, {{channel: wheel, ranges: {{a: 0-9, b: 10-99}}, snap: middle}}, hue, saturation]}}
rig:
  one: {{type: wash, address: 1.1}}
  two: {{type: wash, address: 1.6}}
  spot: {{type: spot, address: 1.11}}
"""
    looks = """\
looks:
  a: {everything: {level: 90 %, colour: xy 0.6 0.35}, spot: {wheel: a}}
  b: {everything: {level: -3 stop, colour: xy 0.25 0.6}, spot: {wheel: b}}
"""
    cues = ["cue: 1, at: 0 s, look: a", "cue: 2, at: 0.3 s, look: b, fade: 3 s, curve: even stops"]
    timeline = plan(*cues, "cue: 3, at: 1 s, look: a, fade: 1 s, curve: ease", head=show, looks=looks).timeline()
    return b"".join(slots.tobytes() for _, slots in timeline.blocks())


@pytest.mark.parametrize("hash_seed", ["1", "2"])
def test_another_process_renders_the_same_bytes(hash_seed: str) -> None:
    environment = {**os.environ, "PYTHONHASHSEED": hash_seed}
    rendered = subprocess.run(
        [sys.executable, "-c", RENDER], env=environment, capture_output=True, text=True, check=True
    )
    assert rendered.stdout.strip() == hashlib.sha256(shot_of_everything()).hexdigest()
