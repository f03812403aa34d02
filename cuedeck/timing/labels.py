"""Labels of camera frames. Counted from the start of a shot, without drop-frame."""

from __future__ import annotations

from fractions import Fraction


def frame_at(time_s: Fraction, fps: Fraction) -> int:
    """Return the number of the frame that a time falls into, the first frame being 0."""
    return int(time_s * fps // 1)


def frame_label(frame: int, fps: Fraction) -> str:
    """Return hours:minutes:seconds:frames of a frame number, counting whole frames to the second."""
    per_second = max(round(fps), 1)
    seconds, frames = divmod(frame, per_second)
    minutes, seconds = divmod(seconds, 60)
    hours, minutes = divmod(minutes, 60)
    width = max(2, len(str(per_second - 1)))
    return f"{hours:02d}:{minutes:02d}:{seconds:02d}:{frames:0{width}d}"
