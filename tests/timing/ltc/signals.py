"""Timecode as it comes off a tape: slower, backwards, upside down, faint, noisy, off centre."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from cuedeck.arrays import Sound
from cuedeck.timing.ltc.bits import RawFrames, joined
from cuedeck.timing.ltc.decode import LtcReader
from cuedeck.timing.ltc.encode import encode
from cuedeck.timing.ltc.frame import LtcFrame
from cuedeck.timing.ltc.labels import Labels, LabelTrack, RateFinder
from cuedeck.timing.timecode import Timecode, TimecodeRate

USER_BITS = 0x1234ABCD


def frame(label: str, fps: str) -> LtcFrame:
    rate = TimecodeRate.parse(fps)
    return LtcFrame(Timecode.parse(label, rate), USER_BITS)


def signal(label: str, fps: str, count: int, sample_rate_hz: int = 48_000, level_dbfs: float = -18.0) -> Sound:
    return np.concatenate(list(encode(frame(label, fps), count, sample_rate_hz, level_dbfs)))


def played(samples: Sound, speeds: float | np.ndarray) -> tuple[Sound, np.ndarray]:
    """Return a signal as it sounds at a speed, or at one for each sample, and where on it each sample is."""
    if isinstance(speeds, float):
        places = np.arange(0, len(samples) - 1, speeds)
    else:
        places = np.cumsum(speeds) - speeds[0]
        places = places[places < len(samples) - 1]
    return np.interp(places, np.arange(len(samples)), samples).astype(np.float32), places


def with_noise(samples: Sound, noise_dbfs: float, seed: int) -> Sound:
    noise = np.random.default_rng(seed).standard_normal(len(samples), np.float32)
    return samples + np.float32(10 ** (noise_dbfs / 20)) * noise


def pieces(samples: Sound, size: int) -> Iterator[Sound]:
    return (samples[at : at + size] for at in range(0, len(samples), size))


def read_raw(samples: Sound, sample_rate_hz: int = 48_000, size: int | None = None) -> RawFrames:
    reader = LtcReader(sample_rate_hz)
    return joined([*map(reader.feed, pieces(samples, size or len(samples))), reader.finish()])


def read_labels(
    samples: Sound, sample_rate_hz: int = 48_000, fps: str | None = None, size: int | None = None
) -> Labels:
    raw = read_raw(samples, sample_rate_hz, size)
    finder = RateFinder(sample_rate_hz)
    finder.take(raw)
    rate = finder.rate if fps is None else TimecodeRate.parse(fps)
    assert rate is not None
    return LabelTrack(rate).take(raw)
