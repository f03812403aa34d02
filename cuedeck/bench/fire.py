"""A cue that is fired: what it costs the thread that sends, compiled from the timeline before it and from nothing."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from dataclasses import replace

from cuedeck.bench.shows import SHOT, cue_list_text, open_text
from cuedeck.bench.timings import HEADING, Percentiles, ratio
from cuedeck.timeline.plan import FiredCue, ShotPlan
from cuedeck.timeline.timeline import Timeline

LIGHTS, CUES = 400, 500
_APART = 20
"""Packets from one fired cue to the next."""


def fires(plan: ShotPlan, compiled: Callable[[list[FiredCue], Timeline], Timeline]) -> Iterator[tuple[int, bytes]]:
    """Fire each cue that waits; yield the processor time in ns of it with its packet, and the packet."""
    fired: list[FiredCue] = []
    timeline = plan.timeline().compiled()
    for number, cue in enumerate(plan.operator_cues, 1):
        timeline.slots(range((number - 1) * _APART, number * _APART))
        fired.append(FiredCue(cue, number * _APART))
        start_ns = time.process_time_ns()
        timeline = compiled(fired, timeline)
        slots = timeline.slots([number * _APART])
        yield time.process_time_ns() - start_ns, slots.tobytes()


def report(lights: int = LIGHTS, cues: int = CUES) -> str:
    """Fire every cue both ways and say how they compare."""
    plan = open_text(cue_list_text(lights, cues, by_hand=True)).plan(SHOT)
    like = list(fires(plan, lambda fired, before: plan.timeline(fired, like=before)))
    anew = list(fires(plan, lambda fired, _: replace(plan).timeline(fired).compiled()))
    same = "the same packets" if [one[1] for one in like] == [one[1] for one in anew] else "OTHER PACKETS"
    ours, peers = (Percentiles.of([taken_ns for taken_ns, _ in one]) for one in (like, anew))
    return (
        f"a fired cue with its packet, processor time: {lights} lights, {cues} cues, {len(like)} of them fired\n"
        f"{HEADING}\n{ours.line('from the timeline before')}\n{peers.line('from nothing')}\n"
        f"  from nothing takes {ratio(peers.median_ns, ours.median_ns)} as long, {same}"
    )
