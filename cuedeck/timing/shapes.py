"""Shapes of a change: how far it has come, 0 to 1, at a share of its time, 0 to 1.

Moves and fades use the same ones. A shape is strictly increasing, starts at 0 and ends at 1.
"""

from __future__ import annotations

from cuedeck.arrays import Values


def linear(share: Values) -> Values:
    """Constant rate."""
    return share


def minimum_jerk(share: Values) -> Values:
    """Ease in and out with the least jerk: 10 s^3 - 15 s^4 + 6 s^5, peak rate 1.875 at the middle.

    The polynomial with no speed and no acceleration at either end (the minimum-jerk profile of the
    motion-control literature).
    """
    return share * share * share * (10.0 + share * (6.0 * share - 15.0))


def minimum_jerk_inverse(progress: float) -> float:
    """Return the share of the time at which a minimum-jerk change has come so far, to 1e-15."""
    if progress <= 0:
        return 0.0
    low, high = 0.0, 1.0
    for _ in range(60):
        middle = (low + high) / 2
        if middle * middle * middle * (10.0 + middle * (6.0 * middle - 15.0)) < progress:
            low = middle
        else:
            high = middle
    return (low + high) / 2
