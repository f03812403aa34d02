"""How the lines of the terminal are shared out."""

from __future__ import annotations

from dataclasses import dataclass

FIXED_LINES = 2
"""The top line and the status line."""
SET_LINES = 9
"""The fewest lines for the set and the cues, their heading included."""
HIGH_SCREEN = 30


@dataclass(frozen=True)
class Share:
    """The lines that the shot gets, and how it draws."""

    shot_lines: int
    move_lines: int
    """For each axis."""
    lane_lines: int
    """For each light."""


def share_lines(height: int, axes: int, lights: int) -> Share:
    """Return the share of the shot on a screen of some height, as large as leaves the set its room."""
    room = max(height - FIXED_LINES - SET_LINES, 4)
    shapes = [(4, 2), (3, 2), (4, 1), (3, 1), (2, 1)] if height >= HIGH_SCREEN else [(2, 1)]
    for move_lines, lane_lines in shapes:
        lines = axes * move_lines + lights * lane_lines + 2
        if lines <= room * (2 if lane_lines == 2 else 3) // 3 or (move_lines == 2 and lines <= room):
            return Share(lines, move_lines, lane_lines)
    return Share(min(axes + lights + 2, room), 1, 1)
