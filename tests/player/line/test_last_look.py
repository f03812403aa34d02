"""The last look in its file: what is read back is what was on the line last, however the writing was cut."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from cuedeck.output.base import Line
from cuedeck.player.line.last_look import LastLook, Route, read_last_look
from tests.tools import times


def looks(universes: int = 2) -> np.ndarray:
    return np.arange(universes * 512, dtype=np.uint16).astype(np.uint8).reshape(universes, 512)


def route(universes: int = 2) -> Route:
    line = Line(tuple(range(1, universes + 1)), 512, 44.0, 100, is_rehearsal=True)
    return Route(("sacn:127.0.0.1", "serial:/dev/port"), line, np.zeros((universes, 512), np.uint8))


def test_what_was_kept_is_read_back(tmp_path: Path) -> None:
    path = tmp_path / "look"
    LastLook(path, replace(route(), stays_lit=True), looks()).close()
    found = read_last_look(path)
    assert found is not None
    assert (found[0].targets, found[0].line) == (route().targets, route().line)
    assert np.array_equal(found[0].dark, route().dark)
    assert found[0].stays_lit
    assert np.array_equal(found[1], looks())


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(steps=st.lists(st.integers(0, 255), min_size=1, max_size=9))
def test_the_newest_of_many_is_read(tmp_path: Path, steps: list[int]) -> None:
    path = tmp_path / "look"
    last_look = LastLook(path, route(), looks())
    for value in steps:
        last_look.keep(np.full((2, 512), value, np.uint8))
    found = read_last_look(path)
    assert found is not None
    assert int(found[1][0, 0]) == steps[-1]
    last_look.close()


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=times(60))
@given(cut=st.integers(0, 3000), spoilt=st.integers(0, 255))
def test_a_byte_that_was_being_written_costs_one_look_and_no_more(tmp_path: Path, cut: int, spoilt: int) -> None:
    path = tmp_path / "look"
    last_look = LastLook(path, route(), looks())
    shown = [np.full((2, 512), value, np.uint8) for value in (1, 2)]
    for look in shown:
        last_look.keep(look)
    last_look.close()
    content = bytearray(path.read_bytes())
    place = len(content) - 2 * (12 + 1024) + cut % (2 * (12 + 1024))
    content[place] = spoilt
    path.write_bytes(content)
    found = read_last_look(path)
    assert found is not None, "one of the two records is whole"
    assert any(np.array_equal(found[1], look) for look in shown)


@pytest.mark.parametrize("content", [b"", b"cuelook2", b"rubbish" * 1000, b"cuelook2\xff\xff\xff\xff{}"])
def test_a_file_that_is_none_is_no_look(tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "look"
    path.write_bytes(content)
    assert read_last_look(path) is None
    assert read_last_look(tmp_path / "missing") is None


def test_a_new_file_takes_the_place_of_the_old_one(tmp_path: Path) -> None:
    path = tmp_path / "look"
    first = LastLook(path, route(), looks())
    second = LastLook(path, replace(route(1), targets=("simulator",)), looks(1))
    first.keep(looks())
    found = read_last_look(path)
    assert found is not None
    assert (found[0].targets, found[1].shape) == (("simulator",), (1, 512))
    first.close()
    second.close()


WRITER = """
import sys
from pathlib import Path
import numpy as np
from tests.player.line.test_last_look import looks, route
from cuedeck.player.line.last_look import LastLook
last_look = LastLook(Path(sys.argv[1]), route(), looks())
print("ready", flush=True)
value = 0
while True:
    value = (value + 1) % 256
    last_look.keep(np.full((2, 512), value, np.uint8))
"""


@pytest.mark.skipif(os.name != "posix", reason="SIGKILL is of POSIX")
def test_a_writer_that_is_killed_leaves_a_whole_look(tmp_path: Path) -> None:
    for number in range(5):
        path = tmp_path / f"look {number}"
        with subprocess.Popen([sys.executable, "-c", WRITER, path], stdout=subprocess.PIPE) as process:
            assert process.stdout is not None
            process.stdout.readline()
            process.send_signal(signal.SIGKILL)
        found = read_last_look(path)
        assert found is not None
        assert np.array_equal(found[1], looks()) or len(np.unique(found[1])) == 1


@pytest.mark.parametrize("broken", [{"refresh_hz": 0.0}, {"refresh_hz": float("nan")}, {"universes": (0,)}])
def test_a_line_that_cannot_be_is_not_resumed(tmp_path: Path, broken: dict[str, object]) -> None:
    one = route(1)
    path = tmp_path / "look"
    LastLook(path, replace(one, line=replace(one.line, **broken)), looks(1)).close()  # type: ignore[arg-type]
    assert read_last_look(path) is None
