"""Curves: their shapes, the way back from a place to its time, and that one table names them everywhere."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import ValidationError

from cuedeck.light.curves import CURVE_HINT, CURVES, EASES, Curve, Shape, linear, minimum_jerk, minimum_jerk_inverse
from cuedeck.show.model import Cue, MoveKeys


@given(st.floats(0, 1))
def test_the_time_comes_back_from_the_progress(progress: float) -> None:
    share = minimum_jerk_inverse(progress)
    assert float(minimum_jerk(np.array([share]))[0]) == pytest.approx(progress, abs=1e-12)


def test_the_linear_shape_is_the_share_itself() -> None:
    assert linear(np.array([0.0, 0.25, 1.0])).tolist() == [0.0, 0.25, 1.0]


@pytest.mark.parametrize("curve", CURVES.values(), ids=CURVES)
def test_a_curve_runs_from_black_to_full_and_its_scale_and_shape_have_inverses(curve: Curve) -> None:
    shares = np.linspace(0, 1, 101)
    shaped = curve.shape.at(shares)
    assert (shaped[0], shaped[-1]) == (0, 1)
    assert (np.diff(shaped) > 0).all()
    # A shape that is flat at its ends gives its shares back to a third of the digits there.
    assert [curve.shape.inverse(one) for one in shaped.tolist()] == pytest.approx(
        shares.tolist(), abs=1e-5
    )  # flat at its ends
    if curve.scale is not None:
        assert curve.scale.to_light(curve.scale.from_light(shares)) == pytest.approx(shares, abs=1e-12)


@pytest.mark.parametrize("shape", EASES.values(), ids=EASES)
def test_the_peaks_of_a_shape_are_those_of_its_derivatives(shape: Shape) -> None:
    """Central differences of the shape itself, as numpy.gradient takes them."""
    shares = np.linspace(0, 1, 10_001)
    rates = np.gradient(shape.at(shares), shares)
    peak, share = shape.peak_rate
    assert rates.max() == pytest.approx(peak, rel=1e-6)
    assert rates[round(share * 10_000)] == pytest.approx(peak, rel=1e-6)
    if shape.peak_acceleration is None:
        assert np.ptp(rates) < 1e-9
        return
    accelerations = np.gradient(rates, shares)
    peak, share = shape.peak_acceleration
    assert accelerations.max() == pytest.approx(peak, rel=1e-4)
    assert accelerations[round(share * 10_000)] == pytest.approx(peak, rel=1e-4)


def test_a_cue_and_a_move_take_the_names_of_the_table_and_no_others() -> None:
    cue = {"cue": "1", "at": "0 s", "look": "a"}
    assert [Cue.model_validate({**cue, "curve": name}).curve for name in CURVES] == list(CURVES)
    assert Cue.model_validate(cue).curve == next(iter(CURVES))
    keys = [{"time": "0 s", "slide": "0 mm"}, {"time": "1 s", "slide": "9 mm"}]
    assert [MoveKeys.model_validate({"keys": keys, "ease": name}).ease for name in EASES] == list(EASES)
    for wrong in ({**cue, "curve": "even"}, {**cue, "curve": "Linear"}):
        with pytest.raises(ValidationError):
            Cue.model_validate(wrong)
    with pytest.raises(ValidationError):
        MoveKeys.model_validate({"keys": keys, "ease": "even stops"})


def test_what_is_said_of_the_curves_names_each_and_where_black_counts() -> None:
    assert all(name in CURVE_HINT for name in CURVES)
    assert "black counts as -11.44 stop" in CURVE_HINT  # ten stops under full and 1/ln 2 more
    assert CURVE_HINT in (Cue.model_fields["curve"].description or "")
    readme = (Path(__file__).parents[2] / "README.md").read_text(encoding="utf-8")
    assert all(f"`{name}`" in readme for name in CURVES)
