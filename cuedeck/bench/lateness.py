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
from pathlib import Path

import numpy as np

from cuedeck.arrays import Numbers
from cuedeck.bench import bare_loop
from cuedeck.bench.far_end import UdpFarEnd
from cuedeck.bench.made_show import SHOT, made_show
from cuedeck.bench.spread import HEADING, Spread, load_words, ratio, stolen_s
from cuedeck.bench.with_player import asked_priority, ended, player_of, rolling
from cuedeck.clock import now_ns
from cuedeck.player.channel.messages import Begin, Stop
from cuedeck.takes.store import TakeStore
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
    spreads: dict[str, Spread]
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
    lines = [f"lateness at {HERTZ} Hz over {seconds:g} s while the terminal UI repaints; {load_words()}"]
    for one in runs:
        lines += _lines(one)
    return "\n".join(lines)


def measure(seconds: float, priority: str = "") -> LatenessRun:
    """Run a player and the bare loops at the same time, beside the terminal UI."""
    from cuedeck.bench.repainting import repainting

    with ExitStack() as opened:
        opened.enter_context(asked_priority(priority))
        show = opened.enter_context(made_show(int(seconds) + _UI_STARTS_S))
        far = opened.enter_context(UdpFarEnd())
        client = opened.enter_context(player_of(show.folder))
        client.ask(Begin(shot=SHOT, to=("simulator", far.target)))
        granted = rolling(client).priority
        screen = opened.enter_context(repainting(show.folder))
        loops = {name: bare_loop.start(way, HERTZ, seconds) for name, way in _BARE.items()}
        begun = _Begun(now_ns(), time.time_ns(), screen.drawn, stolen_s())
        beat_ns = _beat_ns(far)
        for place, loop in enumerate(loops.values(), 1):
            loop.go(beat_ns, place / (len(loops) + 1))
        late = {name: loop.result() for name, loop in loops.items()}
        until_ns, drawn = now_ns(), screen.drawn - begun.drawn
        stolen_ms = (stolen_s() - begun.stolen_s) * 1e3
        client.ask(Stop())
        ended(client)
        times = times_between(show.folder, begun.clock_ns, until_ns)
    arrived_ns = np.array([one.at_ns for one in far.arrived]) - begun.time_ns + begun.clock_ns
    late |= {"player": times.late_ns, ARRIVALS: _late_arrivals(times, arrived_ns)}
    missed = {name: sum(one >= _PERIOD_NS for one in late[name]) for name in _BARE}
    missed["player"] = round((times.due_ns[-1] - times.due_ns[0]) / _PERIOD_NS) + 1 - len(times.due_ns)
    spreads = {
        name: Spread.of([one for one in late[name] if one < _PERIOD_NS]) for name in ("player", *_BARE, ARRIVALS)
    }
    return LatenessRun(granted, spreads, missed, drawn / (until_ns - begun.clock_ns) * 1e6, stolen_ms)


@dataclass(frozen=True)
class _Begun:
    """When measuring began, on both clocks, and what had been drawn and stolen until then."""

    clock_ns: int
    time_ns: int
    drawn: int
    stolen_s: float


def _beat_ns(far: UdpFarEnd) -> int:
    """Return when a packet of the player was due, on the monotonic clock, to some microseconds."""
    return now_ns() - (time.time_ns() - far.arrived[-1].at_ns)


def times_between(folder: Path, from_ns: int, to_ns: int) -> PacketTimes:
    """Return the times of the packets that were due in a stretch of the last take."""
    with TakeStore(folder) as store:
        times = store.times(store.takes()[-1])
    if times is None:
        raise ValueError("the take of the benchmark has no times")
    inside = (times.due_ns >= from_ns) & (times.due_ns <= to_ns)
    return PacketTimes(times.due_ns[inside], times.sent_ns[inside])


def _late_arrivals(times: PacketTimes, arrived_ns: Numbers) -> list[int]:
    """Return how long after its time each packet had arrived, on the clock of the take."""
    of_stretch = arrived_ns[(arrived_ns >= times.due_ns[0]) & (arrived_ns < times.due_ns[-1] + _PERIOD_NS)]
    due_ns = times.due_ns[np.searchsorted(times.due_ns, of_stretch, side="right") - 1]
    late: list[int] = (of_stretch - due_ns).tolist()
    return late


def _lines(measured: LatenessRun) -> Iterator[str]:
    spreads, ours = measured.spreads, measured.spreads["player"]
    drew, stolen = f"the UI drew {measured.drawn_kilobytes:.0f} kB/s", f"{measured.stolen_ms:.0f} ms taken by the host"
    yield f" priority granted: {measured.priority}; {drew}; {stolen}"
    yield HEADING
    for name, spread in spreads.items():
        yield spread.line(name) + (f"  {measured.missed[name]} missed" if name in measured.missed else "")
    for name in _BARE:
        yield f"  player beside {name}: p99.9 {ratio(ours.p999_ns, spreads[name].p999_ns)}"
