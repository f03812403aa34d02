"""What every test stands on: no clock limits on properties, and nothing found on the machine."""

from __future__ import annotations

import json
import os
import signal
import tempfile
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path

import pytest
from hypothesis import settings

settings.register_profile("here", deadline=None)
settings.register_profile("ci", deadline=None, derandomize=True, print_blob=True)
settings.load_profile("ci" if os.environ.get("CI") else "here")

EXPECTS_LIBLTC = bool(os.environ.get("CUEDECK_EXPECT_LIBLTC"))
"""Whether the tests against libltc may not be skipped; asked before the settings are hidden."""
EXPECTS_NETWORK = bool(os.environ.get("CUEDECK_EXPECT_NETWORK"))
"""Whether the tests in a network namespace, and those with tshark, may not be skipped."""

EXPECTS_QEMU = bool(os.environ.get("CUEDECK_EXPECT_QEMU"))
"""Whether the tests in an emulated machine may not be skipped."""
EXPECTS_STRACE = bool(os.environ.get("CUEDECK_EXPECT_STRACE"))
"""Whether the tests that record system calls may not be skipped."""

GUEST_KERNEL = Path(os.environ.get("CUEDECK_GUEST_KERNEL", "/"))
"""Where that machine's kernel lies: a folder with the boot and lib/modules of a kernel package; else this machine's."""

DAMAGES = int(os.environ.get("CUEDECK_DAMAGES", "12"))
"""How many files of takes are damaged at random."""
KILLS = int(os.environ.get("CUEDECK_KILLS", "5"))
"""How many players are killed at random."""

_FOUND_ON_A_MACHINE = ("CUEDECK_", "TEXTUAL", "XDG_", "NO_COLOR", "FORCE_COLOR")


@pytest.fixture(autouse=True, scope="session")
def bare_machine() -> Iterator[None]:
    """Hide the home and the settings of whoever runs the tests."""
    with tempfile.TemporaryDirectory(prefix="cuedeck-") as home, pytest.MonkeyPatch.context() as patch:
        for name in list(os.environ):
            if name.startswith(_FOUND_ON_A_MACHINE) and not name.startswith("TEXTUAL_SNAPSHOT"):
                patch.delenv(name)
        patch.setenv("HOME", home)
        runtime = Path(home) / "run"
        runtime.mkdir(mode=0o700)
        patch.setenv("XDG_RUNTIME_DIR", str(runtime))
        yield


@pytest.fixture(autouse=True)
def no_players_left(bare_machine: None) -> Iterator[None]:  # noqa: ARG001 - it says where players announce themselves
    """End the players that a test leaves holding a look, as they are meant to: the next has the same ports."""
    yield
    for announced in Path(os.environ["HOME"], "run", "cuedeck").glob("*.json"):
        with suppress(ProcessLookupError, FileNotFoundError):  # one that just ends takes its word back
            os.kill(json.loads(announced.read_text(encoding="utf-8"))["pid"], signal.SIGKILL)
        announced.unlink(missing_ok=True)


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    """Say which tests were left out, and why."""
    reasons = {report.longrepr[2].removeprefix("Skipped: ") for report in terminalreporter.stats.get("skipped", [])}
    for reason in sorted(reasons):
        terminalreporter.write_line(f"left out: {reason}")
