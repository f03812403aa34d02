"""Colour of white light: mired, the Planckian locus, and how a screen shows it."""

from __future__ import annotations


def mired_from_kelvin(kelvin: float) -> float:
    """Return micro reciprocal degrees: one million over the colour temperature."""
    return 1e6 / kelvin


def planckian_xy(kelvin: float) -> tuple[float, float]:
    """Return the CIE 1931 chromaticity of a black body, 1667 to 25000 K (clamped beyond).

    Formula: the cubic approximation of Kang and others (2002).
    """
    t = min(max(kelvin, 1667.0), 25000.0)
    if t <= 4000:
        x = -0.2661239e9 / t**3 - 0.2343589e6 / t**2 + 0.8776956e3 / t + 0.179910
    else:
        x = -3.0258469e9 / t**3 + 2.1070379e6 / t**2 + 0.2226347e3 / t + 0.240390
    if t <= 2222:
        y = -1.1063814 * x**3 - 1.34811020 * x**2 + 2.18555832 * x - 0.20219683
    elif t <= 4000:
        y = -0.9549476 * x**3 - 1.37418593 * x**2 + 2.09137015 * x - 0.16748867
    else:
        y = 3.0817580 * x**3 - 5.87338670 * x**2 + 3.75112997 * x - 0.37001483
    return x, y


def screen_colour_of_white(kelvin: float) -> tuple[float, float, float]:
    """Return red, green and blue (sRGB, encoded, 0 to 1, the largest 1) that show a colour temperature."""
    x, y = planckian_xy(kelvin)
    big_x, big_z = x / y, (1 - x - y) / y
    linear = (
        3.2406 * big_x - 1.5372 - 0.4986 * big_z,
        -0.9689 * big_x + 1.8758 + 0.0415 * big_z,
        0.0557 * big_x - 0.2040 + 1.0570 * big_z,
    )
    top = max(linear)
    red, green, blue = (screen_value_of_light(max(part, 0.0) / top) for part in linear)
    return red, green, blue


def screen_value_of_light(light: float) -> float:
    """Return the sRGB encoding (IEC 61966-2-1) of a linear value, both 0 to 1."""
    return 12.92 * light if light <= 0.0031308 else 1.055 * light ** (1 / 2.4) - 0.055
