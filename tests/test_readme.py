"""What README promises at first sight: two commands to copy, and a first show that opens."""

from __future__ import annotations

import errno
import os
import re
from pathlib import Path

import pytest

from cuedeck.show import SHOW_FILE
from cuedeck.timeline.opening import OpenedShow, open_show

README = Path(__file__).parents[1] / "README.md"
MOST_LINES_OF_FIRST_SHOW = 14


def block(marker: str, language: str) -> list[str]:
    """Return the lines of the fenced block that stands right after a marker of README."""
    text = README.read_text(encoding="utf-8")
    found = re.findall(rf"^<!-- {re.escape(marker)} -->\n+```{language}\n(.*?)^```$", text, re.MULTILINE | re.DOTALL)
    assert len(found) == 1, f"README has {len(found)} {language} blocks after '<!-- {marker} -->'"
    return str(found[0]).splitlines()


def first_show() -> OpenedShow:
    raw = "\n".join(block("first show", "yaml")).encode()

    def read(name: str) -> bytes:
        if name != SHOW_FILE:
            raise FileNotFoundError(errno.ENOENT, os.strerror(errno.ENOENT))
        return raw

    return open_show(read)


@pytest.mark.parametrize("command", ["run", "test"])
def test_each_command_is_one_line_to_copy(command: str) -> None:
    lines = block(f"command: {command}", "sh")
    assert len(lines) == 1
    assert lines[0].strip()


def test_there_are_no_other_commands_in_sh_blocks() -> None:
    assert len(re.findall(r"^```sh$", README.read_text(encoding="utf-8"), re.MULTILINE)) == 2


def test_the_first_show_opens_without_any_problem() -> None:
    assert first_show().problems == ()


def test_the_first_show_has_a_shot_with_cues_that_happen() -> None:
    show = first_show()
    assert any(shot.cues for shot in show.show.shots.values())
    assert all(show.plan(name).timeline().packet_count > 1 for name in show.show.shots)


def test_the_first_show_can_be_taken_in_at_a_glance() -> None:
    assert len(block("first show", "yaml")) <= MOST_LINES_OF_FIRST_SHOW
