"""Timecode as a signal."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from cuedeck.timing.ltc.encode import encode, sample_count
from cuedeck.timing.timecode import TimecodeRate
from tests.timing.ltc.signals import frame, signal


@pytest.mark.parametrize("sample_rate_hz", [44_100, 48_000, 192_000])
@pytest.mark.parametrize("fps", ["23.976", "24", "25", "29.97df", "30"])
def test_every_edge_is_where_it_must_be_for_twelve_seconds_and_across_its_blocks(fps: str, sample_rate_hz: int) -> None:
    rate = TimecodeRate.parse(fps)
    first = frame("00:50:00:00", fps)
    count = int(12 * rate.frames_per_second)
    samples = np.concatenate(list(encode(first, count, sample_rate_hz, 0.0)))
    data = b"".join(replace(first, label=first.label + number).to_bytes() for number in range(count))
    halves = np.ones(160 * count + 1, dtype=bool)
    halves[1::2] = np.unpackbits(np.frombuffer(data, np.uint8), bitorder="little")
    step = sample_rate_hz / rate.frames_per_second / 160
    places = np.flatnonzero(halves) * (step.numerator / step.denominator)
    before = np.searchsorted(places, np.arange(len(samples)))
    nearest = np.minimum(
        np.abs(places[np.maximum(before - 1, 0)] - np.arange(len(samples))),
        np.abs(places[np.minimum(before, len(places) - 1)] - np.arange(len(samples))),
    )
    is_clear = nearest > 1e-3
    assert ((samples > 0) == (before % 2 == 1))[is_clear].all()
    flat = nearest > 40e-6 * sample_rate_hz
    assert np.abs(np.abs(samples[flat]) - 1).max() < 1e-6


@pytest.mark.parametrize("count", [1, 249, 250, 251, 600])
def test_a_signal_has_as_many_samples_as_it_says(count: int) -> None:
    for sample_rate_hz in (44_100, 48_000):
        rate = TimecodeRate.parse("29.97df")
        assert len(signal("01:00:00:00", "29.97df", count, sample_rate_hz)) == sample_count(count, rate, sample_rate_hz)


@pytest.mark.parametrize("level_dbfs", [-40.0, -18.0, 0.0])
def test_the_level_is_that_of_the_crests(level_dbfs: float) -> None:
    samples = signal("01:00:00:00", "25", 10, level_dbfs=level_dbfs)
    assert 20 * np.log10(np.abs(samples).max()) == pytest.approx(level_dbfs, abs=1e-4)


def test_a_signal_has_no_offset() -> None:
    samples = signal("01:00:00:00", "25", 100, level_dbfs=0.0)
    assert abs(samples[:-24].mean()) < 1e-3
