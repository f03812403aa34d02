"""The numbers of an outlet: over stretches, and the rate."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cuedeck.output.tally import Tally, rate_hz

counts = st.integers(0, 1000)
steps = st.tuples(counts, counts, st.lists(st.sampled_from("abc"), max_size=3), st.sampled_from(["", "gone"]))


def after(tally: Tally, step: tuple[int, int, list[str], str]) -> Tally:
    """Return the tally after something more was done."""
    sent, missed, told, lost = step
    incidents = (*tally.incidents, *told)
    return Tally("out", tally.sent + sent, tally.missed + missed, len(incidents), lost, 44.0, incidents)


@given(steps, steps, steps)
def test_a_stretch_is_what_was_done_in_it(
    first: tuple[int, int, list[str], str],
    second: tuple[int, int, list[str], str],
    third: tuple[int, int, list[str], str],
) -> None:
    start = after(Tally("out", 0, 0, 0, "", 0.0), first)
    middle = after(start, second)
    end = after(middle, third)
    one, other, both = middle - start, end - middle, end - start
    assert (one.sent, one.missed, list(one.incidents)) == second[:3]
    assert (both.sent, both.missed) == (one.sent + other.sent, one.missed + other.missed)
    assert both.times_lost == one.times_lost + other.times_lost
    assert both.incidents == one.incidents + other.incidents
    assert (both.lost, both.refresh_hz) == (end.lost, end.refresh_hz)
    assert end - end == Tally("out", 0, 0, 0, end.lost, end.refresh_hz)
    assert both - one == other


def test_losses_that_are_no_longer_kept_are_still_counted() -> None:
    stretch = Tally("out", 0, 0, 500, "", 0.0, ("b", "c")) - Tally("out", 0, 0, 10, "", 0.0, ("a", "b"))
    assert (stretch.times_lost, stretch.incidents) == (490, ("b", "c"))


def test_tallies_of_two_outputs_have_no_difference() -> None:
    with pytest.raises(ValueError, match=r"^a tally of one was to be taken from one of another$"):
        Tally("another", 0, 0, 0, "", 0.0) - Tally("one", 0, 0, 0, "", 0.0)


@given(st.integers(1_200_000, 400_000_000), st.integers(0, 10**12), st.floats(0, 1))
def test_the_rate_of_an_even_line_is_exact_wherever_it_is_asked_for(period_ns: int, first_ns: int, at: float) -> None:
    left_ns = [first_ns + number * period_ns for number in range(2 + 2_000_000_000 // period_ns)]
    asked_ns = left_ns[-1] + int(at * period_ns)
    assert rate_hz(left_ns, asked_ns) == pytest.approx(1e9 / period_ns, rel=1e-6)


def test_the_rate_falls_when_nothing_leaves() -> None:
    left_ns = [number * 25_000_000 for number in range(41)]
    rates = [rate_hz(left_ns, 1_000_000_000 + pause_ms * 1_000_000) for pause_ms in (0, 25, 100, 500, 900, 1000)]
    assert rates[:2] == [40.0, 40.0]
    assert rates == sorted(rates, reverse=True)
    assert rates[-1] == 0.0


def test_nothing_and_a_single_packet_have_no_rate() -> None:
    assert rate_hz([], 5) == 0.0
    assert rate_hz([5], 5) == 0.0
    assert rate_hz([5, 5], 5) == 0.0
