"""`cuedeck calibrate` as a user runs it: readings typed or piped, stopped, killed, and gone on with."""

from __future__ import annotations

import contextlib
import json
import os
import re
import signal
import subprocess
from collections.abc import Iterator
from pathlib import Path

import pytest

from cuedeck.cli.calibration_result import type_as_written
from cuedeck.folder.calibrations import CalibrationFile
from cuedeck.rig.calibration import Calibration, parse_ladder, parse_reading
from cuedeck.rig.dimmer import Dimmer, dimmer_of, measured_dimmer
from cuedeck.rig.types import BUILT_IN
from cuedeck.show.load import load_show
from cuedeck.show.source import Data, read_source
from tests.cli.command import Done, assert_foreseen, finished, read_until, run, started
from tests.cli.test_commands import Line
from tests.waiting import LONGEST_WAIT_S

pytestmark = pytest.mark.skipif(os.name != "posix", reason="signals and pseudo-terminals are those of POSIX")

SHOW = """\
cuedeck: 1
slots: 24
refresh: 40 Hz
types:
  panel: {channels: [intensity 16-bit, colour temperature], colour temperature: {low: 2500 K, high: 5600 K}, watts: 150}
mains: {circuits: {wall: 16 A}}
rig:
  key: {type: panel, address: 1.1, circuit: wall}
  fill: {type: panel, address: 1.4}
  rim: {type: dimmer, address: 1.11}
  far: {type: dimmer, address: 2.1}
"""
PACKET_BYTES = 25
LEVELS = ("--levels", "0,10,50")
READINGS = ["5210 lux", "0", "42", "1180", "5200"]
"""Full, 0 %, 10 %, 50 %, full again."""


@pytest.fixture
def show(tmp_path: Path) -> Path:
    (tmp_path / "show.yaml").write_text(SHOW, encoding="utf-8")
    return tmp_path


@pytest.fixture
def line() -> Iterator[Line]:
    with Line() as line:
        yield line


def calibrate(show: Path, *words: str, typed: list[str], light: str = "key", to: str = "simulator") -> Done:
    """Run the command with lines piped in."""
    text = "".join(f"{one}\n" for one in typed)
    return run("calibrate", show, light, "--to", to, *words, typed=text)


def table(out: str) -> dict[int, list[str]]:
    """Return the rows of the printed curve by control percent."""
    rows = re.findall(r"^ *(\d+) % +(.*)$", out.partition("light 100 %")[0], re.MULTILINE)
    return {int(control): rest.split() for control, rest in rows}


def prompts(err: str) -> list[str]:
    return re.findall(r"^\(\d+ of \d+\) control (.*?): reading\?", err, re.MULTILINE)


# --- readings that are piped in -----------------------------------------------------------------------------------


def test_piped_readings_make_a_curve(show: Path) -> None:
    done = calibrate(show, *LEVELS, typed=READINGS)
    assert done.returncode == 0
    assert prompts(done.stderr) == ["100 %", "0 %", "10 %", "50 %", "100 % again"]
    rows = table(done.stdout)
    # The middle of 5210 and 5200 is the scale; log2(1180 / 5205) = -2.14.
    assert rows[100][:2] == ["5205", "100"]
    assert rows[50] == ["1180", "22.7", "%", "-2.14", *rows[50][4:]]
    assert rows[0] == ["0", "0", "%", "dark"]
    assert "drift: full reads -0.2 % against the first reading" in done.stdout
    assert "dimmest reading: 7.0 stops under full, at 10 %" in done.stdout
    assert "of 65535" in done.stdout
    assert "⣀" in done.stdout


def test_at_the_start_it_says_what_could_hurt(show: Path) -> None:
    said = calibrate(show, *LEVELS, typed=[]).stderr
    for words in ("'key' goes to FULL on simulator", "circuit 'wall' carries it (it draws 150 W)", "gets hot"):
        assert words in said
    assert "Do not look into the light" in said
    assert said.index("Do not look") < said.index("reading?")


def test_the_light_of_the_room_is_taken_off_and_said(show: Path) -> None:
    done = calibrate(show, *LEVELS, typed=["1003", "3", "13", "253", "1003"])
    assert "room: the 3 read at 0 % was taken off every reading" in done.stdout
    assert table(done.stdout)[50][:2] == ["250", "25"]


def test_a_reading_that_turns_back_is_named_with_its_pair_and_asked_again(show: Path) -> None:
    done = calibrate(show, *LEVELS, typed=["5210", "0", "42", "40", "1180", "5200"])
    assert done.returncode == 0
    assert "10 % reads 42 and 50 % reads 40: more control cannot give the same light or less" in done.stderr
    assert prompts(done.stderr) == ["100 %", "0 %", "10 %", "50 %", "50 %", "100 % again"]
    assert table(done.stdout)[50][0] == "1180"


def test_a_word_that_is_no_reading_is_asked_again(show: Path) -> None:
    done = calibrate(show, *LEVELS, typed=["bright", "9 EV", *READINGS])
    assert "'bright' is no reading" in done.stderr
    assert "EV is not proportional to light" in done.stderr
    assert done.returncode == 0


def test_back_skip_and_full_do_what_they_say(show: Path) -> None:
    done = calibrate(show, *LEVELS, typed=["5000", "0", "24", "back", "42", "full", "5210", "skip", "5200"])
    assert done.returncode == 0
    assert prompts(done.stderr) == ["100 %", "0 %", "10 %", "50 %", "10 %", "50 %", "50 %", "100 % again"]
    rows = table(done.stdout)
    assert (rows[10][0], rows[100][0]) == ("42", "5205")
    assert 50 not in rows


def test_what_lies_below_the_dimmest_reading_is_called_a_guess(show: Path) -> None:
    out = calibrate(show, "--levels", "0,50", typed=["5210", "0", "1180", "5200"]).stdout
    assert "dimmest reading: 2.1 stops under full, at 50 %" in out
    assert "by the curve, which below the dimmest reading is a guess: " in out


def test_a_lamp_that_drifts_is_warned_of(show: Path) -> None:
    done = calibrate(show, *LEVELS, typed=[*READINGS[:4], "5000"])
    assert done.returncode == 0
    assert "warning: full has drifted by -4.0 % since the first reading" in done.stderr
    steady = calibrate(show, *LEVELS, "--restart", typed=[*READINGS[:4], "5060"])
    assert "drifted" not in steady.stderr


WITHIN, BEYOND = ["4862", "5583"], ["4858", "5589", "2605"]
"""Second readings at full after 5210, around 2 to the power of a tenth, 1.0718; and a stop less."""


@pytest.mark.parametrize("again", WITHIN)
def test_a_curve_whose_full_reading_drifted_by_up_to_a_tenth_of_a_stop_is_written_unasked(
    show: Path, again: str
) -> None:
    done = calibrate(show, *LEVELS, typed=[*READINGS[:-1], again])
    assert done.returncode == 0, done.stderr
    assert "write the curve all the same?" not in done.stderr
    assert "dimmer:" in (show / "show.yaml").read_text(encoding="utf-8")


@pytest.mark.parametrize("again", BEYOND)
@pytest.mark.parametrize("answer", [["yes"], ["no"], [""], []])
def test_a_curve_whose_full_reading_drifted_by_more_is_written_only_where_that_is_wanted(
    show: Path, again: str, answer: list[str]
) -> None:
    done = calibrate(show, *LEVELS, typed=[*READINGS[:-1], again, *answer])
    assert re.search(r"full has drifted by [-+]\d\.\d\d stop, and 0\.1 is the most for a curve", done.stderr), (
        done.stderr
    )
    is_written = answer == ["yes"]
    assert done.returncode == (0 if is_written else 130)
    assert ("dimmer:" in (show / "show.yaml").read_text(encoding="utf-8")) == is_written
    assert ("nothing was written; the readings are kept" in done.stderr) == (not is_written)
    if not is_written:  # it goes on from them, and asks again
        later = calibrate(show, typed=["yes"])
        assert later.returncode == 0, later.stderr
        assert "dimmer:" in (show / "show.yaml").read_text(encoding="utf-8")


def test_the_light_of_the_room_is_no_part_of_the_drift(show: Path) -> None:
    """1000 less 900 is 100, and 1010 less 900 is 110: a seventh of a stop."""
    done = calibrate(show, *LEVELS, typed=["1000", "900", "910", "950", "1010"])
    assert "full has drifted by +0.14 stop" in done.stderr


def test_a_drift_that_was_not_looked_for_is_said_to_be_unknown(show: Path) -> None:
    assert "full was not read again" in calibrate(show, *LEVELS, typed=[*READINGS[:4], "skip"]).stderr


def test_too_few_readings_are_refused(show: Path) -> None:
    done = calibrate(show, *LEVELS, typed=["5210", "0", "skip", "skip", "5210"])
    assert done.returncode == 1
    assert "too many levels were skipped for a curve" in done.stderr


# --- what goes out ------------------------------------------------------------------------------------------------


def test_the_line_carries_each_level_of_that_light_alone_and_darkness_in_the_end(show: Path, line: Line) -> None:
    done = calibrate(show, *LEVELS, typed=READINGS, to=line.target)
    assert done.returncode == 0
    packets = line.packets_once(lambda some: [one[1:3] for one in some[-3:]] == [bytes(2)] * 3)
    levels = [int.from_bytes(packet[1:3]) for packet in packets]
    assert {packet[4:] for packet in packets} == {bytes([0, 0, 255]) + bytes(18)}  # fill keeps its colour, and is out
    changes = [level for level, before in zip(levels, [-1, *levels], strict=False) if level != before]
    assert changes[changes.index(65535) :] == [65535, 0, 6554, 32768, 65535, 0]
    assert levels[-3:] == [0, 0, 0]


def test_the_light_may_stay_where_the_show_says_so(show: Path, line: Line) -> None:
    (show / "show.yaml").write_text(SHOW + "on stop: hold\n", encoding="utf-8")
    assert calibrate(show, *LEVELS, typed=READINGS, to=line.target).returncode == 0
    assert line.packets()[-1][1:3] == b"\xff\xff"


def test_a_line_that_carries_another_universe_is_refused(show: Path, line: Line) -> None:
    done = calibrate(show, typed=[], light="far", to=line.target)
    assert done.returncode == 1
    assert f"write --to {line.target},universe=2" in done.stderr
    assert "reading?" not in done.stderr


# --- stopped, killed, gone on with --------------------------------------------------------------------------------


@pytest.mark.parametrize("end", [["stop"], []])
def test_readings_are_kept_where_it_is_stopped_and_gone_on_with(show: Path, end: list[str]) -> None:
    stopped = calibrate(show, *LEVELS, typed=[*READINGS[:3], *end])
    assert stopped.returncode == 130
    assert "the readings so far are kept in" in stopped.stderr
    done = calibrate(show, typed=READINGS[3:])
    assert done.returncode == 0
    assert "going on with 3 of 5 readings" in done.stderr
    assert prompts(done.stderr) == ["50 %", "100 % again"]
    assert table(done.stdout) == table(calibrate(show, *LEVELS, "--restart", typed=READINGS).stdout)


def test_other_levels_do_not_mix_with_the_readings_so_far(show: Path) -> None:
    calibrate(show, *LEVELS, typed=READINGS[:2])
    refused = calibrate(show, "--levels", "0,25", typed=[])
    assert refused.returncode == 1
    assert "holds readings at other levels" in refused.stderr
    anew = calibrate(show, "--levels", "0,25", "--restart", typed=["5000", "0", "stop"])
    assert prompts(anew.stderr) == ["100 %", "0 %", "25 %"]


@contextlib.contextmanager
def asking(show: Path, line: Line) -> Iterator[subprocess.Popen[str]]:
    """Run the command until it has asked for the third reading."""
    with started("calibrate", show, "key", "--to", line.target, *LEVELS, stdin=subprocess.PIPE) as process:
        assert process.stdin is not None
        process.stdin.write("5210\n0\n")
        process.stdin.flush()
        read_until(process.stderr, "(3 of 5) control 10 %: reading? ")
        yield process


def test_a_program_that_is_killed_loses_no_reading(show: Path, line: Line) -> None:
    with asking(show, line) as process:
        process.send_signal(signal.SIGKILL)
        process.wait(LONGEST_WAIT_S)
    done = calibrate(show, typed=READINGS[2:])
    assert done.returncode == 0
    assert prompts(done.stderr) == ["10 %", "50 %", "100 % again"]
    assert table(done.stdout)[100][0] == "5205"


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM, signal.SIGHUP])
def test_an_interrupt_puts_the_light_out_and_keeps_the_readings(show: Path, line: Line, number: int) -> None:
    with asking(show, line) as process:
        process.send_signal(number)
        code, _, err = finished(process)
    assert code == 130
    assert "the readings so far are kept" in err
    assert line.packets_once(lambda some: some[-1][1:3] == bytes(2))
    assert "going on with 2 of 5" in calibrate(show, typed=[]).stderr


def test_a_line_that_is_pulled_is_said_at_once_and_the_reading_at_it_is_not_taken(show: Path, line: Line) -> None:
    with asking(show, line) as process:
        line.pull()
        assert_foreseen(read_until(process.stderr, "was lost"))
        code, _, err = finished(process, "42\n1180\n")
    assert code == 1
    assert "no output is left" in err
    assert "going on with 2 of 5" in calibrate(show, typed=[]).stderr


def test_all_levels_read_but_not_written_need_no_light_again(show: Path) -> None:
    calibration = Calibration(parse_ladder("0,10,50"))
    for reading in READINGS:
        calibration = calibration.with_reading(parse_reading(reading))
    CalibrationFile(show, "key").save(calibration)
    done = calibrate(show, typed=[], to="serial:no-such-port")
    assert done.returncode == 0
    assert "reading?" not in done.stderr
    assert table(done.stdout)[100][0] == "5205"


# --- a terminal ---------------------------------------------------------------------------------------------------


def test_on_a_terminal_full_waits_for_enter(show: Path, line: Line) -> None:
    import pty

    near, far = pty.openpty()
    with started("calibrate", show, "key", "--to", line.target, *LEVELS, stdin=far) as process:
        read_until(process.stderr, "press Enter to begin")
        assert not line.received
        os.write(near, b"\n5210 lux\nstop\n")
        code, _, err = finished(process)
    os.close(near)
    os.close(far)
    assert code == 130
    assert "(1 of 5) control 100 %: reading?" in err
    assert line.received


# --- what is refused ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["keyy", "--to", "simulator"], "the rig has no light 'keyy': write 'key'"),
        (["key", "--to", "lamp"], "'lamp' is no output"),
        (["key", "--to", "serial:no-such-port"], "there is no such port"),
        (["key", "--to", "simulator", "--levels", "0,100"], "--levels 0,100: a curve needs a level between"),
        (["key"], "the following arguments are required: --to"),
    ],
)
def test_what_cannot_be_done_is_said_in_words(show: Path, words: list[str], said: str) -> None:
    done = run("calibrate", show, *words)
    assert done.returncode in (1, 2)
    assert said in done.stderr


# --- what is written ----------------------------------------------------------------------------------------------


def type_written(show: Path, out: str, name: str) -> dict[str, Data]:
    """Return the data of a type of the show."""
    assert "written: " in out
    types = read_source("show.yaml", (show / "show.yaml").read_bytes()).data["types"]
    assert isinstance(types, dict)
    kind = types[name]
    assert isinstance(kind, dict)
    return kind


def curve_in_show(kind: dict[str, Data]) -> Dimmer:
    """Return the dimmer that a show gets from such a type."""
    content = {"cuedeck": "1", "types": {"lamp": {"channels": ["intensity"], "dimmer": kind["dimmer"]}}}
    loaded = load_show(json.dumps(content).encode())
    assert loaded.problems == ()
    return dimmer_of(loaded.show.types["lamp"].dimmer)


def test_a_type_of_the_show_is_given_its_curve(show: Path) -> None:
    done = calibrate(show, *LEVELS, typed=READINGS)
    kind = type_written(show, done.stdout, "panel")
    assert kind["dimmer"] == {"0 %": "0", "10 %": "42 lux", "50 %": "1180 lux", "100 %": "5205 lux"}
    assert "key, fill" in done.stdout
    assert curve_in_show(kind) == measured_dimmer([(0, 0), (0.1, 42), (0.5, 1180), (1, 5205)])


def test_a_type_that_was_renamed_meanwhile_is_not_written_in_part(show: Path, line: Line) -> None:
    with asking(show, line) as process:
        (show / "show.yaml").write_text(SHOW.replace("panel", "sheet"), encoding="utf-8")
        _, err = process.communicate("42\n1180\n5200\n", timeout=LONGEST_WAIT_S)
    assert_foreseen(err)
    assert process.returncode == 1
    assert "the show has no type 'panel' any more" in err
    assert (show / "show.yaml").read_text(encoding="utf-8") == SHOW.replace("panel", "sheet")
    assert "drift" in calibrate(show, typed=[]).stdout


def test_a_show_that_was_broken_meanwhile_keeps_the_readings_and_says_so(show: Path, line: Line) -> None:
    with asking(show, line) as process:
        (show / "show.yaml").write_text(SHOW + "rig: [", encoding="utf-8")
        _, err = process.communicate("42\n1180\n5200\n", timeout=LONGEST_WAIT_S)
    assert_foreseen(err)
    assert process.returncode == 1
    assert "show.yaml:" in err
    assert "all readings are kept: mend this, and give the command again; it goes on from them" in err
    (show / "show.yaml").write_text(SHOW, encoding="utf-8")
    again = calibrate(show, typed=[], to="serial:no-such-port")
    assert again.returncode == 0
    assert "going on with 5 of 5 readings" in again.stderr
    assert "reading?" not in again.stderr


@pytest.mark.parametrize("at", [1, 2, 3])
def test_a_reading_larger_than_that_at_full_is_questioned_at_once(show: Path, at: int) -> None:
    typed = [*READINGS[:at], "6000", *READINGS[at:]]
    done = calibrate(show, *LEVELS, typed=typed)
    asked = ["100 %", "0 %", "10 %", "50 %", "100 % again"]
    assert (
        f"{asked[at]} reads 6000 and 100 % reads 5210: less control cannot give the same light or more" in done.stderr
    )
    assert prompts(done.stderr) == [*asked[: at + 1], *asked[at:]]
    assert done.returncode == 0


def test_full_far_over_its_first_reading_is_questioned_before_it_is_taken_in(show: Path) -> None:
    done = calibrate(show, *LEVELS, typed=[*READINGS[:4], "52000", "5200"])
    assert "100 % reads 52000, and read 5210 at the start" in done.stderr
    assert prompts(done.stderr)[-2:] == ["100 % again", "100 % again"]
    assert table(done.stdout)[100][0] == "5205"
    insisted = calibrate(show, *LEVELS, typed=[*READINGS[:4], "52000", "52000"])
    assert table(insisted.stdout)[100][0] == "28605"


def test_a_built_in_type_is_written_out_whole(show: Path) -> None:
    done = calibrate(show, *LEVELS, typed=["100", "0", "1", "25", "100"], light="rim")
    assert type_written(show, done.stdout, "dimmer") == {
        "channels": ["intensity"],
        "dimmer": {"0 %": "0", "10 %": "1", "50 %": "25", "100 %": "100"},
    }
    assert "rim, far" in done.stdout


def test_every_built_in_type_can_be_written_out() -> None:
    for name, kind in BUILT_IN.items():
        text = json.dumps({"cuedeck": "1", "types": {name: type_as_written(kind)}})
        assert load_show(text.encode()).show.types == {name: kind}


def test_readings_are_forgotten_once_they_stand_in_the_show(show: Path) -> None:
    done = calibrate(show, *LEVELS, typed=READINGS)
    assert ("written: " in done.stdout) != (show / ".calibration").exists()


def test_no_reading_is_taken_while_the_line_is_black(show: Path, line: Line) -> None:
    assert run("player", show, "blackout").returncode == 0
    typed = [READINGS[0], "", "release", *READINGS]
    done = calibrate(show, *LEVELS, typed=typed, to=line.target)
    said = done.stderr.splitlines()
    assert next(n for n, one in enumerate(said) if one.startswith("BLACKOUT: the line is dark")) < next(
        n for n, one in enumerate(said) if one.startswith("BLACKOUT: no reading is taken")
    )
    assert done.stderr.count("that was no reading: a blackout lay over the light") == 2
    assert "released" in done.stderr
    assert table(done.stdout)[100][0] == "5205", "the first reading that counts is the one after the release"


def test_a_blackout_in_between_costs_the_reading_that_was_typed_under_it(show: Path, line: Line) -> None:
    with asking(show, line) as process:
        assert process.stdin is not None
        assert process.stderr is not None
        assert run("player", show, "blackout").returncode == 0
        assert run("player", show, "release").returncode == 0
        for reading in READINGS:
            process.stdin.write(f"{reading}\n")
        process.stdin.flush()
        process.stdin.close()
        err = process.stderr.read()
        process.wait(LONGEST_WAIT_S)
    assert err.count("that was no reading: a blackout lay over the light") == 1
    assert "(3 of 5) control 10 %: reading?" in err.partition("that was no reading")[2]
