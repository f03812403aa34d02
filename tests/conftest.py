"""What every test stands on: no clock limits on properties, and nothing found on the machine."""

from __future__ import annotations

import faulthandler
import gc
import importlib
import json
import os
import signal
import sys
import tempfile
from collections import Counter, defaultdict
from collections.abc import Generator, Iterator
from contextlib import suppress
from pathlib import Path

import pytest
from hypothesis import settings

from tests.player.fork_server import ForkServer
from tests.tools import LEFT_OUT, times

settings.register_profile("here", deadline=None, max_examples=times(60))
settings.register_profile("ci", settings.get_profile("here"), derandomize=True, print_blob=True)
settings.load_profile("ci" if os.environ.get("CI") else "here")

GUEST_KERNEL = Path(os.environ.get("CUEDECK_GUEST_KERNEL", "/"))
"""Where that machine's kernel lies: a folder with the boot and lib/modules of a kernel package; else this machine's."""

DAMAGES = int(os.environ.get("CUEDECK_DAMAGES", "12"))
"""How many files of takes are damaged at random."""
KILLS = int(os.environ.get("CUEDECK_KILLS", "5"))
"""How many players are killed at random."""

START_PLAYERS = bool(os.environ.get("CUEDECK_START_PLAYERS"))
"""Whether each player loads everything itself, as one of a user does."""

SPARE_WORKERS = 4
LONGEST = (
    "tests/output/test_real_driver.py",
    "tests/player/test_two_machines.py",
    "tests/show/test_cures.py",
    "tests/folder/test_foreign.py",
    "tests/timeline/test_affected.py",
    "tests/show/test_mutations.py",
    "tests/player/take/test_log_kills.py",
    "tests/output/test_sacn_network.py",
    "tests/player/test_safety.py",
    "tests/folder/test_saving.py",
    "tests/tui/test_player.py",
    "tests/tui/test_hanging_player.py",
    "tests/tui/test_blackout.py",
    "tests/bench/test_measurements.py",
)
HANGS_S = 1000
"""When a test that even its timeout did not end, in a wait that no signal reaches, is ended with its process."""

sys.dont_write_bytecode = False
os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
# Hundreds of processes are started here. Where nothing compiled is kept, each of them compiles the whole program.

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


@pytest.fixture(autouse=True, scope="session")
def forked_players(bare_machine: None) -> Iterator[None]:  # noqa: ARG001 - its settings are those of the players
    """Fork the players that tests start, which spares each the loading; see `tests/player/fork_server.py`."""
    if START_PLAYERS or os.name != "posix":
        yield
        return
    server = ForkServer()
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("cuedeck.player.channel.spawn.subprocess", server.instead_of_subprocess())
        yield
    server.close()


@pytest.fixture(autouse=True)
def no_players_left(bare_machine: None) -> Iterator[None]:  # noqa: ARG001 - it says where players announce themselves
    """End the players that a test leaves holding a look, as they are meant to: the next has the same ports."""
    yield
    for announced in Path(os.environ["HOME"], "run", "cuedeck").glob("*.json"):
        with suppress(ProcessLookupError, FileNotFoundError):  # one that just ends takes its word back
            os.kill(json.loads(announced.read_text(encoding="utf-8"))["pid"], signal.SIGKILL)
        announced.unlink(missing_ok=True)


def pytest_xdist_auto_num_workers() -> int:
    """Have more workers than cores: half of the time tests wait, for a take to end or a port to be tried again."""
    return max(4, (os.cpu_count() or 1) + SPARE_WORKERS)


def pytest_sessionstart(session: pytest.Session) -> None:
    """Share the compiling of the tests among the workers of a whole run; else each would compile all of them."""
    worker = getattr(session.config, "workerinput", None)
    if worker is None or session.config.args_source is not pytest.Config.ArgsSource.TESTPATHS:
        return
    share = slice(int(worker["workerid"].removeprefix("gw")), None, worker["workercount"])
    for path in sorted(Path(__file__).parent.rglob("test_*.py"))[share]:
        with suppress(Exception, pytest.skip.Exception):  # it is said when the tests are collected
            importlib.import_module(".".join(path.relative_to(session.config.rootpath).with_suffix("").parts))


@pytest.hookimpl(wrapper=True)
def pytest_runtest_protocol() -> Generator[None, object, object]:
    """End the process whose test hangs, and say where it stood; the other workers go on."""
    faulthandler.dump_traceback_later(HANGS_S, exit=True, file=sys.__stderr__)
    try:
        return (yield)
    finally:
        faulthandler.cancel_dump_traceback_later()


def pytest_collection() -> None:
    """Look for no garbage while the tests are loaded: none of it goes again."""
    gc.disable()


def pytest_collection_finish() -> None:
    """Leave what was loaded out of every collection to come."""
    gc.freeze()
    gc.enable()


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Begin with what takes longest, so that no worker is left with it in the end."""
    order = {name: number for number, name in enumerate(LONGEST)}
    items.sort(key=lambda item: order.get(item.nodeid.partition("::")[0], len(order)))


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    """Say which tests were left out for want of a tool, and how to get it; the others that were do not apply here."""
    left_out: dict[str, Counter[str]] = defaultdict(Counter)
    for report in terminalreporter.stats.get("skipped", []):
        reason = report.longrepr[2].removeprefix("Skipped: ")
        if reason.startswith(LEFT_OUT):
            left_out[reason][report.nodeid.partition("::")[0]] += 1
    for reason, files in sorted(left_out.items()):
        terminalreporter.write_line(reason)
        for file, count in files.items():
            terminalreporter.write_line(f"    {count} in {file}")
