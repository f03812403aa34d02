"""The CID of an installation: made once, kept, the same for all (ANSI E1.31-2018, root layer [source seen])."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path
from uuid import UUID

import pytest

from cuedeck.output.sacn_identity import CID_FILE, kept_cid, own_cid

ASK = """
import sys
from pathlib import Path
from cuedeck.output.sacn_identity import kept_cid
print("ready", flush=True)
sys.stdin.readline()
print(kept_cid(Path(sys.argv[1])), flush=True)
"""


def test_it_is_kept(tmp_path: Path) -> None:
    first = kept_cid(tmp_path / "state" / "cuedeck")
    assert kept_cid(tmp_path / "state" / "cuedeck") == first
    assert [path.name for path in (tmp_path / "state" / "cuedeck").iterdir()] == [CID_FILE]
    assert first.version == 4


def test_it_stands_where_the_system_keeps_the_state_of_programs(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    if sys.platform != "linux":
        pytest.skip("XDG_STATE_HOME is of Linux")
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path))
    cid = own_cid()
    assert UUID((tmp_path / "cuedeck" / CID_FILE).read_text().strip()) == cid


def test_processes_that_start_at_once_get_the_same(tmp_path: Path) -> None:
    folder = tmp_path / "state"
    asking = [
        subprocess.Popen(
            [sys.executable, "-c", ASK, str(folder)], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
        )
        for _ in range(6)
    ]
    for one in asking:
        assert one.stdout is not None
        assert one.stdout.readline() == "ready\n"
    for one in asking:
        assert one.stdin is not None
        one.stdin.write("\n")
        one.stdin.flush()
    answers = {one.communicate(timeout=60)[0] for one in asking}
    assert answers == {f"{kept_cid(folder)}\n"}
    assert [path.name for path in folder.iterdir()] == [CID_FILE]


@pytest.mark.parametrize("content", [b"", b"not a CID", b"\xff\xfe", b"0011"])
def test_a_damaged_one_is_made_anew(tmp_path: Path, content: bytes) -> None:
    (tmp_path / CID_FILE).write_bytes(content)
    assert kept_cid(tmp_path) == kept_cid(tmp_path)
    assert UUID((tmp_path / CID_FILE).read_text().strip()) == kept_cid(tmp_path)


def test_where_it_cannot_be_kept_there_is_one_nevertheless(tmp_path: Path) -> None:
    (tmp_path / "file").write_bytes(b"")
    assert kept_cid(tmp_path / "file" / "state").version == 4


def test_a_file_system_without_links_keeps_it_too(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(*_: object) -> None:
        raise PermissionError

    monkeypatch.setattr(os, "link", refuse)
    assert kept_cid(tmp_path) == kept_cid(tmp_path)
    assert [path.name for path in tmp_path.iterdir()] == [CID_FILE]
