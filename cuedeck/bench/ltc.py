"""Decoding longitudinal timecode, a recording and as it comes, beside libltc where that is installed."""

from __future__ import annotations

import time

import numpy as np

from cuedeck.arrays import Sound
from cuedeck.bench import libltc
from cuedeck.bench.timings import median_s
from cuedeck.timing.ltc.bits import joined
from cuedeck.timing.ltc.decode import LtcDecoder, LtcReader
from cuedeck.timing.ltc.encode import encode
from cuedeck.timing.ltc.frame import LtcFrame
from cuedeck.timing.ltc.labels import LabelTrack, RateFinder
from cuedeck.timing.timecode import RATES, Timecode

LENGTH_S = 600
SAMPLE_RATE_HZ = 48_000
LIVE_PIECE = 1024
NOISE_DBFS = -60.0
_LIVE_S = 60


def noisy_timecode(length_s: int, level_dbfs: float) -> Sound:
    """Return so much timecode at 30 frames a second, with noise of -60 dBFS."""
    rate = RATES["30"]
    first = LtcFrame(Timecode.of(1, 0, 0, 0, rate), user_bits=0x20240229)
    clean = np.concatenate(list(encode(first, 30 * length_s, SAMPLE_RATE_HZ, level_dbfs)))
    noise = np.random.default_rng(1).standard_normal(len(clean), np.float32)
    noisy: Sound = clean + np.float32(10 ** (NOISE_DBFS / 20)) * noise
    return noisy


def labels_in(samples: Sound) -> int:
    """Return how many labels of a recording can be trusted."""
    reader, finder = LtcReader(SAMPLE_RATE_HZ), RateFinder(SAMPLE_RATE_HZ)
    raw = joined([reader.feed(samples), reader.finish()])
    finder.take(raw)
    return len(LabelTrack(finder.rate).take(raw)) if finder.rate else 0


def labels_live(samples: Sound) -> int:
    """Return how many labels arrive when the samples come in small pieces."""
    decoder = LtcDecoder(SAMPLE_RATE_HZ)
    pieces = (samples[at : at + LIVE_PIECE] for at in range(0, len(samples), LIVE_PIECE))
    return sum(1 for piece in pieces for _ in decoder.feed(piece))


def report() -> str:
    lines = [f"timecode (LTC), {LENGTH_S} s at 30 frames a second, {SAMPLE_RATE_HZ} Hz, noise of {NOISE_DBFS:g} dBFS"]
    for level_dbfs in (-18.0, -40.0):
        lines += _recorded(noisy_timecode(LENGTH_S, level_dbfs), level_dbfs)
    short = noisy_timecode(_LIVE_S, -18.0)
    live_s = median_s(lambda: labels_live(short), 3, time.process_time)
    lines.append(f"  cuedeck live         {100 * live_s / _LIVE_S:8.2f} % of a core, {LIVE_PIECE} samples at a time")
    return "\n".join(lines)


def _recorded(samples: Sound, level_dbfs: float) -> list[str]:
    ours_s = median_s(lambda: labels_in(samples), 3, time.process_time)
    lines = [f"  cuedeck {level_dbfs:5.0f} dBFS   {_speed(ours_s)}, {labels_in(samples)} frames"]
    library = libltc.load()
    if library is None:
        return [*lines, "  libltc               is not installed (Debian's libltc11): left out"]

    def theirs() -> int:
        return sum(1 for _ in libltc.decode(library, samples, SAMPLE_RATE_HZ // 30))

    theirs_s = median_s(theirs, 3, time.process_time)
    ratio = ours_s / theirs_s
    compared = f"{theirs()} frames; cuedeck takes {ratio:.1f} times as long"
    return [*lines, f"  libltc  {level_dbfs:5.0f} dBFS   {_speed(theirs_s)}, {compared}"]


def _speed(seconds: float) -> str:
    return f"{LENGTH_S / seconds:8.0f} times real time"
