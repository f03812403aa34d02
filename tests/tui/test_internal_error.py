"""What breaks in the screen ends it in words and with an exit code, not with a place in the code."""

from __future__ import annotations

import os
import pty
import subprocess
import sys
from contextlib import suppress
from pathlib import Path

import pytest

from tests.cli.test_log_file import SHOW

BROKEN = """
import sys
from cuedeck.cli.main import main
from cuedeck.tui.app import CuedeckApp

def broken(self, *_):
    raise ZeroDivisionError("a bug")

CuedeckApp.draw_shot = broken
sys.exit(main(["open", sys.argv[1]]))
"""


@pytest.mark.skipif(os.name == "nt", reason="pseudo-terminals are not on Windows")
def test_a_screen_that_breaks_says_so_and_has_an_exit_code(tmp_path: Path) -> None:
    (tmp_path / "show.yaml").write_text(SHOW, encoding="utf-8")
    ours, theirs = pty.openpty()
    process = subprocess.Popen(
        [sys.executable, "-c", BROKEN, str(tmp_path)],
        stdin=theirs,
        stdout=theirs,
        stderr=theirs,
        cwd=Path(__file__).parent.parent.parent,
    )
    os.close(theirs)
    said = b""
    with suppress(OSError):  # the other side is closed
        while part := os.read(ours, 65536):
            said += part
    os.close(ours)
    assert process.wait(60) == 70
    assert b"internal error, please report it: ZeroDivisionError: a bug" in said.replace(b"\r\n", b"")
    assert b"Traceback" not in said
