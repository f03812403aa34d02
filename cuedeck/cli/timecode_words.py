"""What was read from a recording of timecode, as data and in words."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from cuedeck.input.ltc_file import LtcRecording
    from cuedeck.timing.ltc.labels import Gap
    from cuedeck.timing.timecode import TimecodeRate

_MOST_GAPS = 20


def as_data(found: LtcRecording) -> dict[str, object]:
    """Return the JSON object; samples are counted from the start of the file."""
    return {
        "start": str(found.first),
        "end": str(found.last),
        "rate": str(found.rate),
        "drop": found.rate.is_drop,
        "frames": len(found.labels),
        "gaps": [_gap_as_data(gap) for gap in found.gaps],
        "polarity": found.polarity,
        "level_dbfs": round(found.level_dbfs, 1),
        "direction": found.direction,
        "measured_fps": round(found.measured_fps, 4),
        "user_bits": None if found.user_bits is None else f"{found.user_bits:08x}",
        "sample_rate_hz": found.sample_rate_hz,
    }


def _gap_as_data(gap: Gap) -> dict[str, object]:
    begin, end = round(gap.begin_sample), round(gap.end_sample)
    return {"begin_sample": begin, "end_sample": end, "before": str(gap.before), "after": str(gap.after)}


def alike_off_speed(rate: TimecodeRate, measured_fps: float) -> str:
    """Return the two rates that cannot be told apart at a speed, or nothing."""
    from cuedeck.show.frame_rates import is_at_speed

    slowed = {24: "23.976", 30: "29.97"}.get(rate.counted)
    if slowed is None or rate.is_drop or is_at_speed(rate, measured_fps):
        return ""
    return f"{rate.counted} and {slowed}"


def in_words(path: Path, found: LtcRecording) -> list[str]:
    """Return a short summary, as lines; the first gaps are listed."""
    from cuedeck.show.problems import counted

    speed = found.measured_fps / float(found.rate.frames_per_second)
    bits = "they change" if found.user_bits is None else f"{found.user_bits:08x}"
    lines = [
        f"{path}: {found.first} to {found.last}, {counted(len(found.labels), 'frame')} at {found.rate}",
        f"  {found.direction}, {speed:.4f} times normal speed; {found.polarity} polarity;"
        f" {found.level_dbfs:.1f} dBFS; user bits {bits}",
        f"  {counted(len(found.gaps), 'gap') if found.gaps else 'no gaps'}",
    ]
    if alike := alike_off_speed(found.rate, found.measured_fps):
        lines.append(f"  off speed, so that {alike} cannot be told apart: --fps says which")
    for gap in found.gaps[:_MOST_GAPS]:
        begin, end = gap.begin_sample / found.sample_rate_hz, gap.end_sample / found.sample_rate_hz
        lines.append(f"    {begin:.3f} s to {end:.3f} s: {gap.before}, then {gap.after}")
    if len(found.gaps) > _MOST_GAPS:
        lines.append(f"    and {len(found.gaps) - _MOST_GAPS} more: --json lists them all")
    return lines
