"""Hue and saturation lead to red, green and blue and back."""

from __future__ import annotations

import colorsys

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from cuedeck.arrays import Values
from cuedeck.light.screen import hue_and_saturation_from_rgb, rgb_from_hue_and_saturation

colours = arrays(np.float64, (4, 3), elements=st.floats(0.0, 1.0))
shares = arrays(np.float64, (4,), elements=st.floats(0.0, 1.0))


@given(colours)
def test_hue_and_saturation_are_those_of_the_standard_library(rgb: Values) -> None:
    hue, saturation = hue_and_saturation_from_rgb(rgb)
    for n, row in enumerate(rgb):
        expected_hue, expected_saturation, _ = colorsys.rgb_to_hsv(*row)
        assert abs((hue[n] - expected_hue + 0.5) % 1.0 - 0.5) < 1e-9
        assert saturation[n] == pytest.approx(expected_saturation, abs=1e-12)


@given(shares, shares)
def test_red_green_and_blue_are_those_of_the_standard_library(hue: Values, saturation: Values) -> None:
    rgb = rgb_from_hue_and_saturation(hue, saturation)
    expected = [colorsys.hsv_to_rgb(h, s, 1.0) for h, s in zip(hue, saturation, strict=True)]
    assert rgb == pytest.approx(np.array(expected), abs=1e-12)


@given(shares, shares)
def test_a_colour_comes_back_from_its_hue_and_saturation(hue: Values, saturation: Values) -> None:
    rgb = rgb_from_hue_and_saturation(hue, saturation)
    assert rgb_from_hue_and_saturation(*hue_and_saturation_from_rgb(rgb)) == pytest.approx(rgb, abs=1e-12)


@given(colours)
def test_hue_stays_under_a_whole_turn(rgb: Values) -> None:
    hue, saturation = hue_and_saturation_from_rgb(rgb)
    assert ((hue >= 0) & (hue < 1)).all()
    assert ((saturation >= 0) & (saturation <= 1)).all()


def test_white_and_black_have_no_hue() -> None:
    hue, saturation = hue_and_saturation_from_rgb(np.array([[1.0, 1.0, 1.0], [0.0, 0.0, 0.0]]))
    assert hue.tolist() == [0.0, 0.0]
    assert saturation.tolist() == [0.0, 0.0]


def test_a_hair_under_red_is_not_a_whole_turn() -> None:
    hue, _ = hue_and_saturation_from_rgb(np.array([1.0, 0.0, 1e-18]))
    assert hue == 0.0
