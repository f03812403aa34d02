"""The minimum-jerk profile 10 s^3 - 15 s^4 + 6 s^5: Flash and Hogan, Journal of Neuroscience 5(7), 1985, from memory.

Numbers are computed from the polynomial: its peaks are 15/8 d/T at half time and 10/sqrt 3 d/T^2 at (3 -+ sqrt 3)/6.
"""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from cuedeck.light.curves import minimum_jerk

# Samples s -> x, computed.
SAMPLES = [
    (0.0, 0.0),
    (0.1, 0.00856),
    (0.2, 0.05792),
    (0.25, 0.103516),
    (0.3, 0.16308),
    (0.4, 0.31744),
    (0.5, 0.5),
    (0.75, 0.896484),
    (0.9, 0.99144),
    (1.0, 1.0),
]
# Speeds x' T/d at some of them, computed.
SPEEDS = [(0.1, 0.243), (0.2, 0.768), (0.25, 1.054688), (0.3, 1.323), (0.4, 1.728), (0.5, 1.875)]
H = 1e-3


def speed(share: np.ndarray) -> np.ndarray:
    h = 1e-6
    return (minimum_jerk(share + h) - minimum_jerk(share - h)) / (2 * h)


def acceleration(share: np.ndarray) -> np.ndarray:
    return (minimum_jerk(share + H) - 2 * minimum_jerk(share) + minimum_jerk(share - H)) / H**2


@pytest.mark.parametrize(("share", "progress"), SAMPLES)
def test_position(share: float, progress: float) -> None:
    assert float(minimum_jerk(np.array([share]))[0]) == pytest.approx(progress, abs=5e-7)


@pytest.mark.parametrize(("share", "progress"), SPEEDS)
def test_speed(share: float, progress: float) -> None:
    assert float(speed(np.array([share]))[0]) == pytest.approx(progress, abs=1e-6)


def test_the_peak_speed_is_1_875_d_by_t_at_half_time() -> None:
    shares = np.linspace(0.001, 0.999, 9_981)
    speeds = speed(shares)
    assert speeds.max() == pytest.approx(1.875, abs=1e-6)
    assert shares[speeds.argmax()] == pytest.approx(0.5, abs=2e-4)


def test_the_peak_acceleration_is_5_7735_d_by_t_squared_at_two_places() -> None:
    # 10 / sqrt 3 at (3 - sqrt 3) / 6 = 0.2113 and, braking, at (3 + sqrt 3) / 6 = 0.7887.
    shares = np.linspace(H, 1 - H, 9_981)
    accelerations = acceleration(shares)
    assert accelerations.max() == pytest.approx(5.7735, abs=2e-4)
    assert accelerations.min() == pytest.approx(-5.7735, abs=2e-4)
    assert shares[accelerations.argmax()] == pytest.approx(0.2113, abs=1e-3)
    assert shares[accelerations.argmin()] == pytest.approx(0.7887, abs=1e-3)


def test_it_starts_and_ends_with_neither_speed_nor_acceleration() -> None:
    ends = np.array([0.0, 1.0])
    assert speed(ends) == pytest.approx([0, 0], abs=1e-8)
    assert acceleration(ends) == pytest.approx([0, 0], abs=1e-4)


@given(st.floats(0, 1))
def test_the_second_half_mirrors_the_first(share: float) -> None:
    there, back = minimum_jerk(np.array([share, 1 - share]))
    assert there + back == pytest.approx(1, abs=1e-12)
