"""A shot that follows timecode: which packet of its timeline is sent for where the timecode is."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from fractions import Fraction
from math import floor

import numpy as np

from cuedeck.arrays import Numbers, Slots
from cuedeck.errors import Refusal
from cuedeck.show.frame_rates import RATES
from cuedeck.show.units import UnitError
from cuedeck.timeline.plan import ShotPlan
from cuedeck.timeline.timeline import BLOCK_PACKETS, Timeline
from cuedeck.timing.chase import Chaser, Reading
from cuedeck.timing.chase_coverage import ChaseCoverage
from cuedeck.timing.timecode import Timecode

_SLACK_PACKETS = 0.01
"""How close before a packet's time counts as its time. Readers place a label to some microseconds; without the
slack a timecode that runs in step with the packets would repeat one and leave out the next by chance."""


def first_label(plan: ShotPlan) -> Timecode:
    """Return the label of the start of a shot. Raises Refusal where there is none, or the rate has no timecode."""
    rate = plan.labels.rate
    if not rate.is_standard:
        raise Refusal(f"{rate} fps is no rate of timecode: write 'fps:' as one of {', '.join(RATES)}")
    try:
        return plan.labels.first
    except UnitError as error:
        raise Refusal(f"{error}: {error.cure}") from error


def assumed_start(plan: ShotPlan) -> str:
    """Return a note on the timecode assumed for the first frame of a shot; nothing where the shot says it.

    Raises Refusal where its rate has no timecode.
    """
    if plan.shot.starts_at is not None:
        return ""
    return f"shot {plan.name} has no 'starts at': its first frame is taken for timecode {first_label(plan)}"


def chaser_of(plan: ShotPlan) -> Chaser:
    """Return a chaser for a shot. Raises Refusal where its rate has none."""
    return Chaser(first_label(plan))


def require_counted_alike(chaser: Chaser, plan: ShotPlan) -> None:
    """Raise Refusal where timecode was ignored because it counts frames in another way than the shot."""
    if chaser.foreign is not None:
        raise Refusal(
            f"the timecode counts {chaser.foreign.rate}, and the camera {first_label(plan).rate}:"
            " write 'fps:' and 'timecode:' of the camera as the timecode is, or send the other"
        )


def pace_of(plan: ShotPlan) -> float:
    """Return how many seconds on set go by in a second of labels: other than 1 off-speed, where frames count."""
    return float(plan.labels.rate.frames_per_second / (plan.fps_on_set * plan.speed))


def coverage_of(plan: ShotPlan, timeline: Timeline) -> ChaseCoverage:
    """Return the check that timecode runs through a whole shot."""
    origin, pace, last = first_label(plan), pace_of(plan), timeline.packet_count - 1
    period_s = 1 / float(timeline.refresh_hz) / pace
    end = origin + floor(last * period_s * float(origin.rate.frames_per_second))
    return ChaseCoverage(origin, end, last, period_s)


def packet_at(position_s: float | None, timeline: Timeline, pace: float = 1.0) -> int:
    """Return the packet of a shot for a place of its time: the first one before the shot, the last one after it."""
    if position_s is None:
        return 0
    number = floor(position_s * pace * float(timeline.refresh_hz) + _SLACK_PACKETS)
    return min(max(number, 0), timeline.packet_count - 1)


def chased_packets(
    readings: Iterable[Reading], length_s: float, chaser: Chaser, timeline: Timeline, pace: float = 1.0
) -> list[int]:
    """Return which packet is sent at each packet time of a recording of timecode, from its start to its end."""
    waiting = iter(readings)
    reading = next(waiting, None)
    sent: list[int] = []
    for number in range(floor(length_s * timeline.refresh_hz) + 1):
        time_s = float(Fraction(number) / timeline.refresh_hz)
        while reading is not None and reading.at_s <= time_s:
            chaser.feed(reading)
            reading = next(waiting, None)
        sent.append(packet_at(chaser.at(time_s).position_s, timeline, pace))
    return sent


def blocks_of(timeline: Timeline, packets: Numbers) -> Iterator[Slots]:
    """Yield the slots of packets in any order in blocks."""
    for first in range(0, len(packets), BLOCK_PACKETS):
        yield slots_of(timeline, packets[first : first + BLOCK_PACKETS])


def slots_of(timeline: Timeline, packets: Sequence[int] | Numbers) -> Slots:
    """Return the slots of packets in any order, some perhaps again and again; shape (packets, universes, 512)."""
    numbers, places = np.unique(np.asarray(packets, dtype=np.int64), return_inverse=True)
    return timeline.slots(numbers)[places]
