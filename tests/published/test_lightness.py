"""CIE 1976 lightness L*, against CIE e-ILV 17-23-076."""

from __future__ import annotations

import numpy as np
import pytest

from cuedeck.light.scales import light_from_lightness, lightness_from_light

# CIE e-ILV 17-23-076: L* = 116 f(Y/Yn) - 16, f the cube root above (6/29)^3, a straight line below.
# Rows computed from that formula; the long one is printed in the documentation of a colour science library.
LIGHTNESS_OF_PERCENT = [
    (0.0, 0.0),
    (1.0, 8.9914),
    (5.0, 26.7348),
    (10.0, 37.8424),
    (18.0, 49.4961),
    (18.4187, 50.0),
    (20.0, 51.8372),
    (50.0, 76.0693),
    (90.0, 95.9968),
    (100.0, 100.0),
]
PERCENT_OF_LIGHTNESS = [(1.0, 0.1107), (8.0, 0.8856), (25.0, 4.4155), (50.0, 18.4187), (75.0, 48.2781), (90.0, 76.3034)]


@pytest.mark.parametrize(("percent", "lightness"), LIGHTNESS_OF_PERCENT)
def test_lightness_of_light(percent: float, lightness: float) -> None:
    assert float(lightness_from_light(np.array([percent / 100]))[0]) == pytest.approx(lightness, abs=6e-5)


def test_lightness_of_light_to_seven_places() -> None:
    assert float(lightness_from_light(np.array([0.1219722535]))[0]) == pytest.approx(41.5278758, abs=5e-8)


@pytest.mark.parametrize(("lightness", "percent"), PERCENT_OF_LIGHTNESS)
def test_light_of_lightness(lightness: float, percent: float) -> None:
    assert 100 * float(light_from_lightness(np.array([lightness]))[0]) == pytest.approx(percent, abs=6e-5)


def test_near_black_lightness_is_a_straight_line() -> None:
    # CIE e-ILV 17-23-076: slope (29/3)^3 = 903.2963 up to (6/29)^3 = 0.008856, where L* is 8.
    lightness = lightness_from_light(np.array([0.001, 0.002, 0.004, (6 / 29) ** 3]))
    assert lightness == pytest.approx([0.9032963, 1.8065926, 3.6131852, 8.0], abs=5e-7)
