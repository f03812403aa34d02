"""Where a player is found, and that there is one of it at most."""

from __future__ import annotations

import json
import os
import stat
import subprocess
import sys
import tempfile
import warnings
from pathlib import Path

import pytest

from cuedeck.player.instance_lock import (
    LONGEST_SOCKET_PATH,
    VERSION,
    Announcement,
    InstanceLock,
    PlayerRuns,
)
from cuedeck.player.runtime_directory import NoRuntimeDirectory, runtime_directory
from tests.waiting import LONGEST_WAIT_S

ROOT = Path(__file__).parents[2]
HOLDS = """
import sys
from pathlib import Path
from cuedeck.player.instance_lock import InstanceLock
where = InstanceLock.of(Path(sys.argv[1]))
where.claim()
where.announce("tcp:1", "ab")
print("claimed", flush=True)
sys.stdin.read()
"""


def mode(path: Path) -> int:
    return stat.S_IMODE(path.stat().st_mode)


@pytest.fixture
def temporary(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    path = tmp_path / "temporary"
    path.mkdir()
    monkeypatch.setattr(tempfile, "tempdir", str(path))
    return path


def foreign(tmp_path: Path) -> Path:
    """Return a directory of another user's."""
    if os.getuid() != 0:
        return Path("/usr")
    path = tmp_path / "foreign"
    path.mkdir(mode=0o700)
    os.chown(path, 12345, 12345)
    return path


def test_the_private_directory_stands_in_the_runtime_directory_and_is_open_to_its_owner_only(runtime: Path) -> None:
    assert runtime_directory() == runtime / "cuedeck"
    assert mode(runtime / "cuedeck") == 0o700


def test_a_directory_that_was_open_to_others_is_closed(runtime: Path) -> None:
    (runtime / "cuedeck").mkdir()
    (runtime / "cuedeck").chmod(0o755)
    assert mode(runtime_directory()) == 0o700


def test_a_runtime_directory_that_is_missing_is_no_hindrance(
    tmp_path: Path, temporary: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("XDG_RUNTIME_DIR", str(tmp_path / "missing"))
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        place = runtime_directory()
    assert mode(place) == 0o700
    assert place.is_relative_to(temporary) or place.is_relative_to("/run/user")
    assert not (tmp_path / "missing").exists()


@pytest.mark.ordinary_user
def test_a_runtime_directory_of_someone_else_is_left_alone(
    tmp_path: Path, temporary: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    other = foreign(tmp_path)
    monkeypatch.setenv("XDG_RUNTIME_DIR", str(other))
    place = runtime_directory()
    assert mode(place) == 0o700
    assert place.is_relative_to(temporary) or place.is_relative_to("/run/user")
    assert not (other / "cuedeck").exists()


def test_the_name_in_the_temporary_directory_tells_the_user(temporary: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("cuedeck.player.runtime_directory._runtime_path", lambda: None)
    assert runtime_directory() == temporary / f"cuedeck-{os.getuid()}"


def test_a_link_in_place_of_the_private_directory_is_refused(
    tmp_path: Path, temporary: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("cuedeck.player.runtime_directory._runtime_path", lambda: None)
    (temporary / f"cuedeck-{os.getuid()}").symlink_to(tmp_path)
    with pytest.raises(NoRuntimeDirectory, match="set XDG_RUNTIME_DIR to a directory that is yours"):
        runtime_directory()


@pytest.mark.usefixtures("runtime")
def test_a_folder_has_one_place_however_it_is_named(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (folder.parent / "link").symlink_to(folder)
    monkeypatch.chdir(folder)
    logs = {InstanceLock.of(path).log for path in (folder, Path(), folder.parent / "link", folder / ".." / folder.name)}
    assert len(logs) == 1
    assert InstanceLock.of(folder.parent).log not in logs


@pytest.mark.usefixtures("runtime")
def test_all_files_of_a_player_stand_in_the_private_directory(folder: Path) -> None:
    instance = InstanceLock.of(folder)
    assert {instance.log.parent, instance.last_look.parent, instance.socket_path and instance.socket_path.parent} == {
        runtime_directory()
    }


def test_a_socket_whose_path_would_be_too_long_is_not_asked_for(
    runtime: Path, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = InstanceLock.of(folder).socket_path
    assert path is not None
    assert len(os.fsencode(path)) < LONGEST_SOCKET_PATH
    deep = runtime / ("é" * 40)
    deep.mkdir(mode=0o700)
    monkeypatch.setenv("XDG_RUNTIME_DIR", str(deep))
    assert InstanceLock.of(folder).socket_path is None


@pytest.mark.usefixtures("runtime")
def test_one_player_at_a_time_has_a_folder_and_a_killed_one_is_not_in_the_way(folder: Path) -> None:
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    with subprocess.Popen(
        [sys.executable, "-c", HOLDS, str(folder)],
        env=environment,
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    ) as other:
        assert other.stdout is not None
        assert other.stdout.readline() == "claimed\n"
        instance = InstanceLock.of(folder)
        with pytest.raises(PlayerRuns, match=rf"runs already \(process {other.pid}\); end that one first"):
            instance.claim()
        other.kill()
        other.wait(LONGEST_WAIT_S)
        assert instance.found() == Announcement("tcp:1", other.pid, "ab")
        instance.claim()
        instance.claim()
    with pytest.raises(PlayerRuns):
        InstanceLock.of(folder).claim()


@pytest.mark.usefixtures("runtime")
def test_two_folders_have_a_player_each(folder: Path) -> None:
    for one in (folder, folder.parent):
        InstanceLock.of(one).claim()
    for one in (folder, folder.parent):
        with pytest.raises(PlayerRuns):
            InstanceLock.of(one).claim()


def test_an_announcement_can_be_read_by_the_user_only_and_taken_back(runtime: Path, folder: Path) -> None:
    instance = InstanceLock.of(folder)
    assert instance.found() is None
    instance.announce("unix:/x", "00ff")
    instance.announce("tcp:4711", "00ff")
    assert instance.found() == Announcement("tcp:4711", os.getpid(), "00ff", VERSION)
    (file,) = (runtime / "cuedeck").iterdir()
    assert mode(file) == 0o600
    instance.withdraw()
    instance.withdraw()
    assert instance.found() is None
    assert list((runtime / "cuedeck").iterdir()) == []


def test_what_another_process_announced_is_not_taken_back(runtime: Path, folder: Path) -> None:
    instance = InstanceLock.of(folder)
    instance.announce("tcp:4711", "00ff")
    (file,) = (runtime / "cuedeck").iterdir()
    file.write_text(json.dumps({**json.loads(file.read_text()), "pid": 1}))
    instance.withdraw()
    assert instance.found() == Announcement("tcp:4711", 1, "00ff")


@pytest.mark.parametrize(
    "said",
    [
        b"",
        b"{",
        b"[]",
        b"null",
        b"{}",
        b"\xff\xfe",
        b"[" * 4000,
        b"1" * 5000,
        b'{"address": 1, "pid": "x"}',
        b'{"address": "tcp:1", "pid": true, "secret": "ab", "version": 1}',
    ],
)
def test_a_spoilt_announcement_is_none(said: bytes, runtime: Path, folder: Path) -> None:
    instance = InstanceLock.of(folder)
    instance.announce("tcp:4711", "00ff")
    (file,) = (runtime / "cuedeck").iterdir()
    file.write_bytes(said)
    assert instance.found() is None
    instance.withdraw()


def test_an_announcement_of_another_version_is_understood_as_such(runtime: Path, folder: Path) -> None:
    instance = InstanceLock.of(folder)
    instance.announce("tcp:4711", "00ff")
    (file,) = (runtime / "cuedeck").iterdir()
    file.write_text(json.dumps({**json.loads(file.read_text()), "version": 99, "more": []}))
    assert instance.found() == Announcement("tcp:4711", os.getpid(), "00ff", 99)


def test_the_secret_is_not_shown() -> None:
    assert "00ff" not in repr(Announcement("tcp:1", 1, "00ff"))


@pytest.mark.parametrize(
    ("module", "without"),
    [
        ("instance_lock", ["pydantic", "numpy", "asyncio"]),
        ("channel.client", ["numpy", "asyncio", "textual", "yaml", "serial", "pydantic", "subprocess"]),
    ],
)
def test_what_is_needed_early_or_often_is_light(module: str, without: list[str]) -> None:
    command = f"import cuedeck.player.{module}, json, sys; print(json.dumps(sorted(sys.modules)))"
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    done = subprocess.run(
        [sys.executable, "-c", command], env=environment, capture_output=True, text=True, check=True, timeout=120
    )
    assert sorted(set(without) & set(json.loads(done.stdout))) == []
