"""The three diagrams of the CIE lead to one another and back."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cuedeck.light.chromaticity import (
    Xy,
    is_possible,
    uv_1960_from_xy,
    uv_prime_from_xy,
    xy_from_uv_1960,
    xy_from_uv_prime,
    xy_from_xyz,
    xyz_from_xy,
)


@st.composite
def possible_xy(draw: st.DrawFn) -> Xy:
    y = draw(st.floats(0.001, 1.0))
    return draw(st.floats(0.0, 1.0)) * (1.0 - y), y


@given(possible_xy())
def test_a_chromaticity_comes_back_from_either_diagram(xy: Xy) -> None:
    assert xy_from_uv_prime(uv_prime_from_xy(xy)) == pytest.approx(xy, abs=1e-12)
    assert xy_from_uv_1960(uv_1960_from_xy(xy)) == pytest.approx(xy, abs=1e-12)


@given(possible_xy(), st.floats(1e-6, 1e6))
def test_a_chromaticity_comes_back_from_light_of_any_luminance(xy: Xy, luminance: float) -> None:
    xyz = xyz_from_xy(xy, luminance)
    assert xyz[1] == luminance
    assert xy_from_xyz(xyz) == pytest.approx(xy, abs=1e-12)


def test_no_light_has_no_chromaticity() -> None:
    assert xy_from_xyz((0.0, 0.0, 0.0)) is None


def test_light_without_luminance_is_refused() -> None:
    with pytest.raises(ValueError, match="y = 0"):
        xyz_from_xy((0.3, 0.0), 1.0)


@given(possible_xy())
def test_what_x_and_y_add_up_to_at_most_1_is_possible(xy: Xy) -> None:
    assert is_possible(xy) == (xy[0] + xy[1] <= 1)


@pytest.mark.parametrize("xy", [(0.6, 0.41), (-0.01, 0.3), (0.3, 0.0), (0.3, -0.1), (float("nan"), 0.3)])
def test_x_and_y_of_no_light_are_told(xy: Xy) -> None:
    assert not is_possible(xy)
