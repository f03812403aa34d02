"""Two machines with cuedeck and a third computer, on one network of a test's own, and a show copied to both.

The third computer has the network switch in it, a receiver, and the program that says when to start. Each machine
has a home, a state and a runtime directory of its own, as if nothing of the other were there.
"""

from __future__ import annotations

import json
import os
import shutil
import signal
import sys
import tempfile
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, suppress
from pathlib import Path
from uuid import UUID

from cuedeck.folder.folder import ShowFolder
from tests.input.test_osc_messages import datagram
from tests.output.namespace import Namespace, Talking, leave_out_network, namespace

INTERFACE, THIRD, EVERYBODY = "studio", "198.51.100.10", "198.51.100.255"
OSC_PORT = 8765
SLOTS = 24
SHOW = f"""\
cuedeck: 2
slots: {SLOTS}
refresh: 20 Hz
osc: {{bind: 0.0.0.0, port: {OSC_PORT}, allow: [{THIRD}]}}
rig: {{key: {{type: dimmer 16-bit, address: 1.1}}}}
looks:
  low: {{key: 10 %}}
  high: {{key: full}}
shots:
  long: {{cues: [{{cue: 1, at: 0 s, look: low}}, {{cue: 2, at: 0.1 s, look: high, fade: 120 s}}]}}
  short: {{cues: [{{cue: 1, at: 0 s, look: low}}, {{cue: 2, at: 0.1 s, look: high, fade: 4 s}}]}}
"""
"""Every packet of both fades is a look of its own, and none is dark."""
_SAY_TO_EVERYBODY = f"""
import socket, sys
saying = socket.socket(socket.AF_INET, socket.SOCK_DGRAM)
saying.setsockopt(socket.SOL_SOCKET, socket.SO_BROADCAST, 1)
saying.sendto(bytes.fromhex(sys.argv[1]), ("{EVERYBODY}", {OSC_PORT}))
"""


class Machine:
    """A computer that runs cuedeck."""

    def __init__(self, network: Namespace, home: Path, priority: int) -> None:
        self._network = network
        self.runtime = home / "run"
        self._environment = {"HOME": str(home), "XDG_RUNTIME_DIR": str(self.runtime), "XDG_STATE_HOME": str(home)}
        self.output = f"sacn,interface={INTERFACE},priority={priority}"
        """Where its light goes, as written."""
        self._started: list[Talking] = []
        self.show = home / "show"
        self.runtime.mkdir(mode=0o700, parents=True)
        self.show.mkdir()
        (self.show / "show.yaml").write_text(SHOW, encoding="utf-8")

    def command(self, *words: str | Path) -> Talking:
        """Start a command."""
        started = self._network.start(sys.executable, "-m", "cuedeck", *map(str, words), environment=self._environment)
        self._started.append(started)
        return started

    def said(self, *words: str | Path) -> str:
        """Run a command to its end, and return what it said."""
        ran = self.command(*words)
        code = ran.finish()
        assert code == 0, ran.lines
        return "\n".join(ran.lines)

    def armed(self, shot: str) -> Talking:
        """Start a take that waits for its start over OSC."""
        return self.command("shoot", self.show, shot, "--to", self.output, "--arm", "--osc")

    @property
    def cid(self) -> str:
        """Who it is on the network, once it has been there."""
        return UUID((self.runtime.parent / "cuedeck" / "sacn-cid").read_text().strip()).hex

    @property
    def player(self) -> int:
        """The process of its player."""
        (only,) = self._players()
        return only

    def _players(self) -> list[int]:
        announced = [file.read_text(encoding="utf-8") for file in (self.runtime / "cuedeck").glob("*.json")]
        return [int(json.loads(text)["pid"]) for text in announced]

    def kill_player(self, how: signal.Signals = signal.SIGKILL) -> None:
        """End the player, as a crash does where nothing else is asked for."""
        os.kill(self.player, how)

    def end(self) -> None:
        """Leave no command and no player behind."""
        for one in self._started:
            one.kill()
        for player in self._players():
            with suppress(ProcessLookupError):
                os.kill(player, signal.SIGKILL)


class Studio:
    """The network, with both machines on it."""

    def __init__(self, third: Namespace, home: Path) -> None:
        self._third = third
        self._bridge()
        self.first = Machine(self._machine(1), home / "1", priority=100)
        self.spare = Machine(self._machine(2), home / "2", priority=90)

    def armed(self, shot: str) -> tuple[Talking, Talking]:
        """Start a take on both machines, that waits for its start."""
        takes = self.first.armed(shot), self.spare.armed(shot)
        for take in takes:
            take.line_with("armed: waiting for the start from the floor")
        return takes

    def start(self, takes: Sequence[Talking]) -> None:
        """Say once to everybody on the network that the takes start, and wait until these have."""
        ran = self._third.start(sys.executable, "-c", _SAY_TO_EVERYBODY, datagram("/cuedeck/start").hex())
        assert ran.finish() == 0, ran.lines
        for take in takes:
            take.line_with("rolling")

    def receiver(self) -> Talking:
        """Start the receiver on the third computer."""
        receiver = self._third.python("tests.output.sacn_receiver", "--interface", THIRD, "1")
        receiver.line_with("ready")
        return receiver

    def looks_of(self, shot: str) -> list[str]:
        """Return the looks of a shot as they are rendered without a clock, in hexadecimal digits."""
        timeline = ShowFolder(self.spare.show).open().plan(shot).timeline()
        rendered = timeline.slots(range(timeline.packet_count))[:, 0, :SLOTS]
        return list(dict.fromkeys(row.tobytes().hex() for row in rendered))

    def end(self) -> None:
        """Leave no process behind."""
        self.first.end()
        self.spare.end()

    def _bridge(self) -> None:
        try:
            self._third.run("ip", "link", "add", "switch", "type", "bridge", "mcast_snooping", "0")
        except AssertionError as error:
            leave_out_network(error)
        self._third.run("ip", "addr", "add", f"{THIRD}/24", "broadcast", EVERYBODY, "dev", "switch")
        self._third.run("ip", "link", "set", "switch", "up")

    def _machine(self, number: int) -> Namespace:
        """Return a machine that is plugged into the switch."""
        machine, port = self._third.another(), f"port{number}"
        cable = ("type", "veth", "peer", "name", INTERFACE, "netns", str(machine.number))
        self._third.run("ip", "link", "add", port, "master", "switch", *cable)
        self._third.run("ip", "link", "set", port, "up")
        machine.run("ip", "addr", "add", f"198.51.100.{number}/24", "broadcast", EVERYBODY, "dev", INTERFACE)
        machine.run("ip", "link", "set", INTERFACE, "up")
        return machine


@contextmanager
def two_machines() -> Iterator[Studio]:
    """Give both machines, or skip the test where this machine lets nobody have a network."""
    home = Path(tempfile.mkdtemp(prefix="cd-"))  # short, as a socket stands in it
    try:
        with namespace() as third:
            studio = Studio(third, home)
            try:
                yield studio
            finally:
                studio.end()
    finally:
        with suppress(OSError):
            shutil.rmtree(home)
