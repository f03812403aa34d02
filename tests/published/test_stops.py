"""Stops: a stop is a factor of two of light. Each row names what it was taken from."""

from __future__ import annotations

import pytest

from cuedeck.light.scales import ratio_from_stops, stops_from_ratio


@pytest.mark.parametrize(
    ("ratio", "stops"),
    [
        # Computed: the base-2 logarithm.
        (1.0, 0.0),
        (2.0, 1.0),
        (1.5, 0.585),
        (3.0, 1.585),
        (4.0, 2.0),
        (8.0, 3.0),
        (10.0, 3.322),
        (1.25, 0.322),
        (0.1, -3.322),
        (2**0.5, 0.5),
        # Inverse square law: 3x as far is 1/9, 5x is 1/25; from memory, as stage lighting primers work it.
        (1 / 9, -3.17),
        (1 / 25, -4.644),
        # Bellows factor (1 + m)^2: US Army course SS0512 (18 inches on a 12 inch lens: 2.25); the rest computed.
        (1.21, 0.275),
        (1.5625, 0.644),
        (2.25, 1.17),
        (16.0, 4.0),
    ],
)
def test_stops_of_a_ratio(ratio: float, stops: float) -> None:
    assert stops_from_ratio(ratio) == pytest.approx(stops, abs=5e-4)
    assert ratio_from_stops(stops) == pytest.approx(ratio, rel=4e-4)


# Light at exposure values -2 to 15 for ISO 100: E = 2.5 * 2^EV lux, with C = 250 of ISO 2720:1974, computed.
LUX_AT_EV = [0.625, 1.25, 2.5, 5, 10, 20, 40, 80, 160, 320, 640, 1280, 2560, 5120, 10240, 20480, 40960, 81920]


def test_one_exposure_value_is_one_stop() -> None:
    assert [stops_from_ratio(lux / 2.5) for lux in LUX_AT_EV] == list(range(-2, 16))


# Lens stops in thirds from f/1 to two places: 2^(k/6), computed; light goes as 1/N^2.
THIRDS = [1.00, 1.12, 1.26, 1.41, 1.59, 1.78, 2.00, 2.24, 2.52, 2.83, 3.17, 3.56, 4.00, 4.49, 5.04, 5.66]


@pytest.mark.parametrize(("thirds", "number"), enumerate(THIRDS))
def test_a_third_of_a_lens_stop_is_a_third_of_a_stop(thirds: int, number: float) -> None:
    # A number printed to two places is off by up to 0.005, that is 0.0144 stop at f/1.
    assert -stops_from_ratio(1 / number**2) == pytest.approx(thirds / 3, abs=0.0145)
