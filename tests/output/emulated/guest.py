"""What runs inside the emulated machine: `guest.py SHOW SCENARIO TARGET ...`. It tells the outside where it is."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from pathlib import Path

import numpy as np

from cuedeck.clock import MonotonicClock
from cuedeck.folder.folder import ShowFolder
from cuedeck.output.base import Line, Output, OutputLost, Packet, line_of
from cuedeck.output.targets import outputs_for
from cuedeck.timeline.plan import ShotPlan

ATTEMPTS = 600
"""How often a port that is not there yet is tried, on a machine that may be slow."""
BETWEEN_ATTEMPTS_NS = 100_000_000
TOLD_AFTER = 20
"""Packets after which the outside learns that the shot is running."""


class Stage:
    """A shot and the output it goes to."""

    def __init__(self, show: str, target: str) -> None:
        self.clock = MonotonicClock()
        opened = ShowFolder(Path(show)).open()
        self.plan: ShotPlan = opened.plan(next(iter(opened.show.shots)))
        self.line: Line = line_of(self.plan.patch, self.plan.refresh_hz)
        (self.output,) = outputs_for([target], self.plan.patch, self.clock)

    def open(self) -> Output:
        """Open the output, and try again as long as the adapter may still be coming up."""
        for _ in range(ATTEMPTS):
            try:
                self.output.open(self.line)
            except OutputLost as lost:
                reason = lost
                self.clock.wait_until_ns(self.clock.now_ns() + BETWEEN_ATTEMPTS_NS)
            else:
                return self.output
        raise reason

    def packets(self) -> Iterator[Packet]:
        """Yield every packet of the shot when it is due, or as soon after that as it goes: none is missed."""
        timeline = self.plan.timeline()
        start_ns = self.clock.now_ns()
        for number, slots in enumerate(timeline.slots(np.arange(timeline.packet_count))):
            due_ns = start_ns + int(number * 1_000_000_000 / self.plan.refresh_hz)
            self.clock.wait_until_ns(due_ns)
            yield Packet(number, due_ns, slots)


def say(text: str) -> None:
    """Tell the outside."""
    print(text, flush=True)


def play(stage: Stage) -> None:
    """Play the shot."""
    output, sent = stage.open(), 0
    for packet in stage.packets():
        output.send(packet)
        sent += 1
    output.close()
    say(f"sent {sent}")


def replug(stage: Stage) -> None:
    """Play the shot over and over until the adapter is pulled out; play it once more when it is back."""
    output = stage.open()
    try:
        while True:
            for packet in stage.packets():
                output.send(packet)
                if packet.number == TOLD_AFTER:
                    say("running")
    except OutputLost as lost:
        output.close()
        say(f"lost: {lost}")
    play(stage)


SCENARIOS = {"play": play, "replug": replug}

if __name__ == "__main__":
    show, *asked = sys.argv[1:]
    for scenario, target in zip(asked[::2], asked[1::2], strict=True):
        SCENARIOS[scenario](Stage(show, target))
