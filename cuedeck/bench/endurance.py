"""A long take on two outputs, while one of them is pulled and put back and the terminal UI is killed, again and again.

What arrives on the other output is checked packet by packet: its sequence number, and every slot against what the
shot renders to. POSIX only.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Iterator
from contextlib import ExitStack
from dataclasses import dataclass, field

from cuedeck.bench.player_process import end_player, wait_for, wait_until_rolling
from cuedeck.bench.receivers import Datagram, PtyReceiver, UdpReceiver
from cuedeck.bench.shows import SHOT, fading_text, plan_of, show_folder
from cuedeck.bench.terminal import TerminalProcess
from cuedeck.bench.timings import HEADING, Percentiles, machine_load
from cuedeck.output.e131 import OPTIONS_AT, SEQUENCE_AT, SLOTS_AT, Options
from cuedeck.player.channel.client import PlayerClient, find_player
from cuedeck.player.channel.events import Ended, Notice
from cuedeck.takes.store import TakeStore
from cuedeck.timeline.timeline import Timeline

PULLS = 20
KILLS = 10
_MOST_SKIPPED = 500
_LONGEST_S = 60.0


@dataclass
class CheckedOutput:
    """What came on the output that stays, compared with what the shot renders to."""

    timeline: Timeline
    received: int = 0
    number: int = -1
    """The packet of the shot that came last."""
    lost: int = 0
    """By their sequence numbers."""
    out_of_order: int = 0
    skipped: int = 0
    """Packets of the shot that were never sent."""
    wrong: int = 0
    """With other slots than the shot has."""
    is_over: bool = False
    """Whether the take has ended: what comes then is no part of it."""
    _sequence: int | None = None

    def check(self, datagram: Datagram) -> None:
        """Compare a datagram with the shot."""
        content = datagram.content
        if self.is_over or content[OPTIONS_AT] & Options.STREAM_TERMINATED:
            return
        self.received += 1
        step = 1 if self._sequence is None else (content[SEQUENCE_AT] - self._sequence) & 0xFF
        if step == 0 or step > 127:
            self.out_of_order += 1
            return
        self._sequence = content[SEQUENCE_AT]
        self.lost += step - 1
        self._compare(content[SLOTS_AT:])

    def _compare(self, slots: bytes) -> None:
        last = self.timeline.packet_count - 1
        for number in range(self.number + 1, min(self.number + _MOST_SKIPPED, last) + 1):
            if self._slots(number) == slots:
                self.skipped += number - self.number - 1
                self.number = number
                return
        if self.number != last or self._slots(last) != slots:  # the last look stands when the shot is over
            self.wrong += 1

    def _slots(self, number: int) -> bytes:
        slots: bytes = self.timeline.slots([number])[0][0].tobytes()
        return slots


@dataclass
class Endured:
    """What was done to the take, and how it went."""

    checked: CheckedOutput
    pulls: int = 0
    came_back: int = 0
    kills: int = 0
    ended: Ended | None = None
    status: str = ""
    late: Percentiles = field(default_factory=lambda: Percentiles.of(()))


def report(seconds: float = 600.0) -> str:
    """Run a take of so many seconds, and say what became of its packets."""
    endured = measure(seconds)
    checked, ended = endured.checked, endured.ended
    lines = [
        f"endurance, {seconds:g} s at 44 Hz on two outputs; {machine_load()}",
        f"  serial output pulled and put back {endured.pulls} times, back {endured.came_back} times;"
        f" screen killed {endured.kills} times",
        f"  network: {checked.received} packets received, {checked.lost} lost, {checked.out_of_order} out of order,"
        f" {checked.wrong} with wrong slots, {checked.skipped} never sent; last {checked.number + 1}"
        f" of {checked.timeline.packet_count}",
        f"  take: {endured.status}",
    ]
    for output in ended.outputs if ended else ():
        lines.append(f"  {output.name.partition(',')[0]}: {output.sent} sent, {output.missed} missed")
    return "\n".join([*lines, HEADING, endured.late.line("player")])


def measure(seconds: float, pulls: int = PULLS, kills: int = KILLS) -> Endured:
    """Run a take, pull its serial output so often and kill its screen so often."""
    with ExitStack() as opened:
        folder = opened.enter_context(show_folder(fading_text(max(int(seconds), 1))))
        endured = Endured(CheckedOutput(plan_of(folder).timeline()))
        receiver = opened.enter_context(UdpReceiver(endured.checked.check))
        line = opened.enter_context(PtyReceiver(folder.parent / "line"))
        opened.callback(end_player, folder)
        outputs = ("--to", receiver.target, "--to", line.target)
        screen = opened.enter_context(TerminalProcess("shoot", str(folder), SHOT, *outputs, "--no-countdown"))
        client = opened.enter_context(
            wait_for(lambda: find_player(folder), "the player of the benchmark did not start")
        )
        wait_until_rolling(client)
        begun_s = time.monotonic()
        for due_s, what in sorted(_schedule(seconds, pulls, kills)):
            _follow(client, endured, begun_s + due_s)
            if what == "pull":
                endured.pulls += 1
                line.unplug()
            elif what == "put back":
                line.plug()
            elif what == "kill":
                endured.kills += 1
                screen.kill()
            else:
                screen = opened.enter_context(TerminalProcess("open", str(folder)))
        _follow(client, endured, begun_s + seconds + _LONGEST_S)
        with TakeStore(folder) as store:
            take = store.takes()[-1]
            times = store.times(take)
        endured.status = f"{take.slate} {take.status}, {take.packets_sent} of {take.packets_due} packets"
        endured.late = Percentiles.of(() if times is None else times.late_ns)
    return endured


def _schedule(seconds: float, pulls: int, kills: int) -> Iterator[tuple[float, str]]:
    """Yield what to do, and when in seconds from the start of the take."""
    for number in range(pulls):
        pulled_s = (number + 0.25) * seconds / pulls
        yield pulled_s, "pull"
        yield pulled_s + min(1.0, seconds / pulls / 4), "put back"
    for number in range(kills):
        killed_s = (number + 0.5) * seconds / kills
        yield killed_s, "kill"
        yield killed_s + min(1.0, seconds / kills / 8), "come back"


def _follow(client: PlayerClient, endured: Endured, until_s: float) -> None:
    """Take in the events of the player until a time or the end of the take; print how it goes every few seconds."""
    printed_s = time.monotonic()
    while endured.ended is None and (left_s := until_s - time.monotonic()) > 0:
        event = client.next(min(left_s, 1.0))
        if isinstance(event, Notice):
            endured.came_back += event.text.endswith(" is back")
        elif isinstance(event, Ended):
            endured.ended, endured.checked.is_over = event, True
        if time.monotonic() - printed_s > 5:
            printed_s = time.monotonic()
            _print_progress(endured)


def _print_progress(endured: Endured) -> None:
    checked = endured.checked
    print(
        f"  packet {checked.number + 1} of {checked.timeline.packet_count}: {checked.lost} lost,"
        f" {checked.out_of_order} out of order, {checked.skipped} never sent, {checked.wrong} wrong;"
        f" pulled {endured.pulls}, back {endured.came_back}, killed {endured.kills}",
        file=sys.stderr,
        flush=True,
    )
