"""Monotone cubic curves beside another implementation of the same method, and their inverse."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from cuedeck.arrays import Values
from cuedeck.light.monotone import MonotoneCubic

Points = list[tuple[float, float]]
EPSILON = float(np.finfo(np.float64).eps)


@st.composite
def rising(draw: st.DrawFn, level: bool = False) -> Points:
    """Points on 0 to 1 in both directions; with `level`, some neighbours are at one height."""
    count = draw(st.integers(2, 12))
    steps = draw(st.lists(st.integers(1, 1000), min_size=count - 1, max_size=count - 1))
    rises = draw(st.lists(st.integers(0 if level else 1, 1000), min_size=count - 1, max_size=count - 1))
    x, y = np.append(0, np.cumsum(steps)), np.append(0, np.cumsum(rises))
    return list(zip((x / x[-1]).tolist(), (y / max(y[-1], 1)).tolist(), strict=True))


def steepest(curve: MonotoneCubic) -> float:
    return float(np.max(3 * np.diff(curve.y) / np.diff(curve.x)))


def between(points: Points) -> Values:
    x = np.array([x for x, _ in points])
    return np.sort(np.concatenate([np.linspace(0, 1, 301), x, np.nextafter(x, 2).clip(0, 1)]))


@given(rising(level=True))
def test_it_has_the_values_of_another_implementation_of_the_same_method(points: Points) -> None:
    from scipy import interpolate  # it takes long to load, and each worker collects this file

    # scipy.interpolate.PchipInterpolator: Fritsch and Butland 1984, end slopes after Moler 2004.
    x = between(points)
    expected = interpolate.PchipInterpolator(*zip(*points, strict=True))(x)
    assert MonotoneCubic.through(points).at(x) == pytest.approx(expected, rel=0, abs=1e-12)


@given(rising())
def test_it_meets_every_point_exactly_both_ways(points: Points) -> None:
    curve = MonotoneCubic.through(points)
    x, y = (np.array(part) for part in zip(*points, strict=True))
    assert curve.at(x).tolist() == y.tolist()
    assert curve.inverse(y).tolist() == x.tolist()


@given(rising(level=True))
def test_it_never_falls(points: Points) -> None:
    heights = MonotoneCubic.through(points).at(between(points))
    assert np.diff(heights).min() >= -2 * EPSILON  # one rounding of a height near 1


@given(rising())
def test_its_inverse_never_falls(points: Points) -> None:
    curve = MonotoneCubic.through(points)
    found = curve.inverse(np.linspace(0, 1, 1001))
    assert np.diff(found).min() >= 0


@given(rising(level=True), st.lists(st.floats(0, 1), min_size=1, max_size=50))
def test_a_height_comes_back_from_where_it_was_found(points: Points, heights: list[float]) -> None:
    curve = MonotoneCubic.through(points)
    asked = np.array(heights) * curve.y[-1]
    # x itself is rounded, to half an epsilon of 1: what is left is that, times the steepest slope.
    assert np.abs(curve.at(curve.inverse(asked)) - asked).max() <= EPSILON * (2 + steepest(curve))


def test_ten_percent_steps_come_back_within_one_part_in_a_thousand_million_million() -> None:
    curve = MonotoneCubic.through([(n / 10, (n / 10) ** 2) for n in range(11)])
    asked = np.linspace(0, 1, 100_001)
    assert np.abs(curve.at(curve.inverse(asked)) - asked).max() <= 1e-15


@given(rising(level=True))
def test_a_level_stretch_comes_back_as_its_lowest_end(points: Points) -> None:
    curve = MonotoneCubic.through(points)
    lowest: dict[float, float] = {}
    for x, y in points:
        lowest.setdefault(y, x)
    assert curve.inverse(np.array(list(lowest))).tolist() == list(lowest.values())


def test_just_above_a_level_stretch_lies_past_it() -> None:
    curve = MonotoneCubic.through([(0.0, 0.0), (0.2, 0.0), (0.6, 0.5), (1.0, 1.0)])
    found = curve.inverse(np.array([0.0, 5e-324, 1e-300, 1e-12]))
    assert found[0] == 0.0
    assert (found[1:] >= 0.2).all()
    assert found[3] == pytest.approx(0.2, abs=1e-5)


def test_beyond_its_points_it_stays_at_the_last_one() -> None:
    curve = MonotoneCubic.through([(0.2, 0.1), (0.5, 0.3), (0.8, 0.9)])
    assert curve.at(np.array([-1.0, 0.0, 1.0])).tolist() == [0.1, 0.1, 0.9]
    assert curve.inverse(np.array([-1.0, 0.0, 1.0])).tolist() == [0.2, 0.2, 0.8]


def test_two_points_make_a_straight_line() -> None:
    curve = MonotoneCubic.through([(0.0, 0.0), (1.0, 3.0)])
    assert curve.at(np.array([0.25, 0.5])).tolist() == [0.75, 1.5]
    assert curve.inverse(np.array([0.75, 1.5])).tolist() == [0.25, 0.5]


@given(rising(level=True), st.integers(0, 2**32 - 1))
def test_a_value_has_the_same_bits_alone_and_in_any_array(points: Points, random: int) -> None:
    curve = MonotoneCubic.through(points)
    asked = np.random.default_rng(random).random((7, 5))
    found = curve.inverse(asked)
    assert found.shape == asked.shape
    assert found.tolist() == [[float(curve.inverse(np.array(one))) for one in row] for row in asked]
    longer = np.concatenate([np.zeros(16_380), asked.ravel()])
    assert curve.inverse(longer)[16_380:].tolist() == found.ravel().tolist()


def test_the_inverse_in_exact_arithmetic() -> None:
    # Fractions, no rounding: at the x that is found, 3 x^2 - 2 x^3 lies within half a step of x of what was asked.
    from fractions import Fraction

    curve = MonotoneCubic((0.0, 1.0), (0.0, 1.0), (0.0, 0.0))
    asked = np.array([1e-9, 0.001, 0.15625, 0.3, 0.5, 0.7, 0.84375, 0.999])
    for y, x in zip(asked.tolist(), curve.inverse(asked).tolist(), strict=True):
        exact = 3 * Fraction(x) ** 2 - 2 * Fraction(x) ** 3
        assert abs(float(exact - Fraction(y))) <= 4 * EPSILON * y


def test_curves_through_the_same_points_are_the_same() -> None:
    points = [(0.0, 0.0), (0.5, 0.2), (1.0, 1.0)]
    one, other = MonotoneCubic.through(points), MonotoneCubic.through(list(points))
    one.at(np.array([0.3]))
    assert one == other
    assert hash(one) == hash(other)
    assert one != MonotoneCubic.through([(0.0, 0.0), (0.5, 0.3), (1.0, 1.0)])
