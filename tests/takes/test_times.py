"""Where a take stood still, from when its packets were due and when they left."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest

from cuedeck.takes.times import PacketTimes, standstills

START_NS = 7_000_000_000
LATE_NS = 2_000_000


def times(numbers: list[int], refresh_hz: Fraction) -> PacketTimes:
    """Return the times of packets that are all 2 ms late."""
    due = [START_NS + number * 1_000_000_000 * refresh_hz.denominator // refresh_hz.numerator for number in numbers]
    due_ns = np.array(due, np.int64)
    return PacketTimes(due_ns, due_ns + LATE_NS)


@pytest.mark.parametrize("refresh_hz", [Fraction(44), Fraction(20), Fraction(30000, 1001)])
def test_a_gap_counts_from_when_the_first_missed_packet_was_due_to_when_one_left_again(refresh_hz: Fraction) -> None:
    left = [*range(100), *range(190, 300)]
    (still,) = standstills(times(left, refresh_hz), refresh_hz)
    assert (still.before, still.first, still.last) == (100, 100, 189)
    assert still.lasted_s == pytest.approx(float(90 / refresh_hz) + 0.002, abs=1e-6)


def test_what_a_busy_computer_misses_is_no_standstill() -> None:
    assert not list(standstills(times([0, 1, 2, 5, 6, 8, 9], Fraction(44)), Fraction(44)))


def test_each_of_several_is_told() -> None:
    left = [*range(10), *range(60, 70), *range(200, 210)]
    found = list(standstills(times(left, Fraction(44)), Fraction(44)))
    assert [(one.first, one.last) for one in found] == [(10, 59), (70, 199)]
    assert str(found[0]) == "for 1.1 s, packets 10-59 were missed"


@pytest.mark.parametrize("left", [[], [0], [0, 1, 2]])
def test_a_take_without_a_gap_stood_nowhere(left: list[int]) -> None:
    assert not list(standstills(times(left, Fraction(44)), Fraction(44)))
