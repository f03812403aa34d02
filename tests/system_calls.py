"""What a program asks the system for, in order, recorded with strace: whether a promise about a disk or a port is kept.

strace is Debian's, and needs leave to trace (ptrace). Where that cannot be had the tests are left out.
[strace(1); fsync(2), rename(2), tty_ioctl(4)]
"""

from __future__ import annotations

import os
import re
import subprocess
import sys
import tempfile
from collections.abc import Iterable, Iterator
from functools import cache
from pathlib import Path
from typing import NamedTuple

from .tools import leave_out, needed_tool

ROOT = Path(__file__).parents[1]
_ONE_NAME = {
    "pwrite64": "write",
    "writev": "write",
    "fdatasync": "fsync",
    "renameat": "rename",
    "renameat2": "rename",
    "unlinkat": "unlink",
    "mkdirat": "mkdir",
}
"""Of calls that do the same, as far as the order of things goes."""
_CALLS = ["write", "fsync", "rename", "unlink", "rmdir", "mkdir", "msync", "ioctl", *_ONE_NAME]
_LINE = re.compile(r"(\d+) +(<\.\.\. \w+ resumed>,? ?)?(.*)")
_CALL = re.compile(r"(\w+)\((.*)\) += \d+.*")
_DESCRIPTOR = re.compile(r"\d+<(.*?)>(?:, |$)")
_UNFINISHED = " <unfinished ...>"
_CHANCE = re.compile(r"[0-9a-f]{16,}(-[0-9a-f]{32})?|\d{4}-\d\d-\d\dT[-.0-9a-f]*[0-9a-f]|(?<=-new-)\w+")
_QUOTED = re.compile(r'"((?:[^"\\]|\\.)*)"')


class Call(NamedTuple):
    """A system call that did what was asked."""

    name: str
    path: str
    """Of the file, folder or device that it is about; of that which was renamed, before."""
    more: str
    """What else was given to it, as strace writes it; of that which was renamed, the new path."""


def system_calls(*command: object) -> list[Call]:
    """Run Python in a process of its own; return what its threads and children asked the system for, in order."""
    _require_tracing()
    with tempfile.TemporaryDirectory(prefix="cuedeck-") as folder:
        trace = Path(folder) / "trace"
        strace = [
            "strace",
            "-f",
            "-y",
            "-s",
            "200",
            "-e",
            f"trace={','.join(_CALLS)}",
            "-e",
            "signal=none",
            "-o",
            trace,
        ]
        done = subprocess.run(
            [*strace, sys.executable, *map(str, command)],
            cwd=ROOT,
            env={**os.environ, "PYTHONDONTWRITEBYTECODE": "1"},
            capture_output=True,
            text=True,
            check=False,
            timeout=120,
        )
        assert done.returncode == 0, done.stderr[-3000:]
        return list(_calls_in(trace.read_text(encoding="utf-8")))


def steps_in(folder: Path, calls: Iterable[Call]) -> list[str]:
    """Return what was done to a folder and in it, with names as they are in it; what chance makes is a star."""
    inside = (call for call in calls if call.name != "ioctl" and Path(call.path).is_relative_to(folder))
    return [_words(call, folder) for call in inside]


def unsynced(calls: Iterable[Call], folder: Path) -> list[str]:
    """Return what was written or made in a folder and need not be on the disk: what a loss of power may take."""
    waiting: dict[str, None] = {}
    for call in calls:
        if call.name == "fsync":
            waiting.pop(call.path, None)
        elif call.name == "write":
            waiting[call.path] = None
        elif call.name == "mkdir":
            waiting[str(Path(call.path).parent)] = None
        elif call.name == "rename":
            waiting[str(Path(call.more).parent)] = None
    return [path for path in waiting if Path(path).is_relative_to(folder)]


def before_it_prints(text: str, calls: Iterable[Call]) -> list[Call]:
    """Return the calls until a text was printed. Fails where it never was."""
    found: list[Call] = []
    for call in calls:
        if call.path.startswith("pipe:") and text in call.more:
            return found
        found.append(call)
    raise AssertionError(f"{text!r} was never printed")


def _calls_in(trace: str) -> Iterator[Call]:
    """Yield the calls of a trace. One that another thread ran into counts where it ended."""
    begun: dict[str, str] = {}
    for line in trace.splitlines():
        process, resumed, rest = _LINE.fullmatch(line).groups()  # type: ignore[union-attr]
        whole = begun.pop(process) + rest if resumed else rest
        if whole.endswith(_UNFINISHED):
            begun[process] = whole.removesuffix(_UNFINISHED)
        elif found := _CALL.fullmatch(whole):
            name, given = found[1], found[2]
            yield _call(_ONE_NAME.get(name, name), given)


def _call(name: str, given: str) -> Call:
    if descriptor := _DESCRIPTOR.match(given):
        return Call(name, descriptor[1], given[descriptor.end() :])
    names = _QUOTED.findall(given)
    return Call(name, names[0] if names else "", names[1] if name == "rename" else given)


def _words(call: Call, folder: Path) -> str:
    paths = [call.path, call.more] if call.name == "rename" else [call.path]
    return " ".join([call.name, *(_CHANCE.sub("*", os.path.relpath(path, folder)) for path in paths)])


@cache
def _require_tracing() -> None:
    """Leave the test out where system calls cannot be recorded."""
    needed_tool("strace")
    tried = subprocess.run(["strace", "-f", "true"], capture_output=True, text=True, check=False, timeout=60)
    if tried.returncode:
        leave_out("leave to trace", f"let strace use ptrace: {tried.stderr.strip()[-100:]}")
