"""The machine's clock: it goes on while the machine is asleep."""

from __future__ import annotations

import os
import subprocess
import sys

import pytest

from tests.tools import leave_out, needed_tool

ASLEEP_S = 100_000
_READ = """
import time
from cuedeck.clock import MonotonicClock
awake_ns, now_ns = time.clock_gettime_ns(time.CLOCK_MONOTONIC), MonotonicClock().now_ns()
print((now_ns - awake_ns) // 1_000_000_000)
"""


@pytest.mark.skipif(sys.platform != "linux", reason="time namespaces are Linux's")
def test_time_asleep_counts() -> None:
    """clock_gettime(2): CLOCK_BOOTTIME counts the time that the system is suspended, CLOCK_MONOTONIC does not.

    No test can suspend the machine; a time namespace has been asleep for as long as it is told.
    """
    unshare = needed_tool("unshare")
    as_user = [] if os.geteuid() == 0 else ["--map-root-user"]
    asleep = [unshare, *as_user, "--time", "--boottime", str(ASLEEP_S), "--fork"]
    if subprocess.run([*asleep, "true"], capture_output=True, check=False, timeout=60).returncode:
        leave_out("a time namespace", "run as root on Linux 5.6 or newer")
    ran = subprocess.run([*asleep, sys.executable, "-c", _READ], capture_output=True, text=True, check=True, timeout=60)
    assert int(ran.stdout) >= ASLEEP_S
