"""What a look asks of each light."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from cuedeck.rig.check_looks import check_looks
from cuedeck.rig.looks import resolve_look
from cuedeck.rig.patch import build_patch
from cuedeck.rig.types import BUILT_IN
from cuedeck.rig.white import white_scale
from cuedeck.show.load import load_show
from cuedeck.show.problems import Severity
from cuedeck.show.units import parse_number

SHOW = """\
cuedeck: 1
types:
  panel: {channels: [intensity, colour temperature], colour temperature: {low: 2500 K, high: 5000 K}}
  old: {channels: [intensity], dimmer: square}
rig:
  panel: {type: panel, address: 1.1}
  old: {type: old, address: 1.3}
  plain: {type: dimmer, address: 1.4}
  tube: {type: rgb, address: 1.5}
looks:
"""


def asked(looks: str, name: str) -> dict[tuple[str, str], float]:
    """Return what a look sets, without what it leaves as it is."""
    loaded = load_show((SHOW + looks).encode())
    assert loaded.problems == ()
    patch = build_patch(loaded.show)
    values = resolve_look(loaded.show, patch, name)
    return {
        (parameter.fixture, parameter.attribute): float(value)
        for parameter, value in zip(patch.parameters, values, strict=True)
        if not math.isnan(value)
    }


def test_a_light_that_a_look_does_not_name_is_left_as_it_is() -> None:
    assert asked("  a: {plain: 45 %}\n", "a") == {("plain", "intensity"): 0.45}
    assert asked("  a: {}\n", "a") == {}


def test_out_and_full_are_the_ends() -> None:
    assert asked("  a: {plain: out, old: full}\n", "a") == {("plain", "intensity"): 0.0, ("old", "intensity"): 1.0}


def test_everything_is_every_light_and_a_named_light_goes_its_own_way() -> None:
    assert asked("  a: {plain: 45 %, everything: out}\n", "a") == {
        ("panel", "intensity"): 0.0,
        ("old", "intensity"): 0.0,
        ("plain", "intensity"): 0.45,
        ("tube", "intensity"): 0.0,
    }


def test_a_look_like_another_starts_from_it() -> None:
    looks = "  a: {plain: 10 %, old: 20 %}\n  b: {like: a, old: 30 %}\n  c: {like: b, panel: 40 %}\n"
    assert asked(looks, "c") == {
        ("plain", "intensity"): 0.1,
        ("old", "intensity"): 0.3,
        ("panel", "intensity"): 0.4,
    }


def test_everything_in_a_look_covers_what_it_is_like() -> None:
    looks = "  a: {plain: 10 %}\n  b: {like: a, everything: out}\n"
    assert asked(looks, "b")[("plain", "intensity")] == 0.0


def test_looks_in_a_circle_still_resolve() -> None:
    looks = "  a: {like: b, plain: 10 %}\n  b: {like: a, plain: 20 %, old: 30 %}\n"
    assert asked(looks, "a") == {("plain", "intensity"): 0.1, ("old", "intensity"): 0.3}


def test_percent_is_control_whatever_the_dimmer() -> None:
    assert asked("  a: {plain: 50 %, old: 50 %}\n", "a") == {("plain", "intensity"): 0.5, ("old", "intensity"): 0.5}


def test_two_stops_under_full_is_a_quarter_of_the_light() -> None:
    # Stops arithmetic: log2 of 1/4 is -2. A square law dimmer gives a quarter of the light at half control
    # (shape: common in dimmer literature; formula from memory).
    assert asked("  a: {plain: -2 stop, old: -2 stop}\n", "a") == pytest.approx(
        {("plain", "intensity"): 0.25, ("old", "intensity"): 0.5}
    )


def test_stops_reach_the_line_through_the_dimmer() -> None:
    loaded = load_show((SHOW + "  a: {plain: -2 stop, old: -2 stop}\n").encode())
    patch = build_patch(loaded.show)
    levels = np.nan_to_num(resolve_look(loaded.show, patch, "a"), nan=0.0)[None]
    assert patch.encode(levels)[0, 0, :4].tolist() == [0, 0, 128, 64]


def test_a_colour_temperature_lies_along_the_mired_scale() -> None:
    # Mired = 1e6 / K: 2500 K is 400, 5000 K is 200; 4000 K is 250, three quarters of the way.
    assert asked("  a: {panel: {colour: 4000 K}}\n", "a") == pytest.approx({("panel", "colour temperature"): 0.75})
    assert asked("  a: {panel: {colour: 2500 K}}\n", "a") == {("panel", "colour temperature"): 0.0}
    assert asked("  a: {panel: {colour: 5000 K}}\n", "a") == {("panel", "colour temperature"): 1.0}


@given(st.floats(2700, 6500))
def test_a_colour_temperature_comes_back_from_its_place_in_the_range(kelvin: float) -> None:
    ends = BUILT_IN["two-tone"].colour_temperature
    assert ends is not None
    assert white_scale(ends).kelvin_at(white_scale(ends).position_of(kelvin)) == pytest.approx(kelvin)


def test_emitters_are_driven_by_name() -> None:
    assert asked("  a: {tube: {level: -1 stop, red: 20 %, blue: 0 %}}\n", "a") == {
        ("tube", "intensity"): 0.5,
        ("tube", "red"): 0.2,
        ("tube", "blue"): 0.0,
    }


@given(st.decimals(min_value=-40, max_value=0, places=2).map(str))
def test_a_stop_less_is_half_the_light(stops: str) -> None:
    light = asked(f"  a: {{plain: {stops} stop}}\n", "a")[("plain", "intensity")]
    control = asked(f"  a: {{old: {stops} stop}}\n", "a")[("old", "intensity")]
    assert math.log2(light) == pytest.approx(float(parse_number(stops)), abs=1e-9)
    assert control * control == pytest.approx(light)


@pytest.mark.parametrize(
    ("look", "place", "what", "cure", "severity"),
    [
        (
            "{panel: {red: 5 %}}",
            "11:15",
            "'panel' is of type 'panel' and has no red emitter",
            "take it out",
            Severity.ERROR,
        ),
        (
            "{tube: {white: 5 %}}",
            "11:14",
            "'tube' is of type 'rgb' and has no white emitter",
            "write one of 'red', 'green', 'blue'",
            Severity.ERROR,
        ),
        (
            "{tube: {colour: 5600 K}}",
            "11:14",
            "which colours the emitters of 'tube' have is not known",
            "set them instead (red: 100 %, green: 100 %, blue: 100 %), or give its type 'emitters:'"
            " with x, y and luminance of each",
            Severity.ERROR,
        ),
        (
            "{plain: {colour: 5600 K}}",
            "11:15",
            "'plain' is of type 'dimmer' and has no colour",
            "take it out",
            Severity.ERROR,
        ),
        (
            "{panel: {levl: 45 %}}",
            "11:15",
            "'panel' is of type 'panel' and has no channel 'levl'",
            "write 'level'",
            Severity.ERROR,
        ),
        (
            "{panel: {colour: 5600 K}}",
            "11:23",
            "'panel' reaches 2500 K to 5000 K, not 5600 K; it will give 5000 K",
            "write 5000 K, or use another light",
            Severity.WARNING,
        ),
    ],
)
def test_what_a_light_cannot_do_is_reported_where_it_is_asked(
    look: str, place: str, what: str, cure: str, severity: Severity
) -> None:
    loaded = load_show(f"{SHOW}  a: {look}\n  lit: {{everything: full}}\n".encode())
    (problem,) = check_looks(loaded, build_patch(loaded.show))
    found = f"{problem.place.line}:{problem.place.column}"
    assert (found, problem.what, problem.cure, problem.severity) == (place, what, cure, severity)


@pytest.mark.parametrize("level", ["", "level: , "])
def test_a_light_with_a_colour_and_no_level_is_warned_of_since_it_stays_dark(level: str) -> None:
    loaded = load_show(f"{SHOW}  a: {{tube: {{{level}red: 100 %}}}}\n  b: {{tube: out}}\n".encode())
    (problem,) = check_looks(loaded, build_patch(loaded.show))
    assert problem.what == "'tube' is given a colour, and no look gives it a level: it stays dark"
    assert problem.cure == "add a level, such as {level: full, ...}"
    assert (problem.place.line, problem.place.column, problem.severity) == (11, 7, Severity.WARNING)


def test_a_colour_out_of_reach_is_clamped_to_the_nearest_end() -> None:
    assert asked("  a: {panel: {colour: 9000 K}}\n", "a") == {("panel", "colour temperature"): 1.0}
