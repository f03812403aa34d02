"""The MIDI part of `cuedeck timecode`: making and reading a .mid file of MIDI timecode."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from math import ceil
from pathlib import Path
from typing import TYPE_CHECKING

from cuedeck.errors import Refusal

if TYPE_CHECKING:
    from cuedeck.timing.chase import Reading
    from cuedeck.timing.timecode import Timecode


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
    from cuedeck.timing.mtc.reader import measured_fps, rate_of

    recorded = recorded_midi(path)
    arrivals = [one for one in recorded.readings if isinstance(one, Arrival)]
    told: Sequence[Reading] = arrivals or recorded.readings
    rate = rate_of(told[0].label.rate, arrivals)
    return {
        "start": str(told[0].label),
        "end": str(told[-1].label),
        "rate": str(rate),
        "drop": rate.is_drop,
        "frames": len(arrivals),
        "gaps": _gaps(arrivals),
        "measured_fps": round(measured_fps(arrivals), 4),
    }


def midi_in_words(path: Path, found: dict[str, object]) -> str:
    """Return what a .mid file of timecode holds, in a line or two."""
    from cuedeck.cli.timecode_words import alike_off_speed
    from cuedeck.timing.timecode import TimecodeRate

    words = f"{path}: MIDI timecode {found['start']} to {found['end']}, {found['frames']} frames at {found['rate']}"
    alike = alike_off_speed(TimecodeRate.parse(str(found["rate"])), float(str(found["measured_fps"])))
    return f"{words}\n  off speed or too short, so that {alike} cannot be told apart" if alike else words


def _gaps(arrivals: Sequence[Reading]) -> list[dict[str, object]]:
    from itertools import pairwise

    return [
        {"ms": round(before.at_s * 1000, 3), "before": str(before.label), "after": str(after.label)}
        for before, after in pairwise(arrivals)
        if after.label.rate != before.label.rate or after.label not in (before.label + 1, before.label - 1)
    ]
