"""Signs in the lanes of a shot: where a fade steps visibly, and where a light is held at its limit.

Found in packets, as a receiver knows them. What the camera would lose is not known here.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction

import numpy as np
import numpy.typing as npt

from cuedeck.light.steps import staircase, step_stops
from cuedeck.report.picture import column_of
from cuedeck.rig.parameters import PatchedFixture
from cuedeck.timeline.plan import ShotPlan
from cuedeck.timeline.timeline import Timeline

STEPS, ABOVE, BELOW = "≡", "⊤", "⊥"
MEANINGS = (
    (STEPS, "the fade steps visibly here: the slot is too coarse for it; give the light a 16-bit mode, or fade faster"),
    (ABOVE, "the look asks for more than 'never above' allows; the light waits at its limit"),
    (BELOW, "the look asks for less than 'never below' allows; the light waits at its limit"),
)
COARSE_SLOTS = 1
MOST_VALUES = 4_000_000
"""Packets times coarse lights that are looked through; a shot with more gets no signs of steps."""
LEAST_MOVED = 1e-9

Marks = Mapping[str, tuple[tuple[int, str], ...]]
"""For each light, columns and the signs that stand there."""


def lane_marks(plan: ShotPlan, timeline: Timeline, width: int) -> Marks:
    """Return the signs in lanes of so many columns."""
    found: dict[str, list[tuple[int, str]]] = {}
    for name, column, sign in (*_at_limits(timeline, width), *_steps(plan, timeline, width)):
        found.setdefault(name, []).append((column, sign))
    return {name: tuple(dict(reversed(marks)).items()) for name, marks in found.items()}


def _at_limits(timeline: Timeline, width: int) -> Iterator[tuple[str, int, str]]:
    limited = [fixture for fixture in timeline.patch.lights if fixture.limits is not None]
    if not limited:
        return
    times_s = np.linspace(0.0, float(timeline.length_s), width)
    levels = timeline.levels(times_s)
    for fixture in limited:
        asked = levels[:, fixture.columns["intensity"]]
        for column, level in enumerate(asked.tolist()):
            kept = fixture.limits.within(level) if fixture.limits is not None else level
            if abs(kept - level) > LEAST_MOVED:
                yield fixture.name, column, ABOVE if kept < level else BELOW


def _steps(plan: ShotPlan, timeline: Timeline, width: int) -> Iterator[tuple[str, int, str]]:
    coarse = [fixture for fixture in plan.patch.lights if _is_coarse(fixture)]
    if not coarse or len(coarse) * timeline.packet_count > MOST_VALUES:
        return
    columns = [fixture.columns["intensity"] for fixture in coarse]
    blocks = [timeline.patch.decode(slots)[:, columns] for _, slots in timeline.blocks()]
    controls = np.concatenate(blocks)
    for index, fixture in enumerate(coarse):
        jumps = np.flatnonzero(staircase(fixture.dimmer.light_from_control(controls[:, index])))
        for column in dict.fromkeys(_columns(jumps, timeline, width)):
            yield fixture.name, column, STEPS


def _columns(packets: npt.NDArray[np.intp], timeline: Timeline, width: int) -> Iterator[int]:
    for packet in packets.tolist():
        yield column_of(packet / timeline.refresh_hz, timeline.length_s, width)


def _is_coarse(fixture: PatchedFixture) -> bool:
    """Whether the light of a fixture is carried by single slots."""
    carriers = ["intensity"] if fixture.has_own_dimmer else list(fixture.emitters)
    return any(fixture.by_attribute[name].width_slots <= COARSE_SLOTS for name in carriers)


@dataclass(frozen=True)
class LargestStep:
    """The largest change of light from one camera frame to the next in a fade."""

    light: str
    stops: float


def largest_step(plan: ShotPlan, timeline: Timeline, cue: str) -> LargestStep | None:
    """Return the largest step of a cue's fade; None for a cue that does not happen or moves no light."""
    started = next((one for one in timeline.cues if one.name == cue), None)
    if started is None or not plan.patch.lights:
        return None
    first = int(started.start_s * plan.fps_on_set)
    last = int(started.end_s * plan.fps_on_set) + 1
    packets = np.unique([_packet(frame / plan.fps_on_set, timeline) for frame in range(first, last + 1)])
    levels = plan.patch.decode(timeline.slots(packets))
    steps = {
        fixture.name: float(
            step_stops(fixture.dimmer.light_from_control(levels[:, fixture.columns["intensity"]])).max()
        )
        for fixture in plan.patch.lights
        if len(packets) > 1
    }
    light = max(steps, key=steps.__getitem__, default=None)
    return LargestStep(light, steps[light]) if light is not None and steps[light] > 0 else None


def _largest(fixture: PatchedFixture, levels: npt.NDArray[np.float64]) -> float:
    return float(step_stops(fixture.dimmer.light_from_control(levels[:, fixture.columns["intensity"]])).max())


def _packet(time_s: Fraction, timeline: Timeline) -> int:
    return min(-int(-time_s * timeline.refresh_hz // 1), timeline.packet_count - 1)
