"""A network of a test's own: a Linux network namespace with one cable in it, gone with the test.

Nothing that is sent there reaches the machine's network. Root is not needed where the system lets users
have namespaces of their own.
"""

from __future__ import annotations

import os
import queue
import subprocess
import sys
import threading
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import NoReturn

from tests.tools import leave_out, needed_tool

ROOT = Path(__file__).parents[2]
INTERFACE, ADDRESS, FAR_ADDRESS, NETWORK = "studio", "192.0.2.1", "192.0.2.2", "192.0.2.0"
PATIENCE_S = 60
_LAY_A_CABLE = f"""
ip link set lo up &&
ip link add {INTERFACE} type veth peer name far &&
ip addr add {ADDRESS}/24 dev {INTERFACE} &&
ip link set {INTERFACE} up && ip link set far up &&
echo ready && exec cat
"""


class Talking:
    """A process whose lines are waited for; it ends when its standard input does."""

    def __init__(self, command: Sequence[str], environment: dict[str, str] | None = None) -> None:
        self.lines: list[str] = []
        """What it said so far, as far as it was waited for."""
        self._process = subprocess.Popen(
            command,
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
            cwd=ROOT,
            env=os.environ | {"PYTHONPATH": str(ROOT)} | (environment or {}),
        )
        self._said: queue.Queue[str | None] = queue.Queue()
        self._reader = threading.Thread(target=self._read, name="what a process says", daemon=True)
        self._reader.start()

    @property
    def number(self) -> int:
        """The process id."""
        return self._process.pid

    def line(self, is_wanted: Callable[[str], bool], what: str) -> str:
        """Wait for a line, let the others pass, and return it."""
        while True:
            try:
                line = self._said.get(timeout=PATIENCE_S)
            except queue.Empty:
                line = None
            else:
                if line is None:
                    self._said.put(None)  # its end is read again when it is finished
            if line is None:
                raise AssertionError(f"waited for {what}, heard:\n" + "\n".join(self.lines))
            self.lines.append(line)
            if is_wanted(line):
                return line

    def line_with(self, text: str) -> str:
        """Wait for a line with a text in it."""
        return self.line(lambda line: text in line, f"'{text}'")

    def kill(self) -> None:
        """End it as a crash does."""
        self._process.kill()
        self._process.wait(PATIENCE_S)

    def finish(self) -> int:
        """Close its standard input, wait for its end and return how it ended; safe to call twice."""
        if self._process.stdin is not None and not self._process.stdin.closed:
            with suppress(BrokenPipeError):
                self._process.stdin.close()
        try:
            self._process.wait(PATIENCE_S)
        except subprocess.TimeoutExpired:
            self.kill()
        self._reader.join(PATIENCE_S)
        if self._process.stdout is not None:
            self._process.stdout.close()
        with suppress(queue.Empty):  # somebody else may hold its output open
            while (line := self._said.get(timeout=1)) is not None:
                self.lines.append(line)
        self._said.put(None)
        return self._process.returncode

    def _read(self) -> None:
        assert self._process.stdout is not None
        for line in self._process.stdout:
            self._said.put(line.rstrip("\n"))
        self._said.put(None)


class Namespace:
    """A namespace that stands, and what runs in it."""

    def __init__(self, number: int, running: list[Talking] | None = None) -> None:
        as_user = [] if os.geteuid() == 0 else ["--user", "--preserve-credentials"]
        self.number = number
        """The process that it stands with."""
        self._enter = [needed_tool("nsenter"), *as_user, "--net", "--target", str(number)]
        self._running: list[Talking] = [] if running is None else running

    def run(self, *command: str) -> str:
        """Run a command to its end and return what it said."""
        ran = subprocess.run([*self._enter, *command], capture_output=True, text=True, timeout=PATIENCE_S, check=False)
        assert ran.returncode == 0, ran.stdout + ran.stderr
        return ran.stdout

    def start(self, *command: str, environment: dict[str, str] | None = None) -> Talking:
        """Start a process that is ended with the namespace at the latest."""
        self._running.append(Talking([*self._enter, *command], environment))
        return self._running[-1]

    def python(self, module: str, *arguments: str, environment: dict[str, str] | None = None) -> Talking:
        """Start a module of the tests."""
        return self.start(sys.executable, "-m", module, *arguments, environment=environment)

    def another(self) -> Namespace:
        """Make a namespace without a cable; it ends with this one."""
        holder = self.start("unshare", "--net", "sh", "-c", "ip link set lo up && echo ready && exec cat")
        holder.line_with("ready")
        return Namespace(holder.number, self._running)

    def far_end(self) -> Namespace:
        """Make a namespace that the far end of the cable is plugged into."""
        far = self.another()
        self.run("ip", "link", "set", "far", "netns", str(far.number))
        far.run("ip", "addr", "add", f"{FAR_ADDRESS}/24", "dev", "far")
        far.run("ip", "link", "set", "far", "up")
        return far

    def finish(self) -> None:
        """End all that runs."""
        for one in reversed(self._running):
            one.finish()


def leave_out_network(why: object) -> NoReturn:
    """Leave the test out where no network of its own can be made."""
    leave_out("a network namespace", f"run as root on Linux, or where users may have them ({why})")


@contextmanager
def namespace() -> Iterator[Namespace]:
    """Give a network namespace, or leave the test out where this machine lets nobody have one."""
    unshare = needed_tool("unshare")
    needed_tool("nsenter")
    needed_tool("ip")
    is_root = os.geteuid() == 0
    holder = Talking([unshare, "--net", *([] if is_root else ["--map-root-user"]), "sh", "-c", _LAY_A_CABLE])
    try:
        try:
            holder.line_with("ready")
        except AssertionError as error:
            leave_out_network(error)
        made = Namespace(holder.number)
        try:
            yield made
        finally:
            made.finish()
    finally:
        holder.finish()
