"""Lists of packet numbers kept short: timecode runs evenly, so its packets are rows with one step.

A run is (first, step, count). Its text in the file of takes is a JSON list of such lists.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence

import numpy as np

from cuedeck.arrays import Numbers

Run = tuple[int, int, int]
_LARGEST = 2**53


def runs_of(numbers: Sequence[int]) -> list[Run]:
    """Return the runs of a list of numbers, in order, each as long as it can be."""
    runs: list[Run] = []
    start = 0
    while start < len(numbers):
        first = numbers[start]
        step = numbers[start + 1] - first if start + 1 < len(numbers) else 0
        end = start + 1
        while end < len(numbers) and numbers[end] - numbers[end - 1] == step:
            end += 1
        runs.append((first, step, end - start))
        start = end
    return runs


def numbers_of(runs: Iterable[Run]) -> Numbers:
    """Return the numbers that some runs stand for."""
    parts = [first + step * np.arange(count, dtype=np.int64) for first, step, count in runs]
    return np.concatenate(parts) if parts else np.array([], dtype=np.int64)


def read_runs(text: str, most: int) -> tuple[Run, ...]:
    """Return the runs of such a text, which may hold anything. Raises ValueError."""
    rows = json.loads(text) if text else []
    if not isinstance(rows, list) or not all(_is_run(row) for row in rows):
        raise ValueError("is no list of runs")
    if sum(row[2] for row in rows) > most:
        raise ValueError(f"has more than {most} packets")
    return tuple((first, step, count) for first, step, count in rows)


def _is_run(row: object) -> bool:
    if not isinstance(row, list) or len(row) != 3 or not all(type(one) is int for one in row):
        return False
    first, step, count = (int(one) for one in row)
    return abs(first) < _LARGEST and count > 0 and abs(step) * count < _LARGEST
