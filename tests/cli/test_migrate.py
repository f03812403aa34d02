"""`cuedeck migrate`, run as a user runs it: only the number changes, and the file as it was is kept."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from tests.cli.command import run

OLD = b"# the day's show\r\ncuedeck: 1   # of last year\r\nrig:\r\n  key: {type: dimmer,  address: 1.1}\r\n"
NEW = OLD.replace(b"cuedeck: 1", b"cuedeck: 2")
KEPT = "show.yaml.version-1"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "show.yaml").write_bytes(OLD)
    return tmp_path


def files(folder: Path) -> dict[str, bytes]:
    """Return the files that a user sees in a folder."""
    return {path.name: path.read_bytes() for path in folder.iterdir() if path.is_file() and path.name[0] != "."}


def test_only_the_number_changes_and_the_file_as_it_was_is_kept(folder: Path) -> None:
    done = run("migrate", folder)
    assert done.returncode == 0, done.stderr
    assert files(folder) == {"show.yaml": NEW, KEPT: OLD}
    assert "version 1 is now version 2" in done.stdout
    assert f"the file as it was is kept in {KEPT}" in done.stdout
    assert run("check", folder).returncode == 0


def test_a_show_of_the_newest_version_is_left_alone(folder: Path) -> None:
    (folder / "show.yaml").write_bytes(NEW)
    done = run("migrate", folder)
    assert (done.returncode, files(folder)) == (0, {"show.yaml": NEW})
    assert "nothing was changed" in done.stdout


def test_a_second_run_finds_nothing_to_do(folder: Path) -> None:
    run("migrate", folder)
    done = run("migrate", folder)
    assert "nothing was changed" in done.stdout
    assert files(folder) == {"show.yaml": NEW, KEPT: OLD}


def test_what_was_kept_before_is_never_written_over(folder: Path) -> None:
    (folder / KEPT).write_bytes(b"the show of the year before")
    done = run("migrate", folder)
    assert done.returncode == 0, done.stderr
    assert files(folder) == {"show.yaml": NEW, KEPT: b"the show of the year before", f"{KEPT}-2": OLD}
    assert f"kept in {KEPT}-2" in done.stdout


def test_the_same_file_is_not_kept_twice(folder: Path) -> None:
    (folder / KEPT).write_bytes(OLD)
    assert run("migrate", folder).returncode == 0
    assert files(folder) == {"show.yaml": NEW, KEPT: OLD}


@pytest.mark.parametrize(
    ("raw", "words"),
    [
        (b"cuedeck: 3\n", "show.yaml:1:10: error: this show was written by a newer cuedeck (version 3)"),
        (b"title: x\n", "show.yaml:1:1: error: the show does not say which version"),
        (b"cuedeck: [\n", "error: not YAML"),
    ],
)
def test_a_show_that_cannot_be_migrated_is_refused_and_left_alone(folder: Path, raw: bytes, words: str) -> None:
    (folder / "show.yaml").write_bytes(raw)
    done = run("migrate", folder)
    assert done.returncode == 1
    assert words in done.stderr
    assert files(folder) == {"show.yaml": raw}


def test_a_folder_without_a_show_is_refused(tmp_path: Path) -> None:
    done = run("migrate", tmp_path)
    assert done.returncode == 1
    assert "there is no show.yaml" in done.stderr


@pytest.mark.ordinary_user
@pytest.mark.skipif(os.name != "posix" or os.geteuid() == 0, reason="needs a folder that this user may not write in")
def test_a_folder_that_may_not_be_written_in_is_refused(folder: Path) -> None:
    folder.chmod(0o555)
    try:
        done = run("migrate", folder)
    finally:
        folder.chmod(0o755)
    assert done.returncode == 1
    assert "permission denied" in done.stderr
    assert files(folder) == {"show.yaml": OLD}
