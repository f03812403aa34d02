"""The look sheet says in numbers what each look makes of each light."""

from __future__ import annotations

import math

import pytest

from cuedeck.rig.patch import build_patch
from cuedeck.rig.sheet import LookRow, look_rows
from cuedeck.show.model import Show

SRGB = {
    "red": {"x": "0.64", "y": "0.33", "luminance": "0.2126"},
    "green": {"x": "0.30", "y": "0.60", "luminance": "0.7152"},
    "blue": {"x": "0.15", "y": "0.06", "luminance": "0.0722"},
}
"""IEC 61966-2-1, as quoted in an ICC note."""


def rows(looks: dict[str, object], look: str = "a") -> dict[str, LookRow]:
    show = Show.model_validate(
        {
            "cuedeck": "2",
            "types": {
                "old": {"channels": ["intensity"], "dimmer": "square"},
                "tube": {"channels": ["red", "green", "blue"], "emitters": SRGB},
            },
            "rig": {
                "old": {"type": "old", "address": "1.1"},
                "tube": {"type": "tube", "address": "1.2"},
                "panel": {"type": "two-tone", "address": "1.5"},
            },
            "looks": looks,
        }
    )
    return {row.fixture: row for row in look_rows(show, build_patch(show), look)}


def test_a_level_is_told_as_control_and_as_stops_through_the_dimmer() -> None:
    found = rows({"a": {"old": "50 %"}})["old"]
    # Half control of a square law is a quarter of the light (shape: dimmer literature; formula from memory).
    assert (found.control, found.stops) == (0.5, -2.0)


def test_a_level_past_a_limit_is_told_as_it_is_reached_beside_what_was_asked() -> None:
    show = Show.model_validate(
        {
            "cuedeck": "2",
            "rig": {
                "fill": {"type": "dimmer", "address": "1.1", "never above": "-1 stop"},
                "hmi": {"type": "dimmer", "address": "1.2", "never below": "25 %"},
            },
            "looks": {"a": {"fill": "full", "hmi": "out"}},
        }
    )
    fill, hmi = look_rows(show, build_patch(show), "a")
    assert (fill.control, fill.asked_control, fill.stops) == (0.5, 1.0, -1.0)
    assert (hmi.control, hmi.asked_control, hmi.stops) == (0.25, 0.0, -2.0)


def test_out_is_no_light_at_all() -> None:
    assert rows({"a": {"old": "out"}})["old"].stops == -math.inf


def test_a_light_that_the_look_leaves_alone_is_not_listed_and_a_level_left_alone_is_none() -> None:
    found = rows({"a": {"panel": {"colour": "3200 K"}}})
    assert list(found) == ["panel"]
    assert (found["panel"].control, found["panel"].stops) == (None, None)


def test_the_white_that_is_reached_is_told_with_its_duv() -> None:
    # D65 is 6504 K, Duv +0.0032 (Ohno 2013; computed with colour-science 0.4.7, see reference: CCT/Duv).
    white = rows({"a": {"tube": {"level": "full", "colour": "sRGB 255 255 255"}}})["tube"].white
    assert white is not None
    assert white.kelvin == pytest.approx(6504, abs=3)
    assert white.duv == pytest.approx(0.0032, abs=1e-4)


def test_white_of_the_screen_drives_the_screens_own_primaries_to_full() -> None:
    channels = rows({"a": {"tube": {"level": "full", "colour": "xy 0.3127 0.3290"}}})["tube"].channels
    assert channels == pytest.approx({"red": 1.0, "green": 1.0, "blue": 1.0}, abs=2e-3)


def test_a_colour_out_of_reach_tells_how_far_off_it_stays() -> None:
    mixture = rows({"a": {"tube": {"level": "full", "colour": "xy 0.7 0.29"}}})["tube"].mixture
    assert mixture is not None
    assert not mixture.is_reached
    # The nearest point must be at most as far as the red primary itself (distance in CIE 1976 u'v').
    uv = [(4 * x / (-2 * x + 12 * y + 3), 9 * y / (-2 * x + 12 * y + 3)) for x, y in ((0.64, 0.33), (0.7, 0.29))]
    assert 0.01 < mixture.distance_uv <= math.dist(*uv) + 1e-12


def test_emitters_set_by_hand_after_a_colour_leave_no_colour_to_compare_with() -> None:
    looks = {"a": {"like": "b", "tube": {"red": "20 %"}}, "b": {"tube": {"level": "full", "colour": "5600 K"}}}
    found = rows(looks)["tube"]
    assert (found.colour, found.mixture) == (None, None)
    assert found.channels["red"] == 0.2
