"""The command, run as a user runs it: what it prints, what it leaves on disk, and its exit code."""

from __future__ import annotations

import contextlib
import json
import os
import re
import shlex
import shutil
import signal
import subprocess
import tempfile
import threading
from collections.abc import Callable, Iterator
from fractions import Fraction
from pathlib import Path
from types import TracebackType
from typing import Self

import numpy as np
import pytest

from cuedeck.output.base import Line as TakeLine
from cuedeck.takes.store import TakeStore
from tests.cli.command import (
    Done,
    arguments,
    assert_foreseen,
    finished,
    read_until,
    run,
    run_process,
    started,
)
from tests.takes.rolled import add_packets
from tests.waiting import LONGEST_WAIT_S, wait_until

pytestmark = pytest.mark.skipif(os.name != "posix", reason="signals and pseudo-terminals are those of POSIX")

DEMO = Path(__file__).parents[2] / "shows" / "barometer"
SMALL_SHOW = """\
cuedeck: 1
slots: 24
refresh: 5 Hz
{on_stop}
rig:
  key: {{type: dimmer, address: 1.1}}
  rim: {{type: dimmer 16-bit, address: 1.2}}
looks:
  up: {{everything: full}}
  half: {{key: 50 %}}
shots:
  "1":
    title: short reveal
    cues:
      - {{cue: 1, at: 0 s, look: half}}
      - {{cue: 2, at: 0.2 s, look: up, fade: 0.8 s}}
  "2":
    length: 10 s
    cues:
      - {{cue: 1, at: 0 s, look: up}}
  "3":
    length: 1 s
    cues:
      - {{cue: 1, at: 0 s, look: half}}
      - {{cue: go, at: operator, look: up}}
  "4":
    length: 3 s
    cues:
      - {{cue: 1, at: 0 s, look: up}}
"""
"""Five packets a second, so that a machine with a lot to do still misses none."""
PACKET_BYTES = 25
"""Start code and 24 slots."""
OUT = bytes(PACKET_BYTES)
UP = bytes([0, 255, 255, 255]) + bytes(21)
COMMANDS = (
    "new",
    "open",
    "shoot",
    "packets",
    "step",
    "sheet",
    "move",
    "check",
    "looks",
    "patch",
    "calibrate",
    "fixture",
    "takes",
    "timecode",
    "schema",
    "migrate",
    "ports",
    "bench",
)


def shoot(*words: str | Path) -> Done:
    return run("shoot", *words, "--no-countdown")


def write_show(folder: Path, on_stop: str = "") -> Path:
    folder.mkdir()
    (folder / "show.yaml").write_text(SMALL_SHOW.format(on_stop=on_stop), encoding="utf-8")
    return folder


@pytest.fixture
def show(tmp_path: Path) -> Path:
    """A show of one universe of 24 slots, with a shot of a second."""
    return write_show(tmp_path / "small")


@pytest.fixture
def demo(tmp_path: Path) -> Path:
    """A copy of the demo show, without takes."""
    return Path(shutil.copytree(DEMO, tmp_path / "barometer", ignore=shutil.ignore_patterns("takes.sqlite*")))


class Line:
    """A serial line that ends in this process: a pseudo-terminal, and all that arrived on it.

    It goes by a name of its own. The system gives the name of one that was pulled to the next that somebody makes,
    and a player that looks for its lost line would find that one.
    """

    def __init__(self) -> None:
        import pty
        import tty

        self._near, self._far = pty.openpty()
        tty.setraw(self._far)
        self._place = tempfile.TemporaryDirectory(prefix="line-")
        self.port = f"{self._place.name}/line"
        Path(self.port).symlink_to(os.ttyname(self._far))
        self.received = bytearray()
        self.has_begun = threading.Event()
        self._is_cut = threading.Event()
        self._lock = threading.Lock()
        self._reader = threading.Thread(target=self._read, name="line", daemon=True)

    @property
    def target(self) -> str:
        return f"serial:{self.port}"

    def __enter__(self) -> Self:
        self._reader.start()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, traceback: TracebackType | None
    ) -> None:
        self.pull()

    def _read(self) -> None:
        import select

        while not self._is_cut.is_set():
            if select.select([self._near], [], [], 0.02)[0]:
                try:
                    self.received += os.read(self._near, 65536)
                except OSError:
                    return
                if len(self.received) >= 2 * PACKET_BYTES:
                    self.has_begun.set()

    def pull(self) -> None:
        """Take the line away, as when a plug is pulled; safe to call twice."""
        self._is_cut.set()
        self._reader.join(LONGEST_WAIT_S)
        self._place.cleanup()
        with self._lock, contextlib.suppress(OSError):
            for end in (self._far, self._near):
                os.close(end)
            self._far = self._near = -1

    def packets(self) -> list[bytes]:
        """Return what arrived until the line was taken away, cut into packets."""
        self.pull()
        return self._cut()

    def packets_once(self, is_so: Callable[[list[bytes]], bool]) -> list[bytes]:
        """Return what arrived, once that is so of the packets so far."""
        wait_until(lambda: is_so(self._cut()), "the end of the light on the line")
        return self.packets()

    def _cut(self) -> list[bytes]:
        return [bytes(self.received[at : at + PACKET_BYTES]) for at in range(0, len(self.received), PACKET_BYTES)]


@pytest.fixture
def line() -> Iterator[Line]:
    with Line() as line:
        yield line


def running(*words: str | Path) -> contextlib.AbstractContextManager[subprocess.Popen[str]]:
    """Run a take of which the test has something to say while it rolls."""
    return started("shoot", *words, "--no-countdown")


def interrupted(show: Path, line: Line) -> tuple[int, str, str]:
    """Shoot ten seconds on a line, and press Ctrl-C once packets arrive."""
    with running(show, "2", "--to", line.target) as process:
        assert line.has_begun.wait(LONGEST_WAIT_S)
        process.send_signal(signal.SIGINT)
        return finished(process)


def takes(show: Path) -> list[dict[str, object]]:
    rows: list[dict[str, object]] = json.loads(run("takes", show, "--json").stdout)
    return rows


# --- shoot --------------------------------------------------------------------------------------------------------


def test_a_take_without_a_keyboard_says_all_there_is_to_say(show: Path) -> None:
    done = shoot(show, "1")
    assert done.returncode == 0
    told = {line[:10].strip(): line[10:] for line in done.stdout.splitlines()[:6]}
    assert told["slate"] == "1-A  (complete)"
    assert told["packets"] == "6 of 6 sent"
    assert told["lateness"].startswith("median ")
    assert told["repeat"].startswith("byte for byte as rendered offline")
    assert told["kept in"] == str(show / "takes.sqlite")


def test_the_second_take_has_the_bytes_of_the_first(show: Path) -> None:
    shoot(show, "1")
    assert "byte for byte as rendered offline and as 1-A" in shoot(show, "1").stdout
    assert [take["slate"] for take in takes(show)] == ["1-A", "1-B"]


def exported(show: Path, folder: Path, suffix: str) -> tuple[Path, Path]:
    """Return what a take exports to, and what its shot renders to."""
    recorded, rendered = folder / f"recorded{suffix}", folder / f"rendered{suffix}"
    shoot(show, "1")
    assert run("takes", show, "export", "1-A", "--out", recorded).returncode == 0
    assert run("packets", show, "1", "--out", rendered).returncode == 0
    return recorded, rendered


def test_a_take_exports_to_the_table_that_the_shot_renders_to(show: Path, tmp_path: Path) -> None:
    recorded, rendered = exported(show, tmp_path, ".csv")
    assert recorded.read_bytes() == rendered.read_bytes()


def test_a_take_exports_to_the_arrays_that_the_shot_renders_to_and_when_packets_were_due_and_left(
    show: Path, tmp_path: Path
) -> None:
    recorded, rendered = (dict(np.load(path)) for path in exported(show, tmp_path, ".npz"))
    due_ns, sent_ns = recorded.pop("due_ns"), recorded.pop("sent_ns")
    assert recorded.keys() == rendered.keys()
    assert all(np.array_equal(recorded[name], rendered[name]) for name in rendered)
    assert due_ns.tolist() == [200_000_000 * number for number in range(len(rendered["time_s"]))]
    assert (sent_ns >= due_ns).all()


def test_a_take_goes_to_a_line_and_to_the_simulator_at_once(show: Path, line: Line) -> None:
    done = shoot(show, "1", "--to", line.target, "--to", "simulator")
    assert done.returncode == 0
    assert f"to {line.target}, simulator" in done.stdout
    packets = line.packets()
    assert packets[6:] == [OUT] * (len(packets) - 6), "dark until the player lets go"
    assert len(packets) >= 6 + 3
    assert packets[0] == bytes([0, 128]) + bytes(23)
    assert packets[5] == UP


def test_an_interrupted_take_is_cut_and_keeps_its_packets(show: Path, line: Line) -> None:
    code, out, _ = interrupted(show, line)
    assert code == 130
    assert "2-A  (cut)" in out
    (take,) = takes(show)
    assert take["status"] == "cut"
    assert 0 < int(str(take["packets_sent"])) < 51
    exported = show / "cut.npz"
    assert run("takes", show, "export", "2-A", "--out", exported).returncode == 0
    with np.load(exported) as arrays:
        assert len(arrays["slots"]) == take["packets_sent"]
        assert (arrays["slots"][:, 0, :3] == 255).all()


def test_an_interrupted_take_puts_the_lights_out(show: Path, line: Line) -> None:
    interrupted(show, line)
    packets = line.packets()
    assert packets[-3:] == [OUT] * 3
    assert set(packets[: packets.index(OUT)]) == {UP}
    assert set(packets[packets.index(OUT) :]) == {OUT}


def test_an_interrupted_take_holds_its_look_where_the_show_says_so(tmp_path: Path, line: Line) -> None:
    code, _, _ = interrupted(write_show(tmp_path / "holding", on_stop="on stop: hold"), line)
    assert code == 130
    assert set(line.packets()) == {UP}


def test_a_port_that_vanishes_is_named_and_the_other_output_gets_everything(show: Path, line: Line) -> None:
    with Line() as other:
        with running(show, "4", "--to", line.target, "--to", other.target) as process:
            assert line.has_begun.wait(LONGEST_WAIT_S)
            line.pull()
            code, out, _ = finished(process)
        assert code == 1
        assert f"lost      {line.target} was lost: input/output error" in out
        assert "16 of 16 sent" in out
        packets = other.packets()
        assert packets[:19] == [UP] * 16 + [OUT] * 3
        assert set(packets[19:]) <= {OUT}
    assert takes(show)[0]["status"] == "incomplete"


def test_an_interrupt_while_counting_keeps_no_take(show: Path) -> None:
    with started("shoot", show, "1") as process:
        read_until(process.stderr, "take 1-A in ")
        process.send_signal(signal.SIGINT)
        code, _, err = finished(process)
    assert code == 130
    assert "no take was kept" in err
    assert takes(show) == []


# --- what is refused ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["shoot", "small", "7"], "the show has no shot '7': write one of '1', '2', '3', '4'"),
        (["packets", "small", "7", "--out", "x.npz"], "the show has no shot '7'"),
        (["packets", "small", "1", "--out", "x.wav"], "'x.wav' is neither .npz nor .csv"),
        (["packets", "small", "1", "--out", "nowhere/x.npz"], "cannot be written: no such file or directory"),
        (["packets", "small", "3", "--out", "x.npz", "--fire", "go"], "'go' is no fired cue: write CUE@PACKET"),
        (
            ["packets", "small", "3", "--out", "x.npz", "--fire", "1@5"],
            "'1' is no operator cue of shot 3: write one of",
        ),
        (["packets", "small", "1", "--out", "x.npz", "--fire", "1@5"], "no operator cue of shot 1: the shot has none"),
        (["shoot", "small", "1", "--to", "lamp"], "'lamp' is no output: write simulator, serial:PORT"),
        (["shoot", "small", "1", "--to", "serial:"], "which port? write --to serial:PORT"),
        (["shoot", "small", "1", "--to", "serial:no-such-port"], "there is no such port; 'cuedeck ports' lists those"),
        (["shoot", "nowhere", "1"], "there is no folder 'nowhere'"),
        (["check", "."], "there is no show.yaml in '.'"),
        (["check"], "there is no show.yaml in '.'"),
        (["takes"], "there is neither takes.sqlite nor show.yaml in '.'"),
        (["shoot", "small"], "which shot? write one of '1', '2', '3', '4'"),
        (["takes", "nowhere"], "there is no folder 'nowhere'"),
        (["takes", "small", "export", "1-A", "--out", "x.npz"], "there is no take '1-A': none has been shot yet"),
        (["open", "small"], "'open' needs a terminal"),
    ],
)
def test_what_cannot_be_done_is_said_in_words(
    show: Path, monkeypatch: pytest.MonkeyPatch, words: list[str], said: str
) -> None:
    monkeypatch.chdir(show.parent)
    done = run(*words)
    assert done.returncode == 1
    assert said in done.stderr
    assert done.stdout == ""
    assert not list(show.parent.glob("x.*"))


@pytest.mark.parametrize(
    "words",
    [
        [],
        ["no-such-command"],
        ["shoot"],
        ["packets", "small", "1"],
        ["takes", "small", "export", "1-A"],
        ["check", "small", "--no-such-option"],
    ],
    ids=" ".join,
)
def test_a_command_that_is_not_understood_shows_its_usage(words: list[str]) -> None:
    done = run(*words)
    assert done.returncode == 2
    assert done.stderr.startswith("usage: cuedeck")
    assert done.stdout == ""


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="a device that is always full is there on Linux only")
@pytest.mark.parametrize(
    ("words", "unbuffered"),
    [
        (["patch", DEMO, "--json"], ""),
        (["patch", DEMO, "--json"], "1"),
        (["packets", DEMO, "1", "--out", "x.npz"], ""),
        (["schema"], ""),
        (["check", "--help"], ""),
    ],
    ids=["patch", "patch unbuffered", "packets", "schema", "help"],
)
def test_an_output_that_takes_nothing_more_is_told_in_words(
    tmp_path: Path, words: list[str | Path], unbuffered: str
) -> None:
    with Path("/dev/full").open("w") as full:
        done = subprocess.run(
            arguments(words),
            stdin=subprocess.DEVNULL,
            stdout=full,
            stderr=subprocess.PIPE,
            cwd=tmp_path,
            env={**os.environ, "PYTHONUNBUFFERED": unbuffered, "PYTHONPATH": str(DEMO.parents[1])},
            text=True,
            timeout=LONGEST_WAIT_S,
            check=False,
        )
    assert done.returncode == 1
    assert done.stderr == "cuedeck: standard output cannot be written: the disk is full; make room\n"


def test_a_command_without_standard_output_still_says_by_its_code_how_it_went(show: Path) -> None:
    command = shlex.join(arguments(["check", show]))
    done = subprocess.run(["sh", "-c", f"{command} >&-"], capture_output=True, text=True, check=False, timeout=120)
    assert done.returncode == 0
    assert_foreseen(done.stderr)


@pytest.mark.parametrize(
    "words",
    [["check"], ["patch", "--json"], ["looks"], ["takes"], ["takes", "--json"], ["migrate"]],
    ids=" ".join,
)
def test_in_the_folder_of_a_show_the_show_may_be_left_out(
    show: Path, monkeypatch: pytest.MonkeyPatch, words: list[str]
) -> None:
    (show / "show.yaml").write_text(SMALL_SHOW.format(on_stop="").replace("cuedeck: 1", "cuedeck: 2"), encoding="utf-8")
    monkeypatch.chdir(show)
    here, named = run(*words), run(words[0], ".", *words[1:])
    assert (here.returncode, here.stdout, here.stderr) == (0, named.stdout, named.stderr)


def test_a_take_is_exported_in_the_folder_of_the_show(show: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    assert shoot(show, "1").returncode == 0
    monkeypatch.chdir(show)
    assert run("takes", "export", "1-A", "--out", "x.npz").returncode == 0
    assert (show / "x.npz").exists()


def test_the_only_shot_need_not_be_named(show: Path) -> None:
    text = SMALL_SHOW.format(on_stop="").partition('  "2":')[0]
    (show / "show.yaml").write_text(text, encoding="utf-8")
    assert "slate     1-A" in shoot(show).stdout


def test_a_shot_and_a_look_may_stand_behind_flags(show: Path, tmp_path: Path) -> None:
    assert run("packets", show, "--out", tmp_path / "x.npz", "1").returncode == 0
    assert json.loads(run("looks", show, "--json", "half").stdout)[0]["look"] == "half"


@pytest.mark.parametrize("command", COMMANDS)
def test_every_command_has_help(command: str) -> None:
    done = run(command, "--help")
    assert done.returncode == 0
    assert done.stdout.startswith(f"usage: cuedeck {command}")
    assert done.stderr == ""


def test_the_help_of_all_names_every_command() -> None:
    done = run_process("--help")
    assert done.returncode == 0
    assert [word for word in COMMANDS if not re.search(rf"^    {word}\s", done.stdout, re.MULTILINE)] == []


# --- packets, check, takes, ports ---------------------------------------------------------------------------------


@pytest.mark.parametrize("suffix", [".npz", ".csv"])
def test_a_shot_renders_to_the_same_file_every_time(demo: Path, tmp_path: Path, suffix: str) -> None:
    once, again = tmp_path / f"once{suffix}", tmp_path / f"again{suffix}"
    for out in (once, again):
        assert run("packets", demo, "2", "--out", out).returncode == 0
    assert once.read_bytes() == again.read_bytes()


def test_a_fired_cue_happens_at_its_packet(show: Path, tmp_path: Path) -> None:
    out = tmp_path / "fired.npz"
    done = run("packets", show, "3", "--out", out, "--fire", "go@3")
    assert done.stdout == f"{out}: 6 packets, 1 universe, 5 Hz\n"
    with np.load(out) as arrays:
        assert arrays["slots"][:, 0, 0].tolist() == [128] * 3 + [255] * 3
        assert arrays["time_s"][3] == 0.6


def test_a_sound_show_passes_the_check(demo: Path) -> None:
    done = run("check", demo)
    assert (done.returncode, done.stdout) == (0, "")
    assert done.stderr == f"{demo}: 0 errors, 0 warnings\n"


def test_a_broken_show_fails_the_check_and_is_not_shot(show: Path) -> None:
    break_look(show)
    done = run("check", show)
    assert done.returncode == 1
    assert "show.yaml:15:" in done.stdout
    assert "write 'half'" in done.stdout
    assert f"{show}: 1 error, 0 warnings" in done.stderr
    refused = shoot(show, "1")
    assert refused.returncode == 1
    assert "an error in shot 1, or in what it uses:\nshow.yaml:15:" in refused.stderr
    assert not (show / "takes.sqlite").exists()


def test_an_error_in_one_shot_keeps_only_that_shot_from_being_taken(show: Path) -> None:
    before = run("packets", show, "1", "--out", show / "before.csv")
    text = (show / "show.yaml").read_text(encoding="utf-8")
    (show / "show.yaml").write_text(text.replace('"2":\n', '"2":\n    move: not-there.csv\n'), encoding="utf-8")
    assert (before.returncode, run("check", show).returncode) == (0, 1)
    note = "shot 2 has errors and cannot run: 'cuedeck check' says which"
    for words in (("packets", show, "1", "--out", show / "after.csv"), ("sheet", show, "1"), ("step", show, "1")):
        done = run(*words)
        assert (done.returncode, done.stderr.count(note)) == (0, 1), done.stderr
    assert (show / "after.csv").read_bytes() == (show / "before.csv").read_bytes()
    taken = shoot(show, "1")
    assert (taken.returncode, taken.stderr.count(note)) == (0, 1), taken.stderr
    for words in (("packets", show, "2", "--out", show / "no.csv"), ("sheet", show, "2"), ("step", show, "2")):
        assert run(*words).returncode == 1
    refused = shoot(show, "2")
    assert refused.returncode == 1
    assert "the move file 'not-there.csv' cannot be read" in refused.stderr
    with TakeStore(show) as store:
        assert [take.slate for take in store.takes()] == ["1-A"]


def test_problems_are_told_as_json(show: Path) -> None:
    break_look(show)
    done = run("check", show, "--json")
    assert done.returncode == 1
    (problem,) = json.loads(done.stdout)["problems"]
    assert problem == {
        "file": "show.yaml",
        "line": 15,
        "column": 33,
        "severity": "error",
        "what": "cue 1 goes to look 'hal', and no look is called that",
        "cure": "write 'half'",
    }


def test_a_warning_does_not_fail_the_check(show: Path) -> None:
    file = show / "show.yaml"
    file.write_text(file.read_text().replace("at: 0 s, look: half}", "at: 0 s, look: half, fade: 1 s}", 1))
    done = run("check", show, "--json")
    assert done.returncode == 0
    assert [problem["severity"] for problem in json.loads(done.stdout)["problems"]] == ["warning"]


def break_look(show: Path) -> None:
    file = show / "show.yaml"
    file.write_text(file.read_text().replace("at: 0 s, look: half}", "at: 0 s, look: hal}", 1))


def test_takes_are_listed(show: Path) -> None:
    assert run("takes", show).stdout == f"no takes yet: cuedeck shoot {show} SHOT\n"
    shoot(show, "1")
    shoot(show, "3")
    header, first, second = run("takes", show).stdout.splitlines()
    assert header.startswith("slate")
    assert first.startswith("1-A ")
    assert second.startswith("3-A ")
    assert "6/6" in first
    assert [(take["slate"], take["outputs"]) for take in takes(show)] == [
        ("1-A", ["simulator"]),
        ("3-A", ["simulator"]),
    ]


def test_a_take_whose_program_was_killed_is_listed_as_lost_once_it_was_closed(show: Path) -> None:
    with TakeStore(show, create=True) as store:
        take = store.begin("1", TakeLine((1,), 24, 5.0), Fraction(5), 6, ["simulator"])
        add_packets(store, take.id, [0, 1], [0, 200_000_000], [1_000_000, 204_000_000], np.zeros((2, 1, 512), np.uint8))
    row = run("takes", show).stdout.splitlines()[1].split()
    assert (row[0], *row[3:]) == ("1-A", "?/6", "rolling?")
    with TakeStore(show, create=True) as store:
        store.close_left_behind()
    row = run("takes", show).stdout.splitlines()[1].split()
    assert (row[0], *row[3:7]) == ("1-A", "2/6", "broken", "4.00", "ms")
    assert takes(show)[0]["status"] == "broken"


def test_ports_are_listed() -> None:
    assert run("ports").returncode == 0
    assert isinstance(json.loads(run("ports", "--json").stdout), list)


def test_a_take_that_differs_from_the_one_before_says_from_which_packet_on(show: Path) -> None:
    shoot(show, "1")
    text = (show / "show.yaml").read_text(encoding="utf-8")
    (show / "show.yaml").write_text(text.replace("half: {key: 50 %}", "half: {key: 40 %}"), encoding="utf-8")
    assert "byte for byte as rendered offline; DIFFERS from 1-A from packet 0 on" in shoot(show, "1").stdout
    assert "byte for byte as rendered offline and as 1-B" in shoot(show, "1").stdout


def test_a_take_at_another_speed_differs_by_its_speed(show: Path) -> None:
    shoot(show, "1")
    assert ": it ran at speed 2, and 1-A at speed 1  (" in shoot(show, "1", "--speed", "2").stdout


def test_a_cue_that_nobody_could_fire_is_named_in_the_summary(show: Path) -> None:
    done = shoot(show, "3")
    assert done.returncode == 0
    assert "not fired cue go, which waits for the operator" in done.stdout
    assert "Enter" not in done.stderr


def test_a_cue_cannot_be_fired_twice_nor_a_day_into_the_shot(show: Path, tmp_path: Path) -> None:
    out = tmp_path / "twice.npz"
    twice = run("packets", show, "3", "--out", out, "--fire", "go@1", "--fire", "go@2")
    late = run("packets", show, "3", "--out", out, "--fire", "go@999999999")
    assert (twice.returncode, late.returncode) == (1, 1)
    assert "fired once only" in twice.stderr
    assert "write a packet from 0 to 432000" in late.stderr
    assert not out.exists()


def test_closing_the_terminal_cuts_the_take_and_keeps_it(show: Path) -> None:
    with running(show, "2") as process:
        read_until(process.stderr, "\n")
        process.send_signal(signal.SIGHUP)
        assert finished(process)[0] == 130
    (take,) = json.loads(run("takes", show, "--json").stdout)
    assert take["status"] == "cut"


def test_at_a_keyboard_the_take_waits_for_the_operator_and_renders_again_from_what_was_fired(
    show: Path, tmp_path: Path
) -> None:
    import pty

    near, far = pty.openpty()
    with started("shoot", show, "3", "--no-countdown", stdin=far) as process:
        # Its length of 1 s is over, and it goes on.
        read_until(process.stderr, "waiting for cue go \N{MIDDLE DOT} Enter fires cue go")
        os.write(near, b"\n")
        assert finished(process)[0] == 0
    os.close(near)
    os.close(far)
    (take,) = json.loads(run("takes", show, "--json").stdout)
    ((cue, packet),) = [(fired["cue"], fired["packet"]) for fired in take["fired"]]
    assert cue == "go"
    assert packet > 5
    run("takes", show, "export", "3-A", "--out", tmp_path / "taken.csv")
    run("packets", show, "3", "--out", tmp_path / "rendered.csv", "--fire", f"go@{packet}")
    assert (tmp_path / "taken.csv").read_bytes() == (tmp_path / "rendered.csv").read_bytes()


@pytest.mark.parametrize("kind", ["rubbish", "folder", "other"])
def test_a_file_of_takes_that_is_none_stops_a_take_with_a_cure(show: Path, kind: str) -> None:
    import sqlite3

    file = show / "takes.sqlite"
    if kind == "rubbish":
        file.write_bytes(b"no database at all" * 100)
    elif kind == "folder":
        file.mkdir()
    else:
        with contextlib.closing(sqlite3.connect(file)) as other:
            other.execute("create table stock (name text)")
            other.commit()
    done = shoot(show, "1")
    assert done.returncode == 1
    assert "move it away, and a new one is made" in done.stderr
