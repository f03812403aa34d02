"""Files of timecode: makes and reads MIDI files, and puts into words what a MIDI or WAV file holds."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from math import ceil
from pathlib import Path
from typing import TYPE_CHECKING

from cuedeck.errors import Refusal

if TYPE_CHECKING:
    from cuedeck.input.ltc_file import LtcRecording
    from cuedeck.timing.chase import Reading
    from cuedeck.timing.ltc.labels import Gap
    from cuedeck.timing.timecode import Timecode, TimecodeRate

_MOST_GAPS = 20


def make_midi(out: Path, start: Timecode, seconds: Fraction) -> int:
    """Write a .mid file of so many seconds of running timecode, and return how many frames it holds.

    A full frame at the start locates; quarter frames follow. Raises Refusal.
    """
    from cuedeck.show.units import UnitError
    from cuedeck.timing.mtc.messages import FullFrame, running
    from cuedeck.timing.mtc.midi_file import TimedMessage, write_midi_file

    fps = start.rate.frames_per_second
    frames = ceil(seconds * fps)
    try:
        first = TimedMessage(Fraction(0), FullFrame(start).encoded)
        messages = [TimedMessage(due.at_s, due.encoded) for due in running(start, frames)]
    except UnitError as error:
        raise Refusal(f"{error}: {error.cure}") from error
    try:
        # Three frames make a beat: whole microseconds at every rate, and 40 ticks to each quarter frame.
        out.write_bytes(write_midi_file([first, *messages], beat_us=int(3_000_000 / fps)))
    except OSError as error:
        raise Refusal(f"'{out}' cannot be written: {(error.strerror or str(error)).lower()}") from error
    return frames


def read_midi(path: Path) -> dict[str, object]:
    """Return what a .mid file of timecode holds, in the keys of `timecode read --json`. Raises Refusal.

    Gaps tell times in milliseconds, since a MIDI file has no samples, with the labels on either side.
    """
    from cuedeck.input.midi import recorded_midi
    from cuedeck.timing.chase import Arrival
    from cuedeck.timing.mtc.messages import measured_fps, rate_of

    recorded = recorded_midi(path)
    arrivals = [one for one in recorded.readings if isinstance(one, Arrival)]
    found: Sequence[Reading] = arrivals or recorded.readings
    rate = rate_of(found[0].label.rate, arrivals)
    return {
        "start": str(found[0].label),
        "end": str(found[-1].label),
        "rate": str(rate),
        "drop": rate.is_drop,
        "frames": len(arrivals),
        "gaps": _midi_gaps(arrivals),
        "measured_fps": round(measured_fps(arrivals), 4),
    }


def midi_summary(path: Path, found: dict[str, object]) -> str:
    """Return what a .mid file of timecode holds, in a line or two."""
    from cuedeck.timing.timecode import TimecodeRate

    words = f"{path}: MIDI timecode {found['start']} to {found['end']}, {found['frames']} frames at {found['rate']}"
    alike = indistinguishable_rates(TimecodeRate.parse(str(found["rate"])), float(str(found["measured_fps"])))
    return f"{words}\n  off speed or too short, so that {alike} cannot be told apart" if alike else words


def _midi_gaps(arrivals: Sequence[Reading]) -> list[dict[str, object]]:
    from itertools import pairwise

    return [
        {"ms": round(before.at_s * 1000, 3), "before": str(before.label), "after": str(after.label)}
        for before, after in pairwise(arrivals)
        if after.label.rate != before.label.rate or after.label not in (before.label + 1, before.label - 1)
    ]


def ltc_data(found: LtcRecording) -> dict[str, object]:
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


def indistinguishable_rates(rate: TimecodeRate, measured_fps: float) -> str:
    """Return the two rates that cannot be told apart at a speed, or nothing."""
    from cuedeck.show.frame_rates import is_at_speed

    slowed = {24: "23.976", 30: "29.97"}.get(rate.counted)
    if slowed is None or rate.is_drop or is_at_speed(rate, measured_fps):
        return ""
    return f"{rate.counted} and {slowed}"


def ltc_summary(path: Path, found: LtcRecording) -> list[str]:
    """Return a short summary as lines, with the first gaps."""
    from cuedeck.show.problems import counted

    speed = found.measured_fps / float(found.rate.frames_per_second)
    bits = "they change" if found.user_bits is None else f"{found.user_bits:08x}"
    lines = [
        f"{path}: {found.first} to {found.last}, {counted(len(found.labels), 'frame')} at {found.rate}",
        f"  {found.direction}, {speed:.4f} times normal speed; {found.polarity} polarity;"
        f" {found.level_dbfs:.1f} dBFS; user bits {bits}",
        f"  {counted(len(found.gaps), 'gap') if found.gaps else 'no gaps'}",
    ]
    if alike := indistinguishable_rates(found.rate, found.measured_fps):
        lines.append(f"  off speed, so that {alike} cannot be told apart: --fps says which")
    for gap in found.gaps[:_MOST_GAPS]:
        begin, end = gap.begin_sample / found.sample_rate_hz, gap.end_sample / found.sample_rate_hz
        lines.append(f"    {begin:.3f} s to {end:.3f} s: {gap.before}, then {gap.after}")
    if len(found.gaps) > _MOST_GAPS:
        lines.append(f"    and {len(found.gaps) - _MOST_GAPS} more: --json lists them all")
    return lines
