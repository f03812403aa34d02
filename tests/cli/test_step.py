"""`cuedeck step`, `sheet`, `move` and `--speed` as a user runs them."""

from __future__ import annotations

import json
import os
import re
import shutil
import signal
import subprocess
from itertools import groupby
from pathlib import Path

import numpy as np
import pytest
import serial

from cuedeck.cli.step import ContactSteps, StepWords
from cuedeck.clock import ManualClock
from cuedeck.input.contacts import ContactPort
from cuedeck.show.floor import ContactTrigger
from tests.cli.command import Done, finished, read_until, run, started
from tests.cli.test_commands import PACKET_BYTES, Line
from tests.input.handlers.protocol_lines import PORTS, Lines

pytestmark = pytest.mark.skipif(os.name != "posix", reason="signals and pseudo-terminals are those of POSIX")

DEMO = Path(__file__).parents[2] / "shows" / "barometer"
SHOW = """\
cuedeck: 2
slots: 24
refresh: 40 Hz
camera: {fps: 25, shoot fps: 100}
rig:
  key: {type: dimmer, address: 1.1}
looks:
  up: {key: full}
shots:
  "1":
    starts at: 01:00:00:00
    move: {keys: [{time: 0 s, slide: 0 mm}, {time: 0.1 s, slide: 100 mm}]}
    cues:
      - {cue: 1, at: 0 s, look: up, fade: 0.1 s}
"""
"""Ten frames, 0 to 9, a packet each 25 ms: frame n has the light of packet ceil(0.4 n), a quarter more each."""


@pytest.fixture
def show(tmp_path: Path) -> Path:
    folder = tmp_path / "small"
    folder.mkdir()
    (folder / "show.yaml").write_text(SHOW, encoding="utf-8")
    return folder


def piped(said: str, *words: str | Path) -> Done:
    return run(*words, typed=said)


def test_words_that_are_piped_in_walk_through_the_frames(show: Path) -> None:
    done = piped("\n\nback\ngoto 01:00:00:09\nfly\nstop\n\n", "step", show, "1")
    assert done.returncode == 0
    assert done.stdout.splitlines() == [
        "frame 0 of 10  01:00:00:00  0.000 s  slide 0 mm",
        "frame 1 of 10  01:00:00:01  0.010 s  slide 0.9 mm",
        "frame 2 of 10  01:00:00:02  0.020 s  slide 5.8 mm",
        "frame 1 of 10  01:00:00:01  0.010 s  slide 0.9 mm",
        "frame 9 of 10  01:00:00:09  0.090 s  slide 99.1 mm",
    ]
    assert "'fly' is no word here" in done.stderr


def test_the_walk_ends_after_the_last_frame_and_with_the_input(show: Path) -> None:
    assert len(piped("\n" * 30, "step", show, "1").stdout.splitlines()) == 10
    assert len(piped("\n\n", "step", show, "1").stdout.splitlines()) == 3


def test_a_timer_goes_on_without_anybody(show: Path) -> None:
    done = run("step", show, "1", "--every", "0.1", "--from", "7")
    assert [line.split()[1] for line in done.stdout.splitlines()] == ["7", "8", "9"]


def test_the_line_carries_the_light_of_each_frame_until_the_next_and_goes_out_at_the_end(show: Path) -> None:
    with Line() as line:
        done = piped("goto 3\ngoto 6\ngoto 9\nstop\n", "step", show, "1", "--to", line.target)
        assert done.returncode == 0, done.stderr
        levels = [packet[1] for packet in line.packets_once(lambda some: some[-1:] == [bytes(PACKET_BYTES)])]
    # Packets 0, 2, 3 and 4 of a fade of four packets: 0, 1/2, 3/4 and all of 255, halves upwards.
    assert [level for level, _ in groupby(levels)] == [0, 128, 191, 255, 0]


def test_an_interrupt_says_where_to_go_on(show: Path) -> None:
    with started("step", show, "1", stdin=subprocess.PIPE) as process:
        assert process.stdin is not None
        process.stdin.write("goto 4\n")
        process.stdin.flush()
        assert "frame 0" in read_until(process.stdout, "frame 4")
        process.send_signal(signal.SIGINT)
        code, _, err = finished(process)
    assert code == 130
    assert "stopped at frame 4; --from 4 goes on from there" in err


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (("--every", "soon"), "--every soon: 'soon' is not a time"),
        (("--every", "0"), "--every 0 is too short for a frame to be held"),
        (("--from", "99"), "--from 99: the shot has no frame 99: write a frame from 0 to 9, or a timecode"),
        (("--speed", "0"), "--speed 0 is out of range: write a factor such as 1/4 or 2, from 1/1000 to 1000"),
        (("--speed", "slow"), "--speed slow: 'slow' is not a number: write a factor such as 1/4 or 2"),
    ],
)
def test_what_cannot_be_stepped_is_said_in_words(show: Path, words: tuple[str, str], message: str) -> None:
    done = run("step", show, "1", *words)
    assert done.returncode == 1
    assert message in done.stderr


def test_a_shot_at_a_quarter_of_the_speed_renders_four_times_as_long(tmp_path: Path) -> None:
    files = [tmp_path / f"{name}.npz" for name in ("written", "slow")]
    assert run("packets", DEMO, "1", "--out", files[0]).returncode == 0
    assert run("packets", DEMO, "1", "--speed", "1/4", "--out", files[1]).returncode == 0
    with np.load(files[0]) as written, np.load(files[1]) as slow:
        assert slow["time_s"][-1] == 4 * written["time_s"][-1] == 40
        assert np.array_equal(slow["slots"][::4], written["slots"])


def test_a_take_at_a_speed_says_so_and_has_the_packets_of_that_speed(tmp_path: Path) -> None:
    folder = tmp_path / "show"
    folder.mkdir()
    (folder / "show.yaml").write_text(SHOW.replace("40 Hz", "5 Hz"), encoding="utf-8")
    done = run("shoot", folder, "1", "--no-countdown", "--speed", "1/8")
    assert done.returncode == 0, done.stderr
    assert "0.8 s at 5 Hz (speed 1/8: packets --speed 1/8 renders it again)" in done.stdout
    assert run("takes", folder, "export", "1-A", "--out", tmp_path / "take.csv").returncode == 0
    assert run("packets", folder, "1", "--speed", "1/8", "--out", tmp_path / "again.csv").returncode == 0
    assert (tmp_path / "take.csv").read_bytes() == (tmp_path / "again.csv").read_bytes()


def test_the_sheet_has_both_times_the_timecode_and_the_axes(show: Path) -> None:
    done = run("sheet", show, "1", "--json", "--speed", "1/2")
    sheet = json.loads(done.stdout)
    assert (sheet["speed"], sheet["shoot_fps"], sheet["play_fps"]) == ("1/2", "100", "25")
    assert (sheet["length_set_s"], sheet["length_screen_s"]) == (0.2, 0.8)
    (cue,) = sheet["cues"]
    assert cue | {"look": "up"} == {
        "cue": "1",
        "starts": "0 s",
        "set_s": 0.0,
        "screen_s": 0.0,
        "frame": 0,
        "timecode": "01:00:00:00",
        "axes": {"slide mm": 0.0},
        "look": "up",
        "fade_set_s": 0.2,
        "fade_screen_s": 0.8,
        "curve": "linear",
    }


def test_the_sheet_prints_as_a_table(show: Path) -> None:
    done = run("sheet", show, "1")
    headline, heading, row = done.stdout.splitlines()
    assert headline == (
        "shot 1: 0.100 s on set, 0.400 s on screen, shot at 100 and played at 25 frames a second, speed 1"
    )
    columns = ("cue", "starts", "on set", "on screen", "frame", "timecode", "axes", "look", "fade", "curve")
    assert tuple(re.split(r"  +", heading)) == columns
    assert "01:00:00:00  slide 0 mm  up    0.100 s (0.400 s on screen)  linear" in row


def test_the_move_of_a_shot_is_described(show: Path) -> None:
    done = run("move", DEMO, "3")
    assert done.stdout.splitlines()[:2] == [
        "601 samples in 12 s, one every 20 ms",
        "sample rate 50 Hz, no gaps",
    ]
    assert "no cue should start at them" in done.stdout
    written = json.loads(run("move", show, "1", "--json").stdout)
    assert written["samples"] is None
    assert written["axes"][0]["peak_speed"] == pytest.approx(1875)


def test_a_shot_without_a_move_is_told_how_to_get_one(tmp_path: Path) -> None:
    folder = Path(shutil.copytree(DEMO, tmp_path / "demo", ignore=shutil.ignore_patterns("takes.sqlite*")))
    (folder / "show.yaml").write_text("cuedeck: 2\nshots: {1: {length: 2 s}}\n", encoding="utf-8")
    done = run("move", folder, "1")
    assert (done.returncode, "shot 1 has no move that can be read" in done.stderr) == (1, True)


def test_a_contact_goes_on_from_frame_to_frame(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(
        serial, "protocol_handler_packages", [*serial.protocol_handler_packages, "tests.input.handlers"]
    )
    lines, words, clock = Lines(), StepWords(), ManualClock()
    PORTS["step"] = lines
    triggers = [
        ContactTrigger.model_validate({"line": "CTS", "does": "start"}),
        ContactTrigger.model_validate({"line": "DSR", "does": "next cue"}),
    ]
    port = ContactPort("lines://step", triggers, None, ContactSteps(words), clock, print)
    port.open()
    for state in ({"cts": False}, {"cts": True}, {"cts": False, "dsr": True}, {"cts": True}):
        lines.inputs.update(state)
        for _ in range(40):
            port.poll()
            clock.spin_ns(1_000_000)
    words.put(None)
    assert list(words.wait_for_each(None, clock)) == ["", "fire", ""]


def test_contacts_need_a_trigger_in_the_shot(show: Path) -> None:
    done = piped("", "step", show, "1", "--contacts", "loop://")
    assert done.returncode == 1
    assert "shot 1 has no contact to watch" in done.stderr


def test_a_cue_is_fired_by_its_name_and_one_that_does_not_wait_is_refused(show: Path) -> None:
    text = SHOW + "      - {cue: lid opens, at: operator, look: up}\n      - {cue: 3, at: operator, look: up}\n"
    (show / "show.yaml").write_text(text, encoding="utf-8")
    done = piped("fire nonsense\nfire lid opens\nstop\n", "step", show, "1")
    assert "no cue 'nonsense' waits for the operator" in done.stderr
    assert done.stdout.splitlines()[-1].endswith("  fired lid opens")
    assert "--from 0 goes on from there" in done.stderr


def test_a_blackout_is_shown_and_undone_in_words(show: Path) -> None:
    done = piped("blackout\n", "step", show, "1")
    assert "BLACKED OUT until" in done.stderr
    done = piped("\nrelease\n\nstop\n", "step", show, "1")
    assert done.stderr.splitlines()[0].startswith("BLACKOUT: the line is dark until 'release'")
    assert done.stdout.splitlines()[0].endswith("  BLACKOUT") or "released" in done.stderr
    assert "released" in done.stderr
    assert "there is no blackout to release" in piped("release\n", "step", show, "1").stderr
