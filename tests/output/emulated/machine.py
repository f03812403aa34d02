"""The emulated machine: QEMU without hardware acceleration, with one USB serial adapter that can be pulled out."""

from __future__ import annotations

import json
import platform
import shutil
import socket
import subprocess
import sys
import threading
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from tests.output.emulated.trace import EVENTS, Event, sessions

QEMU = "qemu-system-x86_64"
PATIENCE_S = 300
"""After so long a machine that hangs is stopped."""
ADAPTER = {"driver": "usb-serial", "id": "adapter", "chardev": "wire", "serial": "CD1"}
ADAPTER_AGAIN = {"driver": "usb-serial", "id": "adapter-again", "chardev": "wire-again", "serial": "CD1"}
"""The one that is put back: QEMU keeps hold of what belonged to the other. Both write to the same file."""


@dataclass(frozen=True)
class Run:
    """What came of one run, from power on to power off."""

    said: tuple[str, ...]
    """What the program in the machine said."""
    sessions: list[list[Event]]
    """What reached the adapter, each time the port was opened."""


def lacking() -> str:
    """Return what keeps an emulated machine from running here, "" if nothing does."""
    if sys.platform != "linux" or platform.machine() != "x86_64":
        return "this machine does not run Linux on x86-64"
    for tool, name in ((QEMU, "QEMU"), ("busybox", "busybox"), ("ldd", "ldd")):
        if shutil.which(tool) is None:
            return f"{name} is not installed"
    return ""


def run(image: Path, initramfs: Path, folder: Path, words: Sequence[str]) -> Run:
    """Start a kernel with what it is to do, pull the adapter out and put it back as asked, until it is off."""
    wire, trace, console = folder / "wire", folder / "trace", folder / "console"
    near, far = socket.socketpair()
    with near, far:
        command = [
            *(
                QEMU,
                "-accel",
                "tcg",
                "-cpu",
                "max,la57=off",
                "-smp",
                "1",
                "-m",
                "768",
                "-nodefaults",
                "-display",
                "none",
            ),
            *("-no-reboot", "-kernel", image, "-initrd", initramfs),
            *("-append", f"console=ttyS0 panic=-1 mitigations=off -- {' '.join(words)}"),
            *("-serial", f"file:{console}", "-serial", "stdio"),
            *("-chardev", f"socket,id=monitor,fd={far.fileno()}", "-mon", "chardev=monitor,mode=control"),
            *("-chardev", f"file,id=wire,path={wire},append=on"),
            *("-chardev", f"file,id=wire-again,path={wire},append=on"),
            *("-device", "qemu-xhci", "-device", ",".join(f"{key}={value}" for key, value in ADAPTER.items())),
            *(part for event in EVENTS for part in ("-trace", event)),
            *("-D", trace),
        ]
        with subprocess.Popen(
            command,
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
            pass_fds=[far.fileno()],
        ) as process:
            said = _attend(process, near)
    log = console.read_text(errors="replace") if console.exists() else ""
    assert said[-1:] == ["ended with 0"], "\n".join([*log.splitlines()[-40:], *said])
    return Run(tuple(said[:-1]), sessions(trace.read_text(), wire.read_bytes()))


def _attend(process: subprocess.Popen[str], monitor: socket.socket) -> list[str]:
    """Return what the machine said until it was off, and do to the adapter what it waits for."""
    watchdog = threading.Timer(PATIENCE_S, process.kill)
    watchdog.start()
    said = []
    assert process.stdout is not None
    try:
        with monitor.makefile("rw") as lines:
            for line in process.stdout:
                said.append(line.strip())
                if said[-1] == "running":
                    _command(lines, "device_del", {"id": ADAPTER["id"]})
                elif said[-1].startswith("lost:"):
                    _command(lines, "device_add", ADAPTER_AGAIN)
    finally:
        watchdog.cancel()
        if sys.exc_info()[0] is not None:
            process.kill()
    return said


def _command(lines: Any, name: str, arguments: dict[str, str]) -> None:
    """Give the machine's monitor a command."""
    for asked in ({"execute": "qmp_capabilities"}, {"execute": name, "arguments": arguments}):
        lines.write(json.dumps(asked) + "\n")
        lines.flush()
        while not {"return", "error"} & (answer := json.loads(lines.readline())).keys():
            pass  # the greeting, or an event
    assert "return" in answer, answer
