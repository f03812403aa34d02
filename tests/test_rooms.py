"""The rooms point one way, the pure ones stay pure, and the command line starts light."""

from __future__ import annotations

import ast
import json
import os
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
PURE_ROOMS = ("show", "rig", "timing", "timeline", "light", "draft")

CLOCKS_THREADS_PORTS_FILES_AND_SCREENS = {
    "asyncio",
    "concurrent",
    "datetime",
    "io",
    "multiprocessing",
    "os",
    "pathlib",
    "queue",
    "random",
    "rich",
    "sched",
    "secrets",
    "select",
    "serial",
    "shutil",
    "signal",
    "socket",
    "sqlite3",
    "subprocess",
    "sys",
    "tempfile",
    "textual",
    "threading",
    "time",
}
CALLS_TO_THE_WORLD = {"open", "print", "input", "breakpoint", "exec", "eval", "__import__"}
HEAVY = ["numpy", "pydantic", "textual", "serial", "yaml"]


def reaches(source: str) -> Iterator[str]:
    """Yield what a module reaches for outside itself, as 'line: what'."""
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Import):
            names = [alias.name for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            names = [node.module or ""]
        elif isinstance(node, ast.Call) and isinstance(node.func, ast.Name):
            if node.func.id in CALLS_TO_THE_WORLD:
                yield f"{node.lineno}: {node.func.id}()"
            continue
        else:
            continue
        for name in names:
            if name.partition(".")[0] in CLOCKS_THREADS_PORTS_FILES_AND_SCREENS:
                yield f"{node.lineno}: import {name}"


def _run(*arguments: str) -> subprocess.CompletedProcess[str]:
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    return subprocess.run(
        [sys.executable, *arguments],
        cwd=ROOT,
        env=environment,
        capture_output=True,
        text=True,
        check=False,
        timeout=120,
    )


def test_the_contracts_between_the_rooms_are_kept() -> None:
    command = "from importlinter.cli import lint_imports_command as run; run(['--no-cache'])"
    done = _run("-c", command)
    assert "3 kept, 0 broken" in done.stdout, done.stdout + done.stderr
    assert done.returncode == 0


def test_the_check_of_purity_sees_what_is_impure() -> None:
    source = "import time\nfrom os import path\ndef f():\n    print(open('x'))\n"
    assert sorted(reaches(source)) == ["1: import time", "2: import os", "4: open()", "4: print()"]


@pytest.mark.parametrize("room", PURE_ROOMS)
def test_a_pure_room_reaches_for_no_clock_thread_port_file_or_screen(room: str) -> None:
    modules = sorted((ROOT / "cuedeck" / room).rglob("*.py"))
    assert modules
    found = {str(path.relative_to(ROOT)): list(reaches(path.read_text(encoding="utf-8"))) for path in modules}
    assert {name: what for name, what in found.items() if what} == {}


@pytest.mark.parametrize(
    ("words", "without"),
    [
        (["--help"], [*HEAVY, "argparse", "re", "typing"]),
        (["ports"], ["numpy", "pydantic", "textual", "yaml"]),
        (["takes", "shows/barometer"], ["pydantic", "textual", "serial", "yaml"]),
        (["player", "shows/barometer"], [*HEAVY, "asyncio", "subprocess"]),
        (["player", "shows/barometer", "hold"], [*HEAVY, "asyncio", "subprocess"]),
    ],
    ids=lambda words: "-".join(words).replace("/", "-"),
)
def test_a_command_loads_only_what_it_needs(words: list[str], without: list[str], tmp_path: Path) -> None:
    """No site is loaded here, which loads more than some commands do."""
    paths = [path for path in sys.path if path.endswith("site-packages")]
    command = (
        f"import sys; sys.path += {[str(ROOT), *paths]!r}; from cuedeck.cli.main import main; code = main({words!r});"
        " print(*sys.modules, sep='\\n', file=open(sys.argv[1], 'w'))"
    )
    done = _run("-S", "-c", command, str(tmp_path / "modules"))
    assert "Traceback" not in done.stderr
    loaded = (tmp_path / "modules").read_text(encoding="utf-8").split()
    assert "cuedeck.cli.main" in loaded
    assert sorted(set(without) & set(loaded)) == []


def test_a_player_that_resumes_has_light_on_the_line_before_it_loads_the_show() -> None:
    of_light = "__main__, cuedeck.player.instance_lock, cuedeck.player.line.last_look, cuedeck.player.session"
    done = _run("-c", f"import cuedeck.player.{of_light}, json, sys; print(json.dumps(sorted(sys.modules)))")
    assert done.returncode == 0, done.stderr
    loaded = set(json.loads(done.stdout))
    assert not loaded & {"pydantic", "yaml", "asyncio", "sqlite3", "cuedeck.show.model", "cuedeck.rig.patch"}
    assert "cuedeck.player.session" in loaded
