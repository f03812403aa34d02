"""Marks in lanes: where a light steps visibly, and where its limits hold it. Decoded from packets."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from math import ceil

import numpy as np
import numpy.typing as npt

from cuedeck.arrays import Numbers
from cuedeck.light.scales import changes_stops, coarse_steps
from cuedeck.rig.limits import steps_of_intensity
from cuedeck.rig.parameters import PatchedFixture
from cuedeck.timeline.timeline import BLOCK_PACKETS, StartedCue, Timeline

STEPS, HELD_ABOVE, HELD_BELOW = "≡", "⊤", "⊥"
MARK_WORDS = (
    (STEPS, "the light steps visibly: its channel has no values in between"),
    (HELD_ABOVE, "asked for more light than its limit, and held at it"),
    (HELD_BELOW, "asked for less light than its limit, and held at it"),
)
"""Each mark in a lane, and what it says."""


def lane_marks(timeline: Timeline, lights: Sequence[PatchedFixture], width: int) -> dict[str, str]:
    """Return for each of some lights its marks, a character for each column of a lane, blank where there is nothing."""
    marks = {light.name: np.full(width, " ") for light in lights}
    last = max(timeline.packet_count - 1, 1)
    for packets in _fading(timeline):
        levels = timeline.patch.decode(timeline.slots(packets))
        columns = np.rint(packets[1:] / last * (width - 1)).astype(np.int64)
        for light in lights:
            control = levels[:, light.columns["intensity"]]
            seen = coarse_steps(control, light.dimmer.light_from_control(control), steps_of_intensity(light.channels))
            marks[light.name][columns[seen]] = STEPS
    _mark_limits(timeline, lights, marks, width)
    return {name: "".join(cells.tolist()) for name, cells in marks.items()}


def _mark_limits(
    timeline: Timeline, lights: Sequence[PatchedFixture], marks: dict[str, npt.NDArray[np.str_]], width: int
) -> None:
    limited = [light for light in lights if light.limits is not None]
    if not limited:
        return
    packets = np.rint(np.linspace(0, timeline.packet_count - 1, width)).astype(np.int64)
    asked = timeline.levels(timeline.times_s(packets))
    sent = timeline.patch.decode(timeline.slots(packets))
    for light in limited:
        column, steps = light.columns["intensity"], steps_of_intensity(light.channels)
        off = (asked[:, column] - sent[:, column]) * steps
        marks[light.name][off > 1] = HELD_ABOVE
        marks[light.name][off < -1] = HELD_BELOW


def largest_step(timeline: Timeline, cue: StartedCue) -> float:
    """Return the most stops by which any light changes from one packet to the next while a cue fades.

    Cues that start while it fades count too: one packet carries them all.
    """
    first, last = cue.first_packet, ceil(cue.end_s * timeline.refresh_hz)
    later = [other for other in timeline.cues if other.start_s >= cue.end_s and other.start_s > cue.start_s]
    if later:
        last = max(first, min(last, later[0].first_packet - 1))
    packets = np.arange(max(first - 1, 0), min(last + 1, timeline.packet_count))
    largest = 0.0
    for block in _overlapping(packets):
        levels = timeline.patch.decode(timeline.slots(block))
        for light in timeline.patch.lights:
            changes = np.abs(changes_stops(light.dimmer.light_from_control(levels[:, light.columns["intensity"]])))
            largest = max(largest, float(changes.max(initial=0.0)))
    return largest


def _fading(timeline: Timeline) -> Iterator[Numbers]:
    """Yield the numbers of packets while something fades; the rest stand still."""
    ends = [span.start_s for span in timeline.spans[1:]] + [float(timeline.length_s)]
    for span, end_s in zip(timeline.spans, ends, strict=True):
        if span.fades:
            until_s = min(max(fade.end_s for fade in span.fades), end_s)
            first = max(int(span.start_s * timeline.refresh_hz) - 1, 0)
            last = min(int(until_s * timeline.refresh_hz) + 2, timeline.packet_count)
            yield from _overlapping(np.arange(first, last))


def _overlapping(packets: Numbers) -> Iterator[Numbers]:
    """Yield packets in blocks, each beginning with the last of the one before."""
    for at in range(0, max(len(packets) - 1, 0), BLOCK_PACKETS):
        yield packets[at : at + BLOCK_PACKETS + 1]
