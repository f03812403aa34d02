"""Longitudinal timecode from a WAV file: every label that can be trusted, and the gaps between them.

The rate is found over the whole file, so that its first second is read as reliably as its last.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from math import log10

from cuedeck.folder.wav import WavFile
from cuedeck.timing.chase import Arrival
from cuedeck.timing.ltc.bits import joined
from cuedeck.timing.ltc.decode import LtcReader, arrivals_of
from cuedeck.timing.ltc.labels import Gap, Labels, LabelTrack, RateFinder, gaps_of, user_bits_of
from cuedeck.timing.timecode import Timecode, TimecodeRate

SILENCE_DBFS = -120.0
_MOSTLY = 0.9


@dataclass(frozen=True, eq=False)
class LtcRecording:
    """The timecode on a channel of sound; at least one label."""

    labels: Labels
    gaps: list[Gap]
    sample_rate_hz: int
    measured_fps: float
    level_dbfs: float

    @property
    def rate(self) -> TimecodeRate:
        return self.labels.rate

    @property
    def first(self) -> Timecode:
        return Timecode(int(self.labels.numbers[0]), self.rate)

    @property
    def last(self) -> Timecode:
        return Timecode(int(self.labels.numbers[-1]), self.rate)

    @property
    def direction(self) -> str:
        """`forward`, `reverse` or `mixed`."""
        return _majority(float(self.labels.raw.is_reverse.mean()), "forward", "reverse")

    @property
    def polarity(self) -> str:
        """`normal`, `inverted`, or `mixed` where the frames have no polarity correction."""
        return _majority(float(self.labels.raw.is_inverted.mean()), "normal", "inverted")

    @property
    def user_bits(self) -> int | None:
        """The user bits of every frame; None where they change."""
        bits = user_bits_of(self.labels.raw.data)
        return int(bits[0]) if (bits == bits[0]).all() else None

    def arrivals(self) -> list[Arrival]:
        """The labels, with times in seconds from the start of the file."""
        return list(arrivals_of(self.labels, self.sample_rate_hz))


def read_ltc(
    file: WavFile,
    channel: int,
    rate: TimecodeRate | None = None,
    on_progress: Callable[[float], None] = lambda _: None,
) -> tuple[LtcRecording | None, float]:
    """Return the timecode of a channel (None where there is none) and the level of its signal in dBFS.

    `on_progress` gets the share of the file that was read. Raises WavRefused.
    """
    reader = LtcReader(file.format.sample_rate_hz)
    parts, done, peak = [], 0, 0.0
    for piece in file.pieces(channel):
        parts.append(reader.feed(piece))
        done += len(piece)
        if not any(map(len, parts)):
            peak = max(peak, float(abs(piece).max()))
        on_progress(done / file.samples)
    raw = joined([*parts, reader.finish()])
    finder = RateFinder(file.format.sample_rate_hz)
    finder.take(raw)
    rate = rate or finder.rate
    labels = None if rate is None else LabelTrack(rate).take(raw)
    if labels is None or not len(labels):
        return None, _dbfs(max(peak, reader.level))
    level_dbfs = _dbfs(reader.level)
    read = LtcRecording(labels, gaps_of(labels), file.format.sample_rate_hz, finder.measured_fps, level_dbfs)
    return read, level_dbfs


def _majority(share: float, low: str, high: str) -> str:
    return high if share >= _MOSTLY else low if share <= 1 - _MOSTLY else "mixed"


def _dbfs(level: float) -> float:
    return max(SILENCE_DBFS, 20 * log10(level)) if level > 0 else SILENCE_DBFS
