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
from pathlib import Path

from cuedeck.bench.far_end import Arrived, PtyFarEnd, UdpFarEnd
from cuedeck.bench.made_show import SHOT, made_show
from cuedeck.bench.repainting import InTerminal
from cuedeck.bench.spread import HEADING, Spread, load_words
from cuedeck.bench.with_player import end_player, rolling
from cuedeck.output.e131 import OPTIONS_AT, SEQUENCE_AT, SLOTS_AT, Options
from cuedeck.player.channel.client import PlayerClient, find_player
from cuedeck.player.channel.messages import Ended, Notice
from cuedeck.takes.store import TakeStore
from cuedeck.timeline.timeline import Timeline

PULLS = 20
KILLS = 10
_MOST_SKIPPED = 500
_LONGEST_S = 60.0


@dataclass
class CheckedOutput:
    """What came on the output that stays, beside what was to come."""

    timeline: Timeline
    heard: int = 0
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

    def take(self, arrived: Arrived) -> None:
        """Check a datagram."""
        content = arrived.content
        if self.is_over or content[OPTIONS_AT] & Options.STREAM_TERMINATED:
            return
        self.heard += 1
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
class Screens:
    """The screen that is there now: the command that began the take, then the terminal UI of its show."""

    now: InTerminal
    folder: Path

    def kill(self) -> None:
        """Kill it; safe to call twice."""
        self.now.kill()

    def come_back(self) -> None:
        """Open the terminal UI."""
        self.now = InTerminal("open", str(self.folder))


@dataclass
class Endured:
    """What was done to the take, and how it went."""

    checked: CheckedOutput
    pulls: int = 0
    came_back: int = 0
    kills: int = 0
    ended: Ended | None = None
    status: str = ""
    late: Spread = field(default_factory=lambda: Spread.of(()))


def report(seconds: float = 600.0) -> str:
    """Run a take of so many seconds, and say what became of its packets."""
    endured = measure(seconds)
    checked, ended = endured.checked, endured.ended
    lines = [
        f"endurance, {seconds:g} s at 44 Hz on two outputs; {load_words()}",
        f"  serial output pulled and put back {endured.pulls} times, back {endured.came_back} times;"
        f" screen killed {endured.kills} times",
        f"  network: {checked.heard} packets heard, {checked.lost} lost, {checked.out_of_order} out of order,"
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
        show = opened.enter_context(made_show(max(int(seconds), 1)))
        endured = Endured(CheckedOutput(show.plan.timeline()))
        far = opened.enter_context(UdpFarEnd(endured.checked.take))
        line = opened.enter_context(PtyFarEnd(show.folder.parent / "line"))
        opened.callback(end_player, show.folder)
        outputs = ("--to", far.target, "--to", line.target)
        screens = Screens(InTerminal("shoot", str(show.folder), SHOT, *outputs, "--no-countdown"), show.folder)
        opened.callback(screens.kill)
        client = opened.enter_context(_found(show.folder))
        rolling(client)
        begun_s = time.monotonic()
        for due_s, what in sorted(_deeds(seconds, pulls, kills)):
            _follow(client, endured, begun_s + due_s)
            if what == "pull":
                endured.pulls += 1
                line.unplug()
            elif what == "put back":
                line.plug()
            elif what == "kill":
                endured.kills += 1
                screens.kill()
            else:
                screens.come_back()
        _follow(client, endured, begun_s + seconds + _LONGEST_S)
        with TakeStore(show.folder) as store:
            take = store.takes()[-1]
            times = store.times(take)
        endured.status = f"{take.slate} {take.status}, {take.packets_sent} of {take.packets_due} packets"
        endured.late = Spread.of(() if times is None else times.late_ns)
    return endured


def _deeds(seconds: float, pulls: int, kills: int) -> Iterator[tuple[float, str]]:
    """Yield when what is to be done, in seconds from the start of the take."""
    for number in range(pulls):
        pulled_s = (number + 0.25) * seconds / pulls
        yield pulled_s, "pull"
        yield pulled_s + min(1.0, seconds / pulls / 4), "put back"
    for number in range(kills):
        killed_s = (number + 0.5) * seconds / kills
        yield killed_s, "kill"
        yield killed_s + min(1.0, seconds / kills / 8), "come back"


def _follow(client: PlayerClient, endured: Endured, until_s: float) -> None:
    """Hear what the player says until a time, or the end of the take; say every few seconds how it goes."""
    said_s = time.monotonic()
    while endured.ended is None and (left_s := until_s - time.monotonic()) > 0:
        said = client.next(min(left_s, 1.0))
        if isinstance(said, Notice):
            endured.came_back += said.text.endswith(" is back")
        elif isinstance(said, Ended):
            endured.ended, endured.checked.is_over = said, True
        if time.monotonic() - said_s > 5:
            said_s = time.monotonic()
            _say(endured)


def _say(endured: Endured) -> None:
    checked = endured.checked
    print(
        f"  packet {checked.number + 1} of {checked.timeline.packet_count}: {checked.lost} lost,"
        f" {checked.out_of_order} out of order, {checked.skipped} never sent, {checked.wrong} wrong;"
        f" pulled {endured.pulls}, back {endured.came_back}, killed {endured.kills}",
        file=sys.stderr,
        flush=True,
    )


def _found(folder: Path) -> PlayerClient:
    """Return a connection that only watches the player that the screen has started."""
    until = time.monotonic() + _LONGEST_S
    while time.monotonic() < until:
        client = find_player(folder)
        if client is not None:
            return client
        time.sleep(0.02)
    raise TimeoutError("the player of the benchmark did not start")
