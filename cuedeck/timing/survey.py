"""A survey of a move: its sample rate, gaps, peak speeds, and where noise makes a pass ambiguous.

Peaks of a recording are taken from its samples as they are, so that noise is in them; those of a move that
is written out follow from its profile.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import pairwise
from statistics import median

import numpy as np

from cuedeck.arrays import Values
from cuedeck.light.curves import EASES
from cuedeck.timing.moves import Axis, Move

NOISE_SAMPLES = 10
"""A position that is passed again within so many samples is passed by noise, or at a turn: which pass is meant?"""
GAP_STEPS = 1.5
"""A step so many times as long as the usual one is a gap: at least one sample was lost."""


@dataclass(frozen=True)
class Peak:
    """The most of something, and when."""

    value: float
    time_s: float


@dataclass(frozen=True)
class NoisyInterval:
    """A part of a recording in which noise passes positions more than once."""

    start_s: float
    end_s: float
    low: float
    high: float


@dataclass(frozen=True)
class AxisSurvey:
    """One axis: how far, how fast, and where its crossings are ambiguous. Millimetres or degrees, seconds."""

    axis: Axis
    peak_speed: Peak
    peak_acceleration: Peak | None
    """None where the axis jumps from one speed to the next."""
    noisy: tuple[NoisyInterval, ...]


@dataclass(frozen=True)
class MoveSurvey:
    """A move: how it was sampled, and its axes."""

    samples: int | None
    """None for a move that is written out."""
    rate_hz: float | None
    gaps: tuple[tuple[float, float], ...]
    """From which sample to which, in seconds, others are missing."""
    axes: tuple[AxisSurvey, ...]


def survey(move: Move, is_recorded: bool) -> MoveSurvey:
    if not is_recorded:
        return MoveSurvey(None, None, (), tuple(_written(axis) for axis in move.axes.values()))
    times_s = next(iter(move.axes.values())).times_s
    axes = tuple(_recorded(axis) for axis in move.axes.values())
    return MoveSurvey(len(times_s), 1 / usual_step_s(times_s), tuple(_gaps(times_s)), axes)


def usual_step_s(times_s: Values) -> float:
    """Return the time from one sample to the next, the median of all."""
    steps_s: list[float] = np.diff(times_s).tolist()
    return median(steps_s)  # that of numpy first loads what nothing else here needs


def fastest(axis: Axis) -> Peak:
    """Return the most speed of an axis, in mm or deg a second, and when the part with it begins."""
    rate, _ = EASES[axis.ease].peak_rate
    return _peak(rate * np.diff(axis.positions) / np.diff(axis.times_s), axis.times_s[:-1])


def _gaps(times_s: Values) -> Iterator[tuple[float, float]]:
    steps = np.diff(times_s)
    for index in np.flatnonzero(steps > GAP_STEPS * usual_step_s(times_s)).tolist():
        yield float(times_s[index]), float(times_s[index + 1])


def _peak(values: Values, times_s: Values) -> Peak:
    if not len(values):
        return Peak(0.0, 0.0)
    index = int(np.argmax(np.abs(values)))
    return Peak(abs(float(values[index])), float(times_s[index]))


def _recorded(axis: Axis) -> AxisSurvey:
    steps_s = np.diff(axis.times_s)
    middles_s = axis.times_s[:-1] + steps_s / 2
    speeds = np.diff(axis.positions) / steps_s
    accelerations = np.diff(speeds) / np.diff(middles_s)
    noisy = tuple(_merged(_zigzags(axis), NOISE_SAMPLES * usual_step_s(axis.times_s)))
    return AxisSurvey(axis, _peak(speeds, middles_s), _peak(accelerations, axis.times_s[1:-1]), noisy)


def _written(axis: Axis) -> AxisSurvey:
    shape, legs_s, starts_s = EASES[axis.ease], np.diff(axis.times_s), axis.times_s[:-1]
    speeds = np.diff(axis.positions) / legs_s
    rate, share = shape.peak_rate
    fastest_part = _peak(rate * speeds, starts_s + share * legs_s)
    if shape.peak_acceleration is None:
        return AxisSurvey(axis, fastest_part, None, ())
    acceleration, share = shape.peak_acceleration
    return AxisSurvey(axis, fastest_part, _peak(acceleration * speeds / legs_s, starts_s + share * legs_s), ())


def _zigzags(axis: Axis) -> Iterator[NoisyInterval]:
    """Yield each step back that is undone within a few samples: its positions are passed three times."""
    moving = np.flatnonzero(np.diff(axis.positions))
    signs = np.sign(np.diff(axis.positions)[moving])
    turns = moving[1:][signs[1:] != signs[:-1]]
    for one, other in pairwise(turns.tolist()):
        if other - one <= NOISE_SAMPLES:
            ends = sorted((float(axis.positions[one]), float(axis.positions[other])))
            yield NoisyInterval(float(axis.times_s[one]), float(axis.times_s[other]), *ends)


def _merged(intervals: Iterable[NoisyInterval], room_s: float) -> Iterator[NoisyInterval]:
    whole: NoisyInterval | None = None
    for one in intervals:
        if whole is not None and one.start_s - whole.end_s <= room_s:
            whole = NoisyInterval(whole.start_s, one.end_s, min(whole.low, one.low), max(whole.high, one.high))
        else:
            if whole is not None:
                yield whole
            whole = one
    if whole is not None:
        yield whole


def passes_close_together(axis: Axis, passes_s: Iterable[float], crossing: int) -> tuple[float, float] | None:
    """Return two passes within a few samples of each other that decide which the n-th one is, or None.

    `passes_s` are those that count, in order; the last that decides is the one after the n-th.
    """
    room_s = NOISE_SAMPLES * usual_step_s(axis.times_s)
    for number, (one, other) in enumerate(pairwise(passes_s), start=1):
        if number > crossing:
            return None
        if other - one <= room_s:
            return one, other
    return None
