"""A save leaves the old file or the new one, whole, under faults that are real: kills, full disks, locked folders."""

from __future__ import annotations

import fcntl
import json
import os
import stat
import subprocess
import sys
import tempfile
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest

from cuedeck.folder.folder import ShowFolder
from cuedeck.folder.saving import ChangedOnDisk, SaveRefused, save_files
from cuedeck.folder.versions import list_versions
from cuedeck.show.source import read_source
from tests.tools import leave_out, needed_disk

from .savers import INCLUDED, SHOW, content, refused, save

ROOT = Path(__file__).parents[2]
NOON = datetime(2026, 11, 25, 12, 0, 0, 123456, tzinfo=UTC)


@pytest.fixture
def folder() -> Iterator[Path]:
    """A show folder with two files, open to every user of the machine."""
    with tempfile.TemporaryDirectory(prefix="cuedeck-") as outer:
        Path(outer).chmod(0o755)
        show = Path(outer) / "show"
        (show / "looks").mkdir(parents=True)
        for name in (SHOW, INCLUDED):
            (show / name).write_bytes(content(1))
        for place in (show, *show.rglob("*")):
            place.chmod(0o777 if place.is_dir() else 0o666)
        yield show


def in_a_process(what: str, folder: Path, *arguments: str) -> Any:
    done = subprocess.run(
        [sys.executable, "-m", "tests.folder.savers", what, str(folder), *arguments],
        cwd=ROOT,
        env={**os.environ, "PYTHONPATH": str(ROOT), "PYTHONDONTWRITEBYTECODE": "1"},
        capture_output=True,
        text=True,
        check=False,
        timeout=120,
    )
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout)


def leftovers(folder: Path) -> list[Path]:
    return list(folder.rglob("*.saving"))


def require_untouched(folder: Path) -> None:
    assert (folder / SHOW).read_bytes() == content(1)
    assert (folder / INCLUDED).read_bytes() == content(1)
    assert leftovers(folder) == []
    assert list_versions(folder, SHOW) == []


def ticks(start: datetime = NOON) -> Callable[[], datetime]:
    """Return a clock that goes on by a second each time it is read."""
    count = iter(range(1_000_000))
    return lambda: start + timedelta(seconds=next(count))


def save_number(folder: Path, number: int, now: Callable[[], datetime]) -> None:
    save_files(folder, {SHOW: content(number)}, {SHOW: (folder / SHOW).read_bytes()}, now)


def test_a_save_replaces_the_file_and_keeps_what_was_there(folder: Path) -> None:
    save_files(folder, {SHOW: content(2)}, {SHOW: content(1)}, lambda: NOON)
    assert (folder / SHOW).read_bytes() == content(2)
    kept = folder / ".versions" / "show.yaml" / "2026-11-25T12-00-00.123456Z.yaml"
    assert list_versions(folder, SHOW) == [kept]
    assert kept.read_bytes() == content(1)
    assert leftovers(folder) == []


def test_the_show_folder_saves_what_was_changed(folder: Path) -> None:
    show = ShowFolder(folder)
    show.save({SHOW: content(2)}, {SHOW: show.read(SHOW)})
    show.save({SHOW: content(3)}, {SHOW: show.read(SHOW)})
    assert [path.read_bytes() for path in list_versions(folder, SHOW)] == [content(1), content(2)]


def test_a_file_without_versions_has_none(folder: Path) -> None:
    assert list_versions(folder, SHOW) == []


def test_the_last_ten_versions_are_kept_in_order(folder: Path) -> None:
    now = ticks()
    for number in range(2, 15):
        save_number(folder, number, now)
    assert [path.read_bytes() for path in list_versions(folder, SHOW)] == [content(n) for n in range(4, 14)]


@pytest.mark.parametrize("step", [timedelta(0), timedelta(hours=-1)])
def test_versions_stay_in_order_where_the_clock_stands_still_or_is_set_back(folder: Path, step: timedelta) -> None:
    for number in range(2, 6):
        save_number(folder, number, lambda n=number: NOON + step * n)  # type: ignore[misc]
    assert [path.read_bytes() for path in list_versions(folder, SHOW)] == [content(n) for n in range(1, 5)]


def test_saving_the_same_bytes_writes_nothing_and_keeps_no_version(folder: Path) -> None:
    before = (folder / SHOW).stat()
    save_files(folder, {SHOW: content(1)}, {SHOW: content(1)})
    after = (folder / SHOW).stat()
    assert (after.st_ino, after.st_mtime_ns) == (before.st_ino, before.st_mtime_ns)
    assert not (folder / ".versions").exists()


def test_files_saved_together_are_all_saved(folder: Path) -> None:
    save(folder, SHOW, INCLUDED, number=2)
    assert (folder / SHOW).read_bytes() == (folder / INCLUDED).read_bytes() == content(2)
    assert [path.read_bytes() for path in list_versions(folder, INCLUDED)] == [content(1)]


def test_files_of_one_folder_are_saved_together(folder: Path) -> None:
    (folder / "types.yaml").write_bytes(content(1))
    save(folder, SHOW, "types.yaml", INCLUDED, number=2)
    assert [(folder / name).read_bytes() for name in (SHOW, "types.yaml", INCLUDED)] == [content(2)] * 3
    assert leftovers(folder) == []


def test_a_new_file_is_saved_in_a_new_folder(folder: Path) -> None:
    save_files(folder, {"types/panels/own.yaml": b"types: {}\n"}, {})
    assert (folder / "types" / "panels" / "own.yaml").read_bytes() == b"types: {}\n"
    assert not (folder / ".versions").exists()


def test_a_new_file_is_saved_where_there_was_none(folder: Path) -> None:
    save_files(folder, {"types.yaml": b"types: {}\n"}, {})
    assert (folder / "types.yaml").read_bytes() == b"types: {}\n"
    with pytest.raises(ChangedOnDisk, match=r"there is a types\.yaml already; nothing was saved: give"):
        save_files(folder, {"types.yaml": b"types: {a: b}\n"}, {})


@pytest.mark.parametrize("touched", [SHOW, INCLUDED])
def test_a_file_that_somebody_else_changed_is_not_written_over(folder: Path, touched: str) -> None:
    (folder / touched).write_bytes(b"cuedeck: 1\n# by hand\n")
    expected = {SHOW: content(1), INCLUDED: content(1)}
    with pytest.raises(ChangedOnDisk) as caught:
        save_files(folder, {SHOW: content(2), INCLUDED: content(2)}, expected)
    assert str(caught.value) == (
        f"{touched} was changed by somebody else since it was read; nothing was saved: "
        "open the show again, or give the command again; copy the folder first to keep both"
    )
    other = INCLUDED if touched == SHOW else SHOW
    assert (folder / other).read_bytes() == content(1)
    assert (folder / touched).read_bytes() == b"cuedeck: 1\n# by hand\n"
    assert not (folder / ".versions").exists()


def test_a_file_that_is_gone_is_not_made_again(folder: Path) -> None:
    (folder / SHOW).unlink()
    with pytest.raises(ChangedOnDisk, match=r"show\.yaml is not there any more, since it was read"):
        save_files(folder, {SHOW: content(2)}, {SHOW: content(1)})
    assert not (folder / SHOW).exists()


def test_a_file_that_is_only_read_is_checked_too(folder: Path) -> None:
    (folder / INCLUDED).write_bytes(b"looks: {}\n")
    with pytest.raises(ChangedOnDisk, match=r"looks/common\.yaml was changed"):
        save_files(folder, {SHOW: content(2)}, {SHOW: content(1), INCLUDED: content(1)})
    assert (folder / SHOW).read_bytes() == content(1)


def test_a_change_while_the_save_is_being_written_is_seen(folder: Path) -> None:
    """The clock is read when all is written and nothing is replaced yet: there the other editor comes in."""

    def somebody_else_saves() -> datetime:
        (folder / SHOW).write_bytes(b"cuedeck: 1\n# by hand\n")
        return NOON

    with pytest.raises(ChangedOnDisk):
        save_files(folder, {SHOW: content(2)}, {SHOW: content(1)}, somebody_else_saves)
    assert (folder / SHOW).read_bytes() == b"cuedeck: 1\n# by hand\n"
    assert leftovers(folder) == list_versions(folder, SHOW) == []


def test_two_saves_at_one_time_do_not_mix(folder: Path) -> None:
    descriptor = os.open(folder, os.O_RDONLY)
    fcntl.flock(descriptor, fcntl.LOCK_EX)
    with pytest.raises(SaveRefused, match="another cuedeck is saving this show at this moment"):
        save(folder, SHOW, number=2)
    os.close(descriptor)
    save(folder, SHOW, number=2)
    assert (folder / SHOW).read_bytes() == content(2)


@pytest.mark.parametrize("mode", [0o600, 0o640, 0o664, 0o755])
def test_the_mode_of_the_file_is_kept(folder: Path, mode: int) -> None:
    (folder / SHOW).chmod(mode)
    save(folder, SHOW, number=2)
    assert stat.S_IMODE((folder / SHOW).stat().st_mode) == mode


def test_the_owner_of_the_file_is_kept(folder: Path) -> None:
    if os.getuid() != 0:
        leave_out("the right to give a file away", "run as root")
    os.chown(folder / SHOW, 65534, 65533)
    save(folder, SHOW, number=2)
    status = (folder / SHOW).stat()
    assert (status.st_uid, status.st_gid) == (65534, 65533)


def test_a_link_inside_the_folder_is_followed(folder: Path) -> None:
    (folder / SHOW).rename(folder / "looks" / "real.yaml")
    (folder / SHOW).symlink_to("looks/real.yaml")
    save(folder, SHOW, number=2)
    assert (folder / SHOW).is_symlink()
    assert (folder / "looks" / "real.yaml").read_bytes() == content(2)
    assert leftovers(folder) == []


def test_a_link_out_of_the_folder_is_refused(folder: Path) -> None:
    outside = folder.parent / "elsewhere.yaml"
    outside.write_bytes(content(1))
    (folder / SHOW).unlink()
    (folder / SHOW).symlink_to(outside)
    with pytest.raises(SaveRefused, match=r"show\.yaml is a link to .*elsewhere\.yaml, out of the show folder"):
        save(folder, SHOW, number=2)
    assert outside.read_bytes() == content(1)


@pytest.mark.parametrize(
    "name", ["../show.yaml", "/etc/hostname", "", ".versions/show.yaml", "a\0b", "looks/../show.yaml"]
)
def test_a_name_that_leads_out_of_the_show_is_refused(folder: Path, name: str) -> None:
    with pytest.raises(SaveRefused, match="keep it in the show folder"):
        save_files(folder, {name: b"x"}, {})
    require_untouched(folder)


def test_links_that_lead_to_themselves_or_to_one_file_are_refused(folder: Path) -> None:
    (folder / "loop.yaml").symlink_to("loop.yaml")
    with pytest.raises(SaveRefused):
        save_files(folder, {"loop.yaml": b"x"}, {"loop.yaml": b"y"})
    (folder / "twin.yaml").symlink_to(SHOW)
    with pytest.raises(SaveRefused, match="two names stand for the same file"):
        save(folder, SHOW, "twin.yaml", number=2)
    require_untouched(folder)


def test_a_file_larger_than_the_system_allows_is_refused_and_the_old_one_is_whole(folder: Path) -> None:
    """The limit is RLIMIT_FSIZE, as a quota on the size of files sets it (setrlimit(2): EFBIG)."""
    words = in_a_process("large", folder, "50000")
    assert words == (
        "show.yaml was not saved: the file is larger than this system allows; the file is as it was: "
        "split it with 'include:', or lift the limit, then save again"
    )
    require_untouched(folder)


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    with needed_disk(tmp_path / "disk", "256k") as disk:
        yield disk


@pytest.mark.parametrize("filled", [0, 190_000, 230_000])
def test_a_full_disk_refuses_the_save_and_the_old_file_is_whole(small_disk: Path, filled: int) -> None:
    """The disk is full at the new file, at the version kept, or at its folder."""
    (small_disk / SHOW).write_bytes(content(1))
    (small_disk / "filling").write_bytes(b"x" * filled)
    size = 300_000 if not filled else 30_000
    before, words = b"", ""
    for number in range(2, 20):
        if not words:
            before = (small_disk / SHOW).read_bytes()
            words = refused(lambda n=number: save(small_disk, SHOW, number=n, size=size))  # type: ignore[misc]
    assert words == "show.yaml was not saved: the disk is full; the file is as it was: make room, then save again"
    assert (small_disk / SHOW).read_bytes() == before
    assert leftovers(small_disk) == []
    (small_disk / "filling").unlink()
    save(small_disk, SHOW, number=99)
    assert (small_disk / SHOW).read_bytes() == content(99)


def test_a_disk_that_was_made_read_only_refuses_the_save(small_disk: Path) -> None:
    (small_disk / SHOW).write_bytes(content(1))
    subprocess.run(["mount", "-o", "remount,ro", str(small_disk)], check=True, timeout=120)
    with pytest.raises(SaveRefused, match="the disk is read-only"):
        save(small_disk, SHOW, number=2)
    assert (small_disk / SHOW).read_bytes() == content(1)


@pytest.mark.ordinary_user
def test_a_folder_that_may_not_be_written_refuses_the_save(folder: Path) -> None:
    folder.chmod(0o555)
    words = in_a_process("ordinary", folder)
    folder.chmod(0o777)
    assert words == (
        "show.yaml was not saved: you may not write there; the file is as it was: "
        "look at who may write to the show folder and its '.versions', then save again"
    )
    require_untouched(folder)


@pytest.mark.ordinary_user
def test_versions_that_cannot_be_kept_refuse_the_save(folder: Path) -> None:
    (folder / ".versions").mkdir(mode=0o555)
    assert "you may not write there" in in_a_process("ordinary", folder)
    require_untouched(folder)


def test_a_file_in_the_place_of_the_versions_refuses_the_save(folder: Path) -> None:
    (folder / ".versions").write_bytes(b"")
    with pytest.raises(SaveRefused, match="a file stands where a folder is needed"):
        save(folder, SHOW, number=2)
    require_untouched(folder)


@pytest.mark.ordinary_user
def test_a_write_protected_file_is_left_alone(folder: Path) -> None:
    (folder / SHOW).chmod(0o444)
    words = in_a_process("ordinary", folder)
    assert words == "show.yaml is write-protected; nothing was saved: unlock the file, then save again"
    require_untouched(folder)


def test_an_ordinary_user_can_save(folder: Path) -> None:
    assert in_a_process("ordinary", folder) == ""
    assert (folder / SHOW).read_bytes() == content(2)


@pytest.mark.ordinary_user
def test_where_the_second_of_two_files_cannot_be_replaced_the_first_is_put_back(folder: Path) -> None:
    if os.getuid() == 0:
        os.chown(folder / "looks", 65534, 65534)
    words = in_a_process("locked_midway", folder)
    assert words.startswith("looks/common.yaml was not saved: you may not write there")
    assert (folder / SHOW).read_bytes() == content(1)
    assert (folder / INCLUDED).read_bytes() == content(1)
    assert list_versions(folder, SHOW) == []


def test_what_a_killed_save_left_is_swept_away_by_the_next(folder: Path) -> None:
    for place in (folder, folder / ".versions" / SHOW):
        place.mkdir(parents=True, exist_ok=True)
        (place / ".cuedeck-0123456789abcdef.saving").write_bytes(b"cuedeck: 1\nti")
    assert list_versions(folder, SHOW) == []
    save(folder, SHOW, number=2)
    assert leftovers(folder) == []
    assert [path.read_bytes() for path in list_versions(folder, SHOW)] == [content(1)]


def test_a_save_killed_at_any_step_leaves_every_file_whole(folder: Path) -> None:
    rounds = in_a_process("killed_at_each_step", folder)
    assert len(rounds) > 100
    assert [one["killed"] for one in rounds] == [True] * (len(rounds) - 1) + [False]
    seen = {(one["files"][SHOW], one["files"][INCLUDED]) for one in rounds}
    # The show is replaced first, so the included file is never ahead of it.
    assert seen == {(1, 1), (2, 1), (2, 2)}
    assert {number for one in rounds for number in one["kept"]} == {1}
    assert all(one["kept"] for one in rounds if one["files"][SHOW] == 2)
    assert leftovers(folder) == []
    assert len(list_versions(folder, SHOW)) == 1


def test_saves_killed_at_random_leave_every_file_whole(folder: Path) -> None:
    rounds = in_a_process("killed_at_random", folder, "60", "20261125")
    shows = [one["files"][SHOW] for one in rounds]
    assert len(shows) == 60
    assert all(later > earlier for earlier, later in pairwise(shows))
    for one in rounds:
        assert None not in [*one["files"].values(), *one["kept"]]
    for name in (SHOW, INCLUDED):
        assert read_source(name, (folder / name).read_bytes()).data["cuedeck"] == "1"
    save(folder, SHOW, INCLUDED, number=9999)
    assert (folder / SHOW).read_bytes() == content(9999)
    assert leftovers(folder) == []
    assert len(list_versions(folder, SHOW)) == 10


def test_a_save_that_fails_takes_the_folders_that_it_made_away_and_no_others(folder: Path) -> None:
    """The second name is longer than any file system allows (ENAMETOOLONG)."""
    before = sorted(folder.rglob("*"))
    with pytest.raises(SaveRefused, match="its name is too long"):
        save_files(folder, {"types/of/mine.yaml": b"types: {}\n", f"looks/{'x' * 300}.yaml": b"looks: {}\n"}, {})
    assert sorted(folder.rglob("*")) == before
