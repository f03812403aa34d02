"""What tests need of the machine. One that lacks it is left out, and the end of the run says how to get it.

With CUEDECK_EXPECT_TOOLS in the environment such a test fails.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import NoReturn

import pytest

IS_ALL_EXPECTED = bool(os.environ.get("CUEDECK_EXPECT_TOOLS"))
"""Asked here, before the settings of the machine are hidden from the tests."""
EXAMPLES = float(os.environ.get("CUEDECK_EXAMPLES", "1"))
"""How many times as many examples are tried as those that keep the whole run short."""
LEFT_OUT = "left out for want of "
"""How the reason of such a skip begins. What is skipped for another reason does not apply here, and is no gap."""
PACKAGES = {
    "dumpcap": "tshark",
    "ip": "iproute2",
    "nsenter": "util-linux",
    "strace": "strace",
    "tmux": "tmux",
    "tshark": "tshark",
    "unshare": "util-linux",
}
"""The Debian package of each tool."""


def times(count: int) -> int:
    """Return how many examples to try, of so many as a rule."""
    return max(1, round(count * EXAMPLES))


def leave_out(what: str, cure: str) -> NoReturn:
    """Leave the test out for want of something, or fail it where all is expected to be there."""
    if IS_ALL_EXPECTED:
        pytest.fail(f"CUEDECK_EXPECT_TOOLS is set, and there is no {what}: {cure}")
    pytest.skip(f"{LEFT_OUT}{what}: {cure}")


def needed_tool(name: str) -> str:
    """Return the path of a tool, or leave the test out."""
    found = shutil.which(name, path=os.environ.get("PATH", "") + ":/usr/sbin:/sbin")
    if found is None:
        leave_out(name, f"apt install {PACKAGES[name]}")
    return found


@contextmanager
def small_disk(folder: Path, size: str) -> Iterator[bool]:
    """Mount a disk of a size such as 4m on a folder, where this user may do that; give whether it was done."""
    mounting = ["mount", "-t", "tmpfs", "-o", f"size={size}", "tmpfs", str(folder)]
    is_mounted = sys.platform.startswith("linux") and not subprocess.run(
        mounting, capture_output=True, check=False, timeout=60
    ).returncode  # fmt: skip
    try:
        yield is_mounted
    finally:
        if is_mounted:
            subprocess.run(["umount", "--lazy", str(folder)], check=True, timeout=60)


@contextmanager
def needed_disk(folder: Path, size: str) -> Iterator[Path]:
    """Give a folder with a small disk of its own, or leave the test out."""
    folder.mkdir(exist_ok=True)
    with small_disk(folder, size) as is_mounted:
        if not is_mounted:
            leave_out_disk()
        yield folder


def leave_out_disk() -> NoReturn:
    """Leave the test out that needs a disk of its own."""
    leave_out("a small disk to fill", "run as root on Linux, where it may be mounted")


@contextmanager
def write_protected(folder: Path) -> Iterator[None]:
    """Let nobody write in a folder: for root by a mount that is read-only, as nothing else keeps root out."""
    is_root = os.getuid() == 0
    if is_root and _mount("--bind", str(folder), str(folder)):
        leave_out("a folder that root cannot write in", "run as an ordinary user, or where mounts may be made")
    try:
        if is_root:
            assert not _mount("-o", "remount,ro,bind", str(folder))
        else:
            folder.chmod(0o555)
        yield
    finally:
        if is_root:
            subprocess.run(["umount", "--lazy", str(folder)], check=True, timeout=60)
        else:
            folder.chmod(0o755)


def _mount(*words: str) -> int:
    return subprocess.run(["mount", *words], capture_output=True, check=False, timeout=60).returncode
