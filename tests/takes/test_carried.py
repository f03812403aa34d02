"""Lists of packet numbers, kept short."""

from __future__ import annotations

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cuedeck.takes.carried import numbers_of, read_runs, runs_of


@given(st.lists(st.integers(0, 4_000_000)))
def test_any_list_comes_back(numbers: list[int]) -> None:
    assert numbers_of(read_runs(json.dumps(runs_of(numbers)), 1_000_000)).tolist() == numbers


@pytest.mark.parametrize(
    ("numbers", "runs"),
    [
        ([], []),
        ([7], [(7, 0, 1)]),
        ([0, 0, 0, 1, 2, 3], [(0, 0, 3), (1, 1, 3)]),
        ([9, 8, 7, 7, 7], [(9, -1, 3), (7, 0, 2)]),
        ([0, 2, 4], [(0, 2, 3)]),
    ],
)
def test_numbers_that_run_evenly_are_one_run(numbers: list[int], runs: list[tuple[int, int, int]]) -> None:
    assert runs_of(numbers) == runs


def test_an_hour_at_an_even_speed_is_one_run() -> None:
    assert runs_of(range(158_400)) == [(0, 1, 158_400)]
