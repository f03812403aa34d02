"""A runtime directory of each test's own, with a path short enough for a socket."""

from __future__ import annotations

import shutil
import tempfile
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.waiting import LONGEST_WAIT_S


@pytest.fixture
def runtime(monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    path = Path(tempfile.mkdtemp(prefix="cd-"))
    monkeypatch.setenv("XDG_RUNTIME_DIR", str(path))
    yield path
    for thread in threading.enumerate():
        if thread.name.startswith("end of player"):
            thread.join(LONGEST_WAIT_S)  # until then it has files there
    shutil.rmtree(path)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    path = tmp_path / "barometer"
    path.mkdir()
    return path
