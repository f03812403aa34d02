"""A show that is damaged in any way opens or says what is wrong with it; nothing else ever comes out.

Two shows are damaged by a seeded generator, so a failure names the seed that makes it again. Each input must
be done with in 2 s of processor time, and a process that opens 250 of them must stay under 300 MB. 1,250 are made
as a rule: the same in CI, others each time elsewhere. To make more:

    CUEDECK_MUTATIONS=20000 pytest tests/show/test_mutations.py
"""

from __future__ import annotations

import hashlib
import json
import os
import random
import subprocess
import sys
from pathlib import Path

import pytest

if os.name != "posix":
    pytest.skip("limits on a process are those of POSIX", allow_module_level=True)

from tests.cli.command import run
from tests.show.mutations import MOST_SECONDS, WHOLE, Findings, TookTooLong, bounded, mutated, opened, try_files
from tests.tools import times

ROOT = Path(__file__).parents[2]
CHUNK = 250
MUTATIONS = int(os.environ.get("CUEDECK_MUTATIONS", times(1250)))
FIRST_SEED = 0 if os.environ.get("CI") else random.randrange(1_000_000)  # noqa: S311 - a failure names its seed
ON_DISK = range(900_000, 900_020)
MOST_MEMORY_BYTES = 300_000_000
LONGEST_WAIT_S = 900
"""When a process that hangs outside of Python is given up."""


def chunks() -> list[range]:
    return [range(first, min(first + CHUNK, MUTATIONS)) for first in range(0, MUTATIONS, CHUNK)]


def findings(seeds: range) -> Findings:
    """Try some seeds in a process of their own."""
    done = subprocess.run(
        [sys.executable, "-m", "tests.show.mutations", str(seeds.start), str(seeds.stop)],
        cwd=ROOT,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        capture_output=True,
        text=True,
        encoding="utf-8",
        timeout=LONGEST_WAIT_S,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    found: Findings = json.loads(done.stdout)
    return found


@pytest.mark.timeout(LONGEST_WAIT_S)
@pytest.mark.parametrize("seeds", chunks(), ids=str)
def test_a_damaged_show_opens_or_says_what_is_wrong(seeds: range) -> None:
    found = findings(range(FIRST_SEED + seeds.start, FIRST_SEED + seeds.stop))
    assert not found["failures"], "\n".join(found["failures"])
    assert found["with_errors"] >= len(seeds) / 3, "the damage does not bite"
    assert found["most_memory_bytes"] <= MOST_MEMORY_BYTES


def _never_end() -> None:
    while True:
        pass


def test_the_bound_on_time_stops_what_takes_longer() -> None:
    with pytest.raises(TookTooLong, match=f"more than {MOST_SECONDS:g} s"), bounded():
        _never_end()


def test_the_same_seed_does_the_same_damage() -> None:
    assert all(mutated(seed) == mutated(seed) for seed in range(20))


@pytest.mark.parametrize("files", WHOLE, ids=["demo", "every key"])
def test_the_shows_that_are_damaged_were_whole_before(files: dict[str, bytes]) -> None:
    show, problems = opened(files)
    assert show is not None
    assert [str(problem) for problem in problems] == []
    assert try_files(files) == (False, [])


@pytest.mark.parametrize("seed", ON_DISK)
def test_the_command_checks_a_damaged_folder_and_touches_nothing(
    seed: int, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for name, raw in mutated(seed).items():
        path = tmp_path / "damaged" / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(raw)
    before = fingerprints(tmp_path)
    monkeypatch.chdir(tmp_path)
    done = run("check", "damaged", "--json")
    assert done.returncode in (0, 1), done.stderr
    problems = json.loads(done.stdout)["problems"]
    assert (done.returncode == 1) == any(problem["severity"] == "error" for problem in problems)
    assert fingerprints(tmp_path) == before


def fingerprints(folder: Path) -> dict[str, str]:
    return {
        path.relative_to(folder).as_posix(): hashlib.sha256(path.read_bytes()).hexdigest()
        for path in folder.rglob("*")
        if path.is_file()
    }
