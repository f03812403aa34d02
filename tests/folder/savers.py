"""Saves that are killed, starved or locked out: run as a process of its own, because real faults end processes.

    python -m tests.folder.savers WHAT FOLDER [ARGUMENTS]

Prints one line of JSON.
"""

from __future__ import annotations

import json
import os
import random
import resource
import signal
import sys
import time
from collections.abc import Callable
from pathlib import Path
from types import FrameType
from typing import Any

from cuedeck.errors import Refusal
from cuedeck.folder.saving import save_files

SHOW = "show.yaml"
INCLUDED = "looks/common.yaml"
STEPS_IN = ("durable.py", "versions.py", "saving.py")


def content(number: int, size: int = 3000) -> bytes:
    """Return a show that says which version it is, at its start and its end."""
    return f"cuedeck: 1\ntitle: version {number}\n{'# padding' * (size // 9)}\nend: version {number}\n".encode()


def save(folder: Path, *names: str, number: int, size: int = 3000) -> None:
    old = {name: (folder / name).read_bytes() for name in names}
    save_files(folder, {name: content(number, size) for name in names}, old)


def refused(action: Callable[[], None]) -> str:
    """Return the words of a refusal, or nothing where there was none."""
    try:
        action()
    except Refusal as error:
        return str(error)
    return ""


def large(folder: Path, limit: str) -> str:
    """Save a file that is larger than the process may write."""
    resource.setrlimit(resource.RLIMIT_FSIZE, (int(limit), int(limit)))
    return refused(lambda: save(folder, SHOW, number=2, size=4 * int(limit)))


def ordinary(folder: Path, *names: str) -> str:
    """Save as somebody who is not root."""
    become_ordinary()
    return refused(lambda: save(folder, *(names or (SHOW,)), number=2))


def become_ordinary() -> None:
    if os.getuid() == 0:
        os.setgroups([])
        os.setgid(65534)
        os.setuid(65534)


def locked_midway(folder: Path) -> str:
    """Save two files, while the folder of the second is locked at the moment the first has been replaced."""
    become_ordinary()
    inner = folder / Path(INCLUDED).parent

    def lock(event: str, arguments: tuple[Any, ...]) -> None:
        if event == "os.rename" and str(arguments[1]).endswith("common.yaml"):
            inner.chmod(0o555)

    sys.addaudithook(lock)
    try:
        return refused(lambda: save(folder, SHOW, INCLUDED, number=2))
    finally:
        inner.chmod(0o755)


def killed_at_each_step(folder: Path) -> list[dict[str, Any]]:
    """Kill a save at its n-th step, for every n until a save gets through. Steps are lines and audited calls."""
    rounds = []
    for step in range(1, 3000):
        for name in (SHOW, INCLUDED):
            (folder / name).write_bytes(content(1))
        child = os.fork()
        if not child:
            kill_self_at(step)
            save(folder, SHOW, INCLUDED, number=2)
            sys.settrace(None)
            os._exit(0)
        _, status = os.waitpid(child, 0)
        rounds.append({"killed": os.WIFSIGNALED(status), **state(folder)})
        if not os.WIFSIGNALED(status):
            break
    return rounds


def kill_self_at(last: int) -> None:
    steps = 0
    inside = False

    def step() -> None:
        nonlocal steps
        steps += 1
        if steps == last:
            os.kill(os.getpid(), signal.SIGKILL)

    def trace(frame: FrameType, event: str, _: Any) -> Any:
        nonlocal inside
        ours = Path(frame.f_code.co_filename).name in STEPS_IN
        inside = inside or ours
        if event == "line" and ours:
            step()
        return trace if ours else None

    def audit(event: str, _: tuple[Any, ...]) -> None:
        if inside and event.startswith(("open", "os.")) and event != "os.kill":
            step()

    sys.addaudithook(audit)
    sys.settrace(trace)


def killed_at_random(folder: Path, rounds: str, seed: str) -> list[dict[str, Any]]:
    """Kill a process that saves in a loop, again and again, some time after its first save."""
    rng = random.Random(int(seed))  # noqa: S311 - a test, not a secret
    found = []
    for _ in range(int(rounds)):
        reading, writing = os.pipe()
        child = os.fork()
        if not child:
            save_forever(folder, writing)
        os.read(reading, 1)
        time.sleep(rng.uniform(0, 0.05))
        os.kill(child, signal.SIGKILL)
        os.waitpid(child, 0)
        os.close(reading)
        os.close(writing)
        found.append(state(folder))
    return found


def save_forever(folder: Path, writing: int) -> None:
    number = version_of((folder / SHOW).read_bytes()) or 0
    while True:
        number += 1
        save(folder, SHOW, INCLUDED, number=number, size=200_000)
        os.write(writing, b".")


def state(folder: Path) -> dict[str, Any]:
    """Return what stands in a folder: which version each file and each kept version is, None for a torn one."""
    kept = sorted(path for path in (folder / ".versions").rglob("*.yaml") if path.is_file())
    return {
        "files": {name: version_of((folder / name).read_bytes()) for name in (SHOW, INCLUDED)},
        "kept": [version_of(path.read_bytes()) for path in kept],
    }


def version_of(raw: bytes) -> int | None:
    number = int(raw.split(b"\n")[1].split()[-1]) if raw.count(b"\n") > 1 else 0
    return number if raw in (content(number, 3000), content(number, 200_000)) else None


if __name__ == "__main__":
    what, where, *arguments = sys.argv[1:]
    print(json.dumps(globals()[what](Path(where), *arguments)))
