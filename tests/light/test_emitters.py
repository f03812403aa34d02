"""The drives of a light of several emitters: on the colour, as bright as can be, and nearest where it can't."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from cuedeck.light.chromaticity import Xy
from cuedeck.light.emitters import Emitters
from tests.light.lights import Reading, chromaticities, lights, mixtures, readings, uv_prime_of, uv_prime_of_each


def brightest_by_linprog(emitters: Emitters, target: Xy) -> float:
    """Return the luminance, relative to all at full, that SciPy's HiGHS finds for a chromaticity; 0 where none."""
    from scipy.optimize import linprog  # it takes long to load, and each worker collects this file

    x, y = target
    xyz = emitters.xyz / emitters.xyz[1].sum()
    in_proportion = np.array([xyz[0] * y - xyz[1] * x, xyz[2] * y - xyz[1] * (1 - x - y)])
    options = {"primal_feasibility_tolerance": 1e-10, "dual_feasibility_tolerance": 1e-10}
    found = linprog(
        -xyz[1], A_eq=in_proportion, b_eq=[0, 0], bounds=[(0, 1)] * xyz.shape[1], method="highs", options=options
    )
    assert found.success
    return float(-found.fun)


@given(st.data(), lights)
def test_a_mixture_of_the_emitters_is_in_gamut_and_reached(data: st.DataObject, emitters: Emitters) -> None:
    target = emitters.chromaticity(data.draw(mixtures(emitters)))
    assert target is not None
    solution = emitters.solve(target)
    assert solution.in_gamut
    assert solution.distance_uv < 1e-8
    assert emitters.chromaticity(solution.amounts) == pytest.approx(target, abs=1e-7)
    assert solution.reached_xy == pytest.approx(target, abs=1e-7)


@given(st.data(), lights)
def test_no_mixture_of_the_same_colour_is_brighter(data: st.DataObject, emitters: Emitters) -> None:
    amounts = data.draw(mixtures(emitters))
    target = emitters.chromaticity(amounts)
    assert target is not None
    assert emitters.solve(target).luminance >= float(emitters.luminance(amounts)) * (1 - 1e-9)


@given(lights, chromaticities)
def test_it_is_as_bright_as_a_solver_of_linear_programs_finds(emitters: Emitters, target: Xy) -> None:
    solution = emitters.solve(target)
    if solution.in_gamut:
        assert solution.luminance == pytest.approx(brightest_by_linprog(emitters, target), rel=1e-6)
    else:
        assert brightest_by_linprog(emitters, target) == pytest.approx(0.0, abs=1e-6)


@given(st.data(), lights)
def test_it_is_as_bright_as_a_solver_of_linear_programs_finds_for_mixtures(
    data: st.DataObject, emitters: Emitters
) -> None:
    target = emitters.chromaticity(data.draw(mixtures(emitters)))
    assert target is not None
    assert emitters.solve(target).luminance == pytest.approx(brightest_by_linprog(emitters, target), rel=1e-6)


@given(lights, chromaticities)
def test_amounts_are_from_nothing_to_full_and_at_most_two_are_between(emitters: Emitters, target: Xy) -> None:
    amounts = emitters.solve(target).amounts
    assert ((amounts >= 0) & (amounts <= 1)).all()
    assert ((amounts > 1e-9) & (amounts < 1 - 1e-9)).sum() <= 2
    assert amounts.max() == pytest.approx(1.0)


@given(lights, chromaticities)
def test_a_colour_out_of_gamut_gives_the_nearest_mixture(emitters: Emitters, target: Xy) -> None:
    """The nearest point of a convex set is the one from which no other lies on the target's side (projection)."""
    solution = emitters.solve(target)
    wanted, reached = uv_prime_of(target), uv_prime_of(solution.reached_xy)
    assert solution.distance_uv == pytest.approx(float(np.hypot(*(wanted - reached))), abs=1e-12)
    assert solution.in_gamut == (solution.distance_uv <= 1e-9)
    assert uv_prime_of(emitters.chromaticity(solution.amounts)) == pytest.approx(reached, abs=1e-8)
    ahead = (uv_prime_of_each(emitters) - reached) @ (wanted - reached)
    assert (ahead <= 1e-9).all()


@given(lights, chromaticities)
def test_the_nearest_mixture_is_given_at_its_brightest(emitters: Emitters, target: Xy) -> None:
    solution = emitters.solve(target)
    assert emitters.solve(solution.reached_xy).luminance == pytest.approx(solution.luminance, rel=1e-6)


@given(readings, chromaticities, st.randoms(use_true_random=False))
def test_the_order_of_the_emitters_changes_no_light(drawn: list[Reading], target: Xy, order: object) -> None:
    shuffled = list(drawn)
    order.shuffle(shuffled)  # type: ignore[attr-defined]
    one, other = Emitters.measured(drawn).solve(target), Emitters.measured(shuffled).solve(target)
    assert other.luminance == pytest.approx(one.luminance, rel=1e-7)
    assert uv_prime_of(other.reached_xy) == pytest.approx(uv_prime_of(one.reached_xy), abs=1e-8)


@given(readings.filter(lambda drawn: len(drawn) <= 4), chromaticities)
def test_of_two_alike_the_first_is_driven_fullest(drawn: list[Reading], target: Xy) -> None:
    amounts = Emitters.measured(drawn + drawn).solve(target).amounts
    first, second = amounts[: len(drawn)], amounts[len(drawn) :]
    for n, reading in enumerate(drawn):
        if drawn.count(reading) == 1 and second[n] > 1e-8:
            assert first[n] == pytest.approx(1.0, abs=1e-8)


@given(readings.filter(lambda drawn: len(drawn) <= 4), chromaticities)
def test_twice_the_emitters_give_the_same_colour_and_share_of_light(drawn: list[Reading], target: Xy) -> None:
    once, twice = Emitters.measured(drawn).solve(target), Emitters.measured(drawn + drawn).solve(target)
    assert twice.luminance == pytest.approx(once.luminance, rel=1e-7)
    assert twice.in_gamut == once.in_gamut


RED, GREEN, BLUE, WHITE = (0.69, 0.31, 20.0), (0.17, 0.70, 60.0), (0.14, 0.05, 6.0), (0.33, 0.34, 100.0)


def test_two_whites_on_one_point_share_what_a_colour_needs_first_come() -> None:
    emitters = Emitters.measured([RED, GREEN, BLUE, WHITE, WHITE])
    amounts = emitters.solve((0.28, 0.27)).amounts
    assert amounts[[2, 3]] == pytest.approx([1.0, 1.0])
    assert 0.0 < amounts[4] < 1.0


def test_a_single_emitter_gives_its_own_colour_whatever_is_asked_for() -> None:
    solution = Emitters.measured([WHITE]).solve((0.45, 0.41))
    assert solution.amounts.tolist() == [1.0]
    assert solution.reached_xy == pytest.approx((0.33, 0.34))
    assert not solution.in_gamut


def test_an_emitters_own_colour_takes_it_alone_where_it_is_a_corner() -> None:
    solution = Emitters.measured([RED, GREEN, BLUE, WHITE]).solve(BLUE[:2])
    assert solution.in_gamut
    assert solution.amounts == pytest.approx([0.0, 0.0, 1.0, 0.0], abs=1e-8)


def test_emitters_on_one_line_mix_what_lies_between_them() -> None:
    # Warm and cool white with a third on the line between: all three reach their middle.
    emitters = Emitters.measured([(0.45, 0.41, 80.0), (0.31, 0.33, 80.0), (0.38, 0.37, 80.0)])
    solution = emitters.solve((0.38, 0.37))
    assert solution.in_gamut
    assert solution.amounts[2] == pytest.approx(1.0)
    assert solution.luminance > 0.9


def test_dark_amounts_have_no_chromaticity_and_no_light() -> None:
    emitters = Emitters.measured([RED, GREEN, BLUE])
    assert emitters.chromaticity(np.zeros(3)) is None
    assert emitters.luminance(np.zeros(3)) == 0.0
    assert emitters.weight(np.zeros(3)) == 0.0


def test_luminance_and_weight_take_many_amounts_at_once() -> None:
    emitters = Emitters.measured([RED, GREEN, BLUE])
    amounts = np.array([[1.0, 0.0, 0.0], [0.0, 0.5, 1.0], [1.0, 1.0, 1.0]])
    assert emitters.luminance(amounts) == pytest.approx([20 / 86, 36 / 86, 1.0])
    assert emitters.weight(amounts) == pytest.approx([float(emitters.weight(row)) for row in amounts])


@pytest.mark.parametrize(
    ("drawn", "words"),
    [
        ([], "one to 8 emitters, not 0"),
        ([WHITE] * 9, "one to 8 emitters, not 9"),
        ([RED, (0.3, 0.0, 5.0)], "no emitter has x 0.3, y 0.0"),
        ([(0.6, 0.5, 5.0)], "no emitter has x 0.6, y 0.5"),
        ([(0.3, 0.3, 0.0)], "luminance 0.0"),
    ],
)
def test_readings_of_no_light_are_refused(drawn: list[Reading], words: str) -> None:
    with pytest.raises(ValueError, match=words):
        Emitters.measured(drawn)
