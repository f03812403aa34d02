"""Curves and levels as characters: braille dots for a curve, eighth blocks for a level."""

from __future__ import annotations

import math

import numpy as np

from cuedeck.arrays import Values

BRAILLE = 0x2800
DOTS = ((0x01, 0x08), (0x02, 0x10), (0x04, 0x20), (0x40, 0x80))
"""The bit of each dot of a braille character, by row from the top and by column."""
BLOCKS = " ▁▂▃▄▅▆▇█"


def braille_curve(values: Values, lines: int) -> list[str]:
    """Return a curve, two values to a character and four dots to a line, the largest at the top."""
    rows = 4 * lines
    low, high = float(values.min()), float(values.max())
    share = (values - low) / (high - low) if high > low else np.zeros(len(values))
    heights = np.rint(share * (rows - 1)).astype(int).tolist()
    bits = [[0] * (len(values) // 2) for _ in range(lines)]
    before = heights[0]
    for index, height in enumerate(heights[: 2 * len(bits[0])]):
        toward = before + (1 if height > before else -1 if height < before else 0)
        for dot in range(min(toward, height), max(toward, height) + 1):
            line, row = divmod(rows - 1 - dot, 4)
            bits[line][index // 2] |= DOTS[row][index % 2]
        before = height
    return ["".join(chr(BRAILLE + cell) if cell else " " for cell in line) for line in bits]


def level_blocks(levels: Values, lines: int = 1) -> list[str]:
    """Return levels 0 to 1 as columns of eighths, top line first; any light at all shows, none is blank."""
    eighths = [0 if level <= 0 else max(1, math.floor(level * 8 * lines + 0.5)) for level in levels.tolist()]
    return ["".join(BLOCKS[min(max(count - 8 * line, 0), 8)] for count in eighths) for line in reversed(range(lines))]
