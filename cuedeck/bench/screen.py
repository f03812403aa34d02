"""The terminal UI: how soon it is there, how soon a key changes the light on the line, and what it costs to run.

Each on the screen of a small show and of a large one, side by side; and how soon Textual's smallest application is
there, alone and with what `open` imports. POSIX only; the cost only where /proc is.
"""

from __future__ import annotations

import socket
import statistics
import time
from dataclasses import dataclass
from pathlib import Path

from cuedeck.bench.player_process import end_player
from cuedeck.bench.shows import cue_list_text, show_folder
from cuedeck.bench.terminal import TerminalProcess
from cuedeck.bench.timings import machine_load, processor_s, ratio
from cuedeck.output.e131 import SLOTS_AT

SMALL, MEDIUM, LARGE = (7, 6), (40, 40), (200, 500)
"""Lights and cues: as the demo, a busy table, and more than one person hangs."""
NUDGES = 12
_LONGEST_S = 10.0
_STARTS = 5
_OF_OPEN = ("cuedeck.cli.main", "cuedeck.cli.open_show", "cuedeck.draft.nudges", "cuedeck.folder.draft_files",
            "cuedeck.takes.store", "cuedeck.tui.app")  # fmt: skip
"""What `open` imports, with all that these import."""


@dataclass(frozen=True)
class ScreenTimes:
    """What one show gave."""

    name: str
    first_paint_ms: float
    key_ms: float
    """Median of the times from a key to the first packet with other slots."""
    key_packets: float
    """Median of how many packets that is, the changed one counted."""
    core_percent: float | None
    """Of one core, while the shot runs with its lanes live; None where it cannot be known."""


def measure(lights: int, cues: int, run_s: float = 4.0, nudges: int = NUDGES) -> ScreenTimes:
    """Measure the screen of one show."""
    with show_folder(cue_list_text(lights, cues)) as folder:
        first_paint_ms = paint_ms("open", str(folder))
        with TerminalProcess.open(folder) as screen:
            core = core_percent(screen, run_s)
        times_ms, packets = key_to_packet(folder, nudges)
    name = f"{lights} lights, {cues} cues"
    return ScreenTimes(name, first_paint_ms, statistics.median(times_ms), statistics.median(packets), core)


def paint_ms(*arguments: str, module: str = "cuedeck") -> float:
    """Return how long a program takes from its start until it has drawn its screen."""
    begun = time.perf_counter()
    with TerminalProcess(*arguments, module=module) as screen:
        screen.wait_for(b"quit")
        return (time.perf_counter() - begun) * 1000


def first_paints(starts: int = _STARTS) -> dict[str, float]:
    """Return the medians of how long `open` takes on a small show, and its peers, begun in turn; in milliseconds."""
    smallest = "cuedeck.bench.smallest_app"
    taken: dict[str, list[float]] = {}
    with show_folder(cue_list_text(*SMALL)) as folder:
        for start in range(starts + 1):
            times_ms = {
                "open": paint_ms("open", str(folder)),
                "Textual's smallest app": paint_ms(module=smallest),
                "and all that open imports": paint_ms(*_OF_OPEN, module=smallest),
            }
            for name, time_ms in times_ms.items() if start else ():  # once for the caches
                taken.setdefault(name, []).append(time_ms)
    return {name: statistics.median(times_ms) for name, times_ms in taken.items()}


def core_percent(screen: TerminalProcess, run_s: float) -> float | None:
    """Return what running the shot takes of one core."""
    screen.press(b" ")
    time.sleep(1)
    before = processor_s(screen.pid)
    begun = time.monotonic()
    time.sleep(run_s)
    after = processor_s(screen.pid)
    if before is None or after is None:
        return None
    return 100 * (after - before) / (time.monotonic() - begun)


def key_to_packet(folder: Path, nudges: int) -> tuple[list[float], list[int]]:
    """Return, for each of some nudges, how long and how many packets it took until other slots left."""
    times_ms: list[float] = []
    packets: list[int] = []
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as receiver:
        receiver.bind(("127.0.0.1", 0))
        receiver.settimeout(_LONGEST_S)
        target = f"sacn:127.0.0.1,port={receiver.getsockname()[1]},sync=off"
        try:
            with TerminalProcess("open", str(folder), "--to", target) as screen:
                screen.wait_for(b"quit")
                screen.press(b"\x1b[F")  # end
                standing = _settled(receiver)
                screen.press(b"\t\t")
                time.sleep(0.5)
                for nudge in range(nudges):
                    _drain(receiver)
                    pressed = time.perf_counter()
                    screen.press(b"\x1b[C" if nudge % 2 else b"\x1b[D")
                    count, standing = _until_other(receiver, standing)
                    times_ms.append((time.perf_counter() - pressed) * 1000)
                    packets.append(count)
                    time.sleep(0.4)
        finally:
            end_player(folder)
    return times_ms, packets


def _slots(packet: bytes) -> tuple[int, bytes]:
    """Return the universe of a data packet, and its slots."""
    return int.from_bytes(packet[113:115], "big"), packet[SLOTS_AT:]


def _settled(receiver: socket.socket) -> bytes:
    """Return the slots of universe 1 once they have stood for a second."""
    last, since = b"", time.monotonic()
    until = since + _LONGEST_S
    while time.monotonic() - since < 1:
        if time.monotonic() > until:
            raise TimeoutError("the light on the line does not come to rest")
        universe, slots = _slots(receiver.recv(2048))
        if universe == 1 and slots != last:
            last, since = slots, time.monotonic()
    return last


def _drain(receiver: socket.socket) -> None:
    receiver.setblocking(False)
    try:
        while True:
            receiver.recv(2048)
    except BlockingIOError:
        receiver.settimeout(_LONGEST_S)


def _until_other(receiver: socket.socket, standing: bytes) -> tuple[int, bytes]:
    """Return how many packets of universe 1 came up to the first with other slots, and those slots."""
    count = 0
    until = time.monotonic() + _LONGEST_S
    while time.monotonic() < until:
        universe, slots = _slots(receiver.recv(2048))
        if universe == 1:
            count += 1
            if slots != standing:
                return count, slots
    raise TimeoutError("a key changed nothing on the line")


def report() -> str:
    """Measure a small show, a busy one and a large one, and say how they compare."""
    small, medium, large = (measure(*size) for size in (SMALL, MEDIUM, LARGE))
    paints = first_paints()
    lines = [f"screen; {machine_load()}"]
    lines += [
        f"  {name:26} first paint {took_ms:6.0f} ms, open takes {ratio(paints['open'], took_ms)} as long"
        for name, took_ms in paints.items()
    ]
    for one in (small, medium, large):
        core = "" if one.core_percent is None else f"   {one.core_percent:5.1f} % of a core while it runs"
        lines.append(
            f"  {one.name:22} first paint {one.first_paint_ms:7.0f} ms   key to packet {one.key_ms:6.1f} ms,"
            f" packet {one.key_packets:g}{core}"
        )
    paint, key = large.first_paint_ms / small.first_paint_ms, large.key_ms / small.key_ms
    lines.append(
        f"  the large one takes {paint:.2f} times as long to the first paint, {key:.2f} times from key to packet"
    )
    return "\n".join(lines)
