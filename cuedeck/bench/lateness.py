"""How late packets leave while the terminal UI repaints, beside bare loops that keep to the same deadlines.

All run in the same seconds, each a third of a period after the other, so that whatever else the machine does
disturbs all of them alike and they do not disturb each other. The bare loops are processes of their own with
the same priority. The times of the player are those in its take, when it began to send; when its packets arrived
at a socket, as the system notes it, is the view from outside, with all that sending costs. What is late by a
period or more counts as missed.
"""

from __future__ import annotations

import time
from collections.abc import Iterator
from contextlib import ExitStack
from dataclasses import dataclass

import numpy as np

from cuedeck.arrays import Numbers
from cuedeck.bench import bare_loop
from cuedeck.bench.player_process import requested_priority, rolling_take, stop_take, times_between, wait_until_rolling
from cuedeck.bench.receivers import UdpReceiver
from cuedeck.bench.shows import fading_text, show_folder
from cuedeck.bench.timings import HEADING, Percentiles, machine_load, ratio, stolen_time_s
from cuedeck.clock import now_ns
from cuedeck.takes.times import PacketTimes

HERTZ = 44
_UI_STARTS_S = 60
"""The shot is so much longer than what is measured: the terminal UI takes its time to start."""
_PERIOD_NS = 1_000_000_000 // HERTZ
ARRIVALS = "player, at the socket"
_BARE = {"bare loop, sleeping": "sleep", "bare loop, spinning": "spin"}


@dataclass(frozen=True)
class LatenessRun:
    """What one run gave."""

    priority: str
    percentiles: dict[str, Percentiles]
    """How late each was, by its name."""
    missed: dict[str, int]
    """How many deadlines each let pass."""
    drawn_kilobytes: float
    """What the terminal UI drew in a second."""
    stolen_ms: float
    """For how long the host of a virtual machine kept its processors waiting meanwhile."""


def report(seconds: float = 60.0) -> str:
    """Run with the priority that the system grants, and without, and say how they compare."""
    first = measure(seconds)
    runs = [first] if first.priority == "ordinary" else [first, measure(seconds, "ordinary")]
    lines = [f"lateness at {HERTZ} Hz over {seconds:g} s while the terminal UI repaints; {machine_load()}"]
    for one in runs:
        lines += _lines(one)
    return "\n".join(lines)


def measure(seconds: float, priority: str = "") -> LatenessRun:
    """Run a player and the bare loops at the same time, beside the terminal UI."""
    from cuedeck.bench.terminal import TerminalProcess  # POSIX only

    with ExitStack() as opened:
        opened.enter_context(requested_priority(priority))
        folder = opened.enter_context(show_folder(fading_text(int(seconds) + _UI_STARTS_S)))
        receiver = opened.enter_context(UdpReceiver())
        client = opened.enter_context(rolling_take(folder, "simulator", receiver.target))
        granted = wait_until_rolling(client).priority
        screen = opened.enter_context(TerminalProcess.open(folder))
        screen.press(b" ")  # runs the shot, which the UI then repaints as often as it can
        loops = {name: bare_loop.start(way, HERTZ, seconds) for name, way in _BARE.items()}
        begun_ns, begun_time_ns = now_ns(), time.time_ns()
        drawn_before, stolen_before_s = screen.drawn, stolen_time_s()
        beat_ns = _beat_ns(receiver)
        for place, loop in enumerate(loops.values(), 1):
            loop.go(beat_ns, place / (len(loops) + 1))
        late = {name: loop.result() for name, loop in loops.items()}
        until_ns, drawn = now_ns(), screen.drawn - drawn_before
        stolen_ms = (stolen_time_s() - stolen_before_s) * 1e3
        stop_take(client)
        times = times_between(folder, begun_ns, until_ns)
    arrived_ns = np.array([one.at_ns for one in receiver.arrived]) - begun_time_ns + begun_ns
    late |= {"player": times.late_ns, ARRIVALS: _late_arrivals(times, arrived_ns)}
    missed = {name: sum(one >= _PERIOD_NS for one in late[name]) for name in _BARE}
    missed["player"] = round((times.due_ns[-1] - times.due_ns[0]) / _PERIOD_NS) + 1 - len(times.due_ns)
    percentiles = {
        name: Percentiles.of([one for one in late[name] if one < _PERIOD_NS]) for name in ("player", *_BARE, ARRIVALS)
    }
    return LatenessRun(granted, percentiles, missed, drawn / (until_ns - begun_ns) * 1e6, stolen_ms)


def _beat_ns(receiver: UdpReceiver) -> int:
    """Return when a packet of the player was due, on the monotonic clock, to some microseconds."""
    return now_ns() - (time.time_ns() - receiver.arrived[-1].at_ns)


def _late_arrivals(times: PacketTimes, arrived_ns: Numbers) -> list[int]:
    """Return how long after its time each packet had arrived, on the clock of the take."""
    of_stretch = arrived_ns[(arrived_ns >= times.due_ns[0]) & (arrived_ns < times.due_ns[-1] + _PERIOD_NS)]
    due_ns = times.due_ns[np.searchsorted(times.due_ns, of_stretch, side="right") - 1]
    late: list[int] = (of_stretch - due_ns).tolist()
    return late


def _lines(measured: LatenessRun) -> Iterator[str]:
    percentiles, ours = measured.percentiles, measured.percentiles["player"]
    drew, stolen = f"the UI drew {measured.drawn_kilobytes:.0f} kB/s", f"{measured.stolen_ms:.0f} ms taken by the host"
    yield f" priority granted: {measured.priority}; {drew}; {stolen}"
    yield HEADING
    for name, one in percentiles.items():
        yield one.line(name) + (f"  {measured.missed[name]} missed" if name in measured.missed else "")
    for name in _BARE:
        yield f"  player beside {name}: p99.9 {ratio(ours.p999_ns, percentiles[name].p999_ns)}"
