"""A cue that is fired in a take: what it costs the thread that sends, compiled from nothing and from the timeline
before it.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from dataclasses import replace

from cuedeck.bench.load import open_text
from cuedeck.bench.spread import HEADING, Spread, ratio
from cuedeck.timeline.plan import FiredCue, ShotPlan
from cuedeck.timeline.timeline import Timeline

LIGHTS = 400
CUES = 500
_LIGHTS_OF_A_LOOK = 12
_APART = 20
"""Packets from one fired cue to the next."""
_CURVES = ("ease", "even stops")


def show_text(lights: int = LIGHTS, cues: int = CUES) -> str:
    """Return a show whose looks name a few lights each; of its cues every other waits for the operator."""
    lines = ["cuedeck: 1", "refresh: 40 Hz", "rig:"]
    lines += [
        f"  light {n}: {{type: two-tone 16-bit, address: {n // 100 + 1}.{1 + 4 * (n % 100)}}}" for n in range(lights)
    ]
    lines.append("looks:")
    for look in range(cues):
        named = sorted({(look * 7 + 31 * n) % lights for n in range(_LIGHTS_OF_A_LOOK)})
        levels = (f"light {n}: {{level: {(7 * n + look) % 101} %, colour: {3000 + 5 * n} K}}" for n in named)
        lines.append(f"  look {look}: {{{', '.join(levels)}}}")
    lines += ["shots:", '  "1":', "    cues:"]
    for cue in range(cues):
        start = "operator" if cue % 2 else f"{cue / 4:g} s"
        lines.append(
            f"      - {{cue: {cue}, at: {start}, look: look {cue}, fade: 2 s, curve: {_CURVES[cue // 2 % 2]}}}"
        )
    return "\n".join(lines)


def fires(plan: ShotPlan, compiled: Callable[[list[FiredCue], Timeline], Timeline]) -> Iterator[tuple[int, bytes]]:
    """Fire each cue that waits, and yield the processor time in ns of it with its packet, and what that packet is."""
    fired: list[FiredCue] = []
    timeline = plan.timeline().compiled()
    for number, cue in enumerate(plan.operator_cues):
        packet = number * _APART + 3
        for before in range(packet - _APART + 1, packet):
            timeline.slots([max(before, 0)])
        fired.append(FiredCue(cue, packet))
        start_ns = time.process_time_ns()
        timeline = compiled(fired, timeline)
        slots = timeline.slots([packet])
        yield time.process_time_ns() - start_ns, slots.tobytes()


def report(lights: int = LIGHTS, cues: int = CUES) -> str:
    """Fire every cue both ways and say how they compare."""
    plan = open_text(show_text(lights, cues)).plan("1")
    like = list(fires(plan, lambda fired, before: plan.timeline(fired, like=before)))
    anew = list(fires(plan, lambda fired, _: replace(plan).timeline(fired).compiled()))
    same = "the same packets" if [packet for _, packet in like] == [packet for _, packet in anew] else "OTHER PACKETS"
    spreads = [Spread.of([taken_ns for taken_ns, _ in one]) for one in (like, anew)]
    return "\n".join(
        (
            f"a fired cue with its packet, processor time: {lights} lights, {cues} cues, {len(like)} of them fired",
            HEADING,
            spreads[0].line("from the timeline before"),
            spreads[1].line("from nothing"),
            f"  from nothing takes {ratio(spreads[1].median_ns, spreads[0].median_ns)} as long, {same}",
        )
    )
