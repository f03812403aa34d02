"""Limits of lights, as a user meets them: in the check, on the sheets, on the line, and in a calibration."""

from __future__ import annotations

import json
import os
from pathlib import Path

import numpy as np
import pytest

from cuedeck.cli.main import main
from tests.cli.command import Done, run
from tests.cli.test_commands import Line

SHOW = """\
cuedeck: 2
slots: 24
refresh: 40 Hz
rig:
  key: {type: dimmer, address: 1.1, never above: 80 %}
  hmi: {type: dimmer, address: 1.2, never below: 30 %}
  tube: {type: rgb, address: 1.3, never above: -1 stop}
  free: {type: dimmer, address: 1.6}
looks:
  lit: {key: full, hmi: 50 %, tube: {level: full, red: 40 %}, free: full}
  dark: {everything: out}
shots:
  "1":
    cues:
      - {cue: 1, at: 0.5 s, look: lit, fade: 0.5 s}
      - {cue: 2, at: 1.5 s, look: dark, fade: 0.5 s, curve: ease}
"""
PACKET_BYTES = 25
HELD = bytes([0, 0, 77, 0, 0, 0, 0]) + bytes(18)
"""Start code 0, and nothing but 30 % at the lamp that must not go out: 76.5 of 255."""

Out = pytest.CaptureFixture[str]


@pytest.fixture
def show(tmp_path: Path) -> Path:
    (tmp_path / "show.yaml").write_text(SHOW, encoding="utf-8")
    return tmp_path


def test_the_check_warns_of_looks_that_ask_for_more_and_lets_them_run(show: Path, capsys: Out) -> None:
    assert main(["check", str(show)]) == 0
    out = capsys.readouterr().out
    assert "show.yaml:10:14: warning: look 'lit' asks 100 % of 'key', which is never above 80 %" in out
    assert "show.yaml:10:45: warning: look 'lit' asks 100 % of 'tube', which is never above -1 stop" in out
    assert out.count("warning") == 2


def test_limits_that_cannot_be_are_errors_with_their_place(show: Path, capsys: Out) -> None:
    text = SHOW.replace("never below: 30 %", "never below: -1 stop, never above: 30 %")
    (show / "show.yaml").write_text(text, encoding="utf-8")
    assert main(["check", str(show)]) == 1
    assert "show.yaml:6:50: error: 'hmi' is never below -1 stop" in capsys.readouterr().out


def test_the_sheet_of_looks_tells_what_is_reached_and_what_was_asked(show: Path, capsys: Out) -> None:
    main(["looks", str(show)])
    rows = [line.split("  ")[0:1] + line.split()[1:] for line in capsys.readouterr().out.splitlines()]
    told = {(row[0], row[1]): " ".join(row[2:]) for row in rows}
    assert told["lit", "key"].startswith("80.0 %, limited from 100.0 % -0.32 stop")
    assert told["lit", "hmi"].startswith("50.0 % -1.00 stop")
    assert told["lit", "tube"].startswith("50.0 %, limited from 100.0 % -1.00 stop")
    assert told["dark", "hmi"].startswith("30.0 %, limited from 0.0 % -1.74 stop")
    assert told["dark", "key"].startswith("0.0 % out")
    main(["looks", str(show), "dark", "--json"])
    hmi = json.loads(capsys.readouterr().out)[1]
    assert (hmi["light"], hmi["control"], hmi["control_asked"]) == ("hmi", 0.3, 0.0)


def test_the_patch_sheet_shows_limits_where_there_are_any(show: Path, capsys: Out) -> None:
    main(["patch", str(show)])
    sheet = capsys.readouterr().out.splitlines()
    assert sheet[0].endswith("switches on  limits")
    assert [line.partition(".  ")[2].strip() for line in sheet[1:5]] == [
        "never above 80 %", "never below 30 %", "never above -1 stop", "",
    ]  # fmt: skip
    main(["patch", str(show), "--json"])
    lights = json.loads(capsys.readouterr().out)["lights"]
    assert [(one["never_above"], one["never_below"]) for one in lights] == [
        ("80 %", None), (None, "30 %"), ("-1 stop", None), (None, None),
    ]  # fmt: skip


def test_packets_keep_to_the_limits_from_the_first_to_the_last(show: Path, tmp_path: Path) -> None:
    out = tmp_path / "a.npz"
    assert run("packets", show, "1", "--out", out).returncode == 0
    slots = np.load(out)["slots"][:, 0, :6]
    assert slots[0].tolist() == slots[-1].tolist() == [0, 77, 0, 0, 0, 0]
    # 80 % of 255 is 204; half of it is 127.5, and a limit is rounded down. Red is 40 % of what its light gives.
    assert slots.max(axis=0).tolist() == [204, 128, 51, 127, 127, 255]
    assert slots[:, 1].min() == 77
    green, red = slots[:, 3].astype(int), slots[:, 2].astype(int)
    assert (np.abs(red - 0.4 * green) <= 0.7).all()  # half a step of each


@pytest.mark.skipif(os.name != "posix", reason="pseudo-terminals are those of POSIX")
def test_when_a_take_ends_a_lamp_that_must_not_go_out_is_still_lit_on_the_line(show: Path) -> None:
    with Line() as line:
        assert run("shoot", show, "1", "--to", line.target, "--no-countdown").returncode == 0
        packets = line.packets_once(lambda some: some[-1:] == [HELD])
    assert min(packet[2] for packet in packets) == 77


# --- a calibration ------------------------------------------------------------------------------------------------


def calibrate(show: Path, light: str, *typed: str) -> Done:
    text = "".join(f"{one}\n" for one in typed)
    return run("calibrate", show, light, "--to", "simulator", "--levels", "0,50", typed=text)


@pytest.mark.parametrize(("light", "limit"), [("key", "never above: 80 %"), ("hmi", "never below: 30 %")])
def test_a_light_that_is_limited_is_not_calibrated_before_its_limit_is_taken_out(
    show: Path, light: str, limit: str
) -> None:
    done = calibrate(show, light, "5210")
    assert done.returncode == 1
    assert f"'{light}' is limited, and a curve is read from 0 % to 100 %" in done.stderr
    assert f"take '{limit}' out of the show for the calibration" in done.stderr
    assert "goes to FULL" not in done.stderr


def test_beside_a_lamp_that_must_not_go_out_another_light_is_calibrated_and_told_so(show: Path) -> None:
    done = calibrate(show, "free", "5210", "10", "1180", "5210")
    assert done.returncode == 0
    assert "But 'hmi' stays at its 'never below'" in done.stderr
    assert "room: the 10 read at 0 % was taken off every reading" in done.stdout
