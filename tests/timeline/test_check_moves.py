"""A move that no rig makes is told, and what to look at; the bounds are common practice, no source."""

from __future__ import annotations

import re

import pytest

from cuedeck.timeline.opening import OpenedShow, open_show

SHOW = """\
cuedeck: 2
rig: {{key: {{type: dimmer, address: 1.1}}}}
shots:
  "1": {{move: {move}}}
"""


def told(move: str = "a.csv", rows: str = "") -> list[tuple[str, str]]:
    files = {"show.yaml": SHOW.format(move=move).encode(), "a.csv": rows.encode()}
    found: OpenedShow = open_show(files.__getitem__)
    assert not found.errors
    assert all(str(one.place).startswith("show.yaml:4:") for one in found.problems)
    return [(one.what, one.cure) for one in found.problems]


def recording(step: float, count: int, far: float = 100.0, head: str = "time s,slide mm") -> str:
    """Return a table of so many positions, from 0 to some distance."""
    return f"{head}\n" + "".join(f"{step * n:.6f},{far * n / (count - 1):.6f}\n" for n in range(count))


@pytest.mark.parametrize(
    "rows",
    [
        recording(0.02, 400),
        recording(0.5, 400),  # 2 Hz
        recording(0.000125, 400, far=480),  # 8 kHz, 9.6 m/s
        recording(0.02, 400, far=400, head="time s,slide m").replace("m\n", "cm\n", 1),
        recording(2, 5),  # written by hand
        recording(0.02, 400, far=57_000, head="time s,pan deg"),  # 20 turns a second are 7,200 deg/s
    ],
    ids=["usual", "slow", "fast", "centimetres", "by hand", "turns"],
)
def test_a_move_that_a_rig_can_make_has_nothing_said_about_it(rows: str) -> None:
    assert told(rows=rows) == []


def test_milliseconds_that_are_read_as_seconds_are_told_once_with_the_word_that_mends_it() -> None:
    """1,200 positions in 12 s, at 100 Hz."""
    rows = recording(10, 1200)
    ((what, cure),) = told(rows=rows)
    assert what == "the move of shot 1 lasts 11,990 s with 0.1 positions a second, which is no recording of a rig"
    word = re.search(r"milliseconds call it '([^']+)'", cure)
    assert word is not None
    assert told(rows=rows.replace("time s", word[1])) == []
    columns = f"{{file: a.csv, columns: {{time s: {word[1]}, slide mm: slide mm}}}}"
    assert told(columns, rows) == []


def test_seconds_that_are_read_as_milliseconds_are_told_with_the_word_that_mends_it() -> None:
    ((what, cure),) = told(rows=recording(0.01, 1200, head="time ms,slide mm"))
    assert "with 100,000 positions a second, which is no recording of a rig" in what
    assert "seconds call it 'time s'" in cure


@pytest.mark.parametrize(
    ("rows", "what"),
    [
        (recording(0.02, 400, far=1e9, head="time s,slide m"), "goes to slide 1e+12 mm, farther than any rig"),
        (recording(0.02, 400, far=90_000), "reaches 11,278.2 mm/s on slide at"),
        (recording(0.02, 400, far=60_000, head="time s,pan deg"), "reaches 7,518.8 deg/s on pan at"),
        (recording(0.4, 10_000), "lasts 3,999.6 s, more than an hour"),
    ],
    ids=["far", "fast", "turns", "long"],
)
def test_a_unit_that_was_taken_for_another_is_told(rows: str, what: str) -> None:
    ((found, cure),) = told(rows=rows)
    assert found.startswith(f"the move of shot 1 {what}")
    assert cure.startswith("look at")


@pytest.mark.parametrize(
    ("keys", "what"),
    [
        ("{time: 0 s, slide: 0 mm}, {time: 20 ms, slide: 340 mm}", "reaches 31,875 mm/s on slide at 0 s"),
        ("{time: 0 s, slide: 0 mm}, {time: 90 min, slide: 340 mm}", "lasts 5,400 s, more than an hour"),
        ("{time: 0 s, pan: 0 deg}, {time: 9 min, pan: 400000 deg}", "goes to pan 400,000 deg, farther than any rig"),
    ],
)
def test_a_move_that_is_written_out_is_judged_by_its_keys(keys: str, what: str) -> None:
    """Minimum jerk peaks at 1.875 times the mean speed: 340 mm in 20 ms are 31.875 m/s."""
    ((found, _),) = told(f"{{keys: [{keys}]}}")
    assert found.startswith(f"the move of shot 1 {what}")
