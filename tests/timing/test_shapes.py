"""Shapes of a move, and the way back from a place to its time."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from cuedeck.timing.shapes import linear, minimum_jerk, minimum_jerk_inverse


@given(st.floats(0, 1))
def test_the_time_comes_back_from_the_progress(progress: float) -> None:
    share = minimum_jerk_inverse(progress)
    assert float(minimum_jerk(np.array([share]))[0]) == pytest.approx(progress, abs=1e-12)


def test_the_linear_shape_is_the_share_itself() -> None:
    assert linear(np.array([0.0, 0.25, 1.0])).tolist() == [0.0, 0.25, 1.0]
