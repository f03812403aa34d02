"""A loop that does nothing but keep to deadlines: `python -m cuedeck.bench.bare_loop WAY HZ SECONDS`.

It writes `ready`, reads from its standard input when the first deadline is, in nanoseconds of the monotonic clock, and
writes how late it was at each, as a list in JSON. WAY is `sleep`: it sleeps until the deadline; `spin`: it sleeps until
half a millisecond before and then looks at the clock; `send`, `spin and send`: it sleeps or spins, and sends 64 ready
packets to the UDP port that follows; it then writes the processor time that this took instead, in seconds.
"""

from __future__ import annotations

import gc
import json
import select
import subprocess
import sys
import time
from collections.abc import Callable
from typing import Any, NamedTuple

from cuedeck.clock import MonotonicClock, now_ns
from cuedeck.player.priority import go_first, send_first

_LEAD_NS = 200_000_000
"""From the start signal to the first deadline, at least."""
_LONGEST_S = 30.0


class BareLoop(NamedTuple):
    """A loop in a process of its own that waits for its first deadline."""

    way: str
    hertz: int
    seconds: float
    process: subprocess.Popen[str]

    def go(self, reference_ns: int, phase: float = 0.0) -> None:
        """Let it run on the beat of a time of the clock, or a part of a period (0 to 1) after that beat."""
        period_ns = 1_000_000_000 / self.hertz
        ahead = int((now_ns() + _LEAD_NS - reference_ns) / period_ns) + 1
        origin_ns = reference_ns + int((ahead + phase) * period_ns)
        if self.process.stdin is not None:
            self.process.stdin.write(f"{origin_ns}\n")
            self.process.stdin.flush()

    def result(self) -> Any:
        """Wait for its end and return what it measured. Raises TimeoutExpired."""
        return json.loads(self.process.communicate(timeout=self.seconds + _LONGEST_S)[0])


def start(way: str, hertz: int, seconds: float, *more: str) -> BareLoop:
    """Start a loop and wait until it is ready; it inherits the environment, and with it the requested priority.

    POSIX only. Raises TimeoutError.
    """
    command = [sys.executable, "-m", "cuedeck.bench.bare_loop", way, str(hertz), str(seconds), *more]
    process = subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)  # noqa: S603
    if process.stdout is None or not select.select([process.stdout], [], [], _LONGEST_S)[0]:
        process.kill()
        raise TimeoutError("the bare loop of the benchmark did not start")
    process.stdout.readline()
    return BareLoop(way, hertz, seconds, process)


def _sleep_until(deadline_ns: int) -> None:
    left_ns = deadline_ns - now_ns()
    if left_ns > 0:
        time.sleep(left_ns / 1e9)


def lateness(wait_until_ns: Callable[[int], None], hertz: int, seconds: float, origin_ns: int) -> list[int]:
    """Return how late a way of waiting was at each deadline, in nanoseconds."""
    late: list[int] = []
    for number in range(int(hertz * seconds)):
        due_ns = origin_ns + number * 1_000_000_000 // hertz
        wait_until_ns(due_ns)
        late.append(now_ns() - due_ns)
    return late


def sending(port: int, wait_until_ns: Callable[[int], None], hertz: int, seconds: float, origin_ns: int) -> float:
    """Return the processor time of sending ready packets at each deadline."""
    from cuedeck.bench import sacn

    with sacn.bare_loop(port) as beat:
        before_s = time.process_time()
        for number in range(int(hertz * seconds)):
            wait_until_ns(origin_ns + number * 1_000_000_000 // hertz)
            beat(number)
        return time.process_time() - before_s


def main() -> None:
    way, hertz, seconds = sys.argv[1], int(sys.argv[2]), float(sys.argv[3])
    gc.disable()
    if way.endswith("send"):
        import cuedeck.bench.sacn  # noqa: F401 - before it has priority, which nobody should have to load things
    go_first()
    send_first()
    print("ready", flush=True)
    origin_ns = int(sys.stdin.readline())
    wait = MonotonicClock().wait_until_ns if way.startswith("spin") else _sleep_until
    if way.endswith("send"):
        print(json.dumps(sending(int(sys.argv[4]), wait, hertz, seconds, origin_ns)))
        return
    print(json.dumps(lateness(wait, hertz, seconds, origin_ns)))


if __name__ == "__main__":
    main()
