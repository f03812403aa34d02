"""Dimming curves beside a table of them. No standard fixes these: common practice, no source; formulas from memory.

Linear x, square law x^2, S curve 3x^2 - 2x^3.
"""

from __future__ import annotations

import numpy as np
import pytest

from cuedeck.rig.dimmer import DIMMERS

CONTROL = [0.0, 0.1, 0.25, 0.5, 0.75, 0.9, 1.0]
LIGHT = {
    "linear": [0.0, 0.1, 0.25, 0.5, 0.75, 0.9, 1.0],
    "square": [0.0, 0.01, 0.0625, 0.25, 0.5625, 0.81, 1.0],
    "s-curve": [0.0, 0.028, 0.15625, 0.5, 0.84375, 0.972, 1.0],
}


@pytest.mark.parametrize("name", LIGHT)
def test_light_at_a_control_value(name: str) -> None:
    assert DIMMERS[name].light_from_control(np.array(CONTROL)) == pytest.approx(LIGHT[name], rel=0, abs=1e-15)


@pytest.mark.parametrize("name", LIGHT)
def test_control_for_an_amount_of_light(name: str) -> None:
    assert DIMMERS[name].control_from_light(np.array(LIGHT[name])) == pytest.approx(CONTROL, rel=0, abs=1e-15)
