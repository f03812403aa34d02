"""Takes that hear the floor: the real command, real sockets on 127.0.0.1, pyserial's loop and a pseudo-terminal."""

from __future__ import annotations

import os
import re
import signal
import socket
import subprocess
import threading
from collections.abc import Callable, Iterator
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest

from cuedeck.cli.timecode_files import make_midi
from cuedeck.timing.timecode import RATES, Timecode
from tests.cli.command import Done, arguments, assert_foreseen, run
from tests.input.test_osc_messages import datagram
from tests.output.ports import Pty
from tests.waiting import LONGEST_WAIT_S

pytestmark = pytest.mark.skipif(os.name != "posix", reason="signals and pseudo-terminals are those of POSIX")

HERE = "127.0.0.1"
SHOW = """\
cuedeck: 2
slots: 24
refresh: 5 Hz
osc: {{port: {port}}}
rig:
  key: {{type: dimmer, address: 1.1}}
looks:
  up: {{key: full}}
  half: {{key: 50 %}}
  out: {{key: out}}
shots:
  osc:
    length: 0.2 s
    cues:
      - {{cue: 1, at: 0 s, look: half}}
      - {{cue: 4, at: operator, look: up, fade: 0.2 s}}
      - {{cue: go, at: operator, look: out}}
  contact:
    trigger: [{{line: CTS, does: next cue}}, {{line: CTS, edge: opening, does: cue 9, debounce: 5 ms}}]
    signal: {{line: RTS, lasts: 300 ms}}
    cues:
      - {{cue: 1, at: 0 s, look: half}}
      - {{cue: 4, at: operator, look: up}}
      - {{cue: 9, at: operator, look: out}}
  handheld:
    move: live
    cues: [{{cue: 1, at: 0 s, look: half}}, {{cue: 2, at: slide 30 mm, look: up}}]
  started:
    trigger: {{line: DSR, edge: opening, does: start}}
    length: 0.2 s
    cues: [{{cue: 1, at: 0 s, look: half}}]
  ridden:
    move: {{ease: linear, keys: [{{time: 0 s, slide: 0 mm}}, {{time: 0.2 s, slide: 100 mm}}]}}
    cues:
      - {{cue: 1, at: 0 s, look: half}}
      - {{cue: 2, at: slide 30 mm, look: up}}
      - {{cue: 3, at: slide 60 mm, look: out}}
  plain:
    length: 0.2 s
    cues: [{{cue: 1, at: 0 s, look: half}}]
"""
"""Five packets a second, so that a machine with a lot to do still misses none."""


@pytest.fixture
def port() -> int:
    """A UDP port that was free a moment ago."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as free:
        free.bind((HERE, 0))
        number: int = free.getsockname()[1]
        return number


@pytest.fixture
def show(tmp_path: Path, port: int) -> Path:
    folder = tmp_path / "floor"
    folder.mkdir()
    (folder / "show.yaml").write_text(SHOW.format(port=port), encoding="utf-8")
    return folder


class Shoot:
    """A take under way."""

    def __init__(self, *words: str | Path) -> None:
        self._running = subprocess.Popen(
            arguments(["shoot", *words]),
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
            encoding="utf-8",
        )
        self._watch = threading.Timer(LONGEST_WAIT_S, self._running.kill)
        self._watch.start()
        self._said = ""

    def wait_for(self, words: str) -> None:
        """Read what it says until some words come."""
        assert self._running.stderr is not None
        while words not in self._said:
            line = self._running.stderr.readline()
            assert line, self._said
            self._said += line

    def interrupt(self) -> None:
        """Press Ctrl-C."""
        self._running.send_signal(signal.SIGINT)

    def end(self) -> Done:
        """Return what it did."""
        out, rest = self._running.communicate(timeout=LONGEST_WAIT_S)
        self._watch.cancel()
        assert_foreseen(self._said + rest)
        return Done(self._running.args, self._running.returncode, out, self._said + rest)


@pytest.fixture
def send(port: int) -> Iterator[Callable[[bytes], None]]:
    """What sends a datagram to the take."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as sender:
        sender.bind((HERE, 0))

        def send_one(raw: bytes) -> None:
            sender.sendto(raw, (HERE, port))

        yield send_one


def fired(done: Done) -> list[str]:
    """Return what the summary says to render the take again with."""
    return re.findall(r"--fire (\S+)\)", done.stdout)


def assert_renders_again(show: Path, shot: str, done: Done, *words: str) -> None:
    """See that the packets of the first take are those that the shot renders to with what was fired."""
    slate = re.search(r"^slate +(\S+)", done.stdout, re.MULTILINE)
    assert slate is not None
    assert run("takes", show, "export", slate[1], "--out", show / "taken.npz").returncode == 0
    fires = [word for one in fired(done) for word in ("--fire", one)]
    assert run("packets", show, shot, *fires, *words, "--out", show / "again.npz").returncode == 0
    taken, again = np.load(show / "taken.npz"), np.load(show / "again.npz")
    assert sorted(taken) == sorted([*again, "due_ns", "sent_ns"])
    for name in again:
        assert np.array_equal(taken[name], again[name]), name
    assert "as rendered offline" in done.stdout


def test_a_take_is_started_and_its_cues_fired_over_osc(show: Path, send: Callable[[bytes], None]) -> None:
    take = Shoot(show, "osc", "--osc", "--arm", "--wait")
    take.wait_for("armed: waiting for the start from the floor")
    send(b"nonsense")
    send(datagram("/cuedeck/hold"))
    send(datagram("/cuedeck/start"))
    take.wait_for("rolling")
    send(datagram("/cuedeck/cue", 4))
    send(datagram("/cuedeck/cue", "nobody"))
    send(datagram("/cuedeck/cue", "go"))
    done = take.end()
    assert done.returncode == 0, done.stdout + done.stderr
    assert [one.partition("@")[0] for one in fired(done)] == ["4", "go"]
    counts = "3 taken; 1 malformed; 2 out of place: .*"
    assert re.search(f"^osc +{counts}$", done.stdout, re.MULTILINE), done.stdout
    assert_renders_again(show, "osc", done)


def test_a_shot_is_held_and_let_go_over_osc_and_the_take_keeps_which_packets_it_sent(
    show: Path, send: Callable[[bytes], None]
) -> None:
    take = Shoot(show, "osc", "--osc", "--wait", "--no-countdown")
    take.wait_for("rolling")
    send(datagram("/cuedeck/cue", 4))
    send(datagram("/cuedeck/hold", 1))
    take.wait_for("held at")
    send(datagram("/cuedeck/cue", "go"))
    send(datagram("/cuedeck/hold", 0))
    done = take.end()
    assert done.returncode == 0, done.stdout + done.stderr
    assert re.search(r"^held +\d+ packets? more than the shot has", done.stdout, re.MULTILINE), done.stdout
    assert "byte for byte as rendered offline" in done.stdout


def test_a_shot_without_a_recorded_move_follows_the_rig(show: Path, send: Callable[[bytes], None]) -> None:
    take = Shoot(show, "handheld", "--axis-from", "osc", "--no-countdown")
    take.wait_for("rolling")
    for position in (0.0, 20.0, 31.0):
        send(datagram("/cuedeck/axis", "slide", position))
    done = take.end()
    assert done.returncode == 0, done.stdout + done.stderr
    assert [one.partition("@")[0] for one in fired(done)] == ["2"]
    assert_renders_again(show, "handheld", done, "--axis-from", "fired")


def test_an_armed_take_that_is_stopped_keeps_nothing(show: Path) -> None:
    take = Shoot(show, "osc", "--osc", "--arm")
    take.wait_for("armed")
    take.interrupt()
    done = take.end()
    assert done.returncode == 130
    assert "stopped before the start: no take was kept" in done.stderr


def test_the_signal_of_a_take_comes_back_on_a_contact_and_fires_its_cues(show: Path) -> None:
    """pyserial's loop wires RTS to CTS: the contact closes with the signal, and opens when it has lasted."""
    done = run("shoot", show, "contact", "--contacts", "loop://", "--wait", "--no-countdown")
    assert done.returncode == 0, done.stdout + done.stderr
    assert [one.partition("@")[0] for one in fired(done)] == ["4", "9"]
    assert_renders_again(show, "contact", done)


@pytest.mark.parametrize("words", [["osc", "--osc"], ["contact", "--contacts", "loop://"], ["osc", "--osc", "--arm"]])
def test_a_take_with_a_cue_that_nobody_fires_ends_at_its_length_where_there_is_no_keyboard(
    show: Path, send: Callable[[bytes], None], words: list[str]
) -> None:
    text = (show / "show.yaml").read_text(encoding="utf-8")
    (show / "show.yaml").write_text(text.replace("signal: {line: RTS, lasts: 300 ms}", ""), encoding="utf-8")
    take = Shoot(show, *words, "--no-countdown")
    if "--arm" in words:
        take.wait_for("armed")
        send(datagram("/cuedeck/start"))
    done = take.end()
    assert done.returncode == 0, done.stdout + done.stderr
    assert re.search(r"^packets +(\d+) of \1 sent", done.stdout, re.MULTILINE), done.stdout
    assert "cue 4, which waits for the operator" in done.stdout
    assert "waiting for cue" not in done.stderr


def test_a_take_that_waits_for_its_operator_says_so_and_for_which_cue_to_every_window(
    show: Path, send: Callable[[bytes], None]
) -> None:
    take = Shoot(show, "osc", "--osc", "--wait", "--no-countdown")
    take.wait_for("waiting for cue 4")
    assert re.search("^player +take osc-A waits for cue 4 · ", run("player", show).stdout, re.MULTILINE)
    send(datagram("/cuedeck/cue", 4))
    take.wait_for("waiting for cue go")
    send(datagram("/cuedeck/cue", "go"))
    done = take.end()
    assert done.returncode == 0, done.stdout + done.stderr
    assert not [line for line in done.stderr.splitlines() if _is_past(line)], done.stderr


def _is_past(line: str) -> bool:
    """Whether a line counts a packet that the shot does not have."""
    found = re.search(r"packet (\d+) of (\d+)", line)
    return found is not None and int(found[1]) > int(found[2])


def test_a_rig_that_is_ridden_by_hand_fires_the_cues_tied_to_positions(
    show: Path, send: Callable[[bytes], None]
) -> None:
    take = Shoot(show, "ridden", "--axis-from", "osc", "--no-countdown")
    take.wait_for("rolling")
    for position in (0.0, 20.0, 31.0, 29.9, 30.1):
        send(datagram("/cuedeck/axis", "slide", position))
    take.wait_for("waiting for cue 3")
    send(datagram("/cuedeck/axis", "slide", 65.0))
    done = take.end()
    assert done.returncode == 0, done.stdout + done.stderr
    assert [one.partition("@")[0] for one in fired(done)] == ["2", "3"]
    assert "(packets --axis-from fired)" in done.stdout
    assert_renders_again(show, "ridden", done, "--axis-from", "fired")


def test_a_rig_that_writes_its_positions_on_a_line_is_followed(show: Path) -> None:
    with Pty() as pty:
        take = Shoot(show, "ridden", "--axis-from", f"serial:{pty.port},baud=9600", "--no-countdown")
        take.wait_for("rolling")
        pty.write(b"slide 0\nslide 40\nslide 70\n")
        done = take.end()
    assert done.returncode == 0, done.stdout + done.stderr
    assert [one.partition("@")[0] for one in fired(done)] == ["2", "3"]
    assert f"3 positions from serial:{pty.port}" in done.stdout


def test_a_position_that_was_never_passed_is_named(show: Path, send: Callable[[bytes], None]) -> None:
    take = Shoot(show, "ridden", "--axis-from", "osc", "--no-countdown")
    take.wait_for("waiting for cue 2")
    send(datagram("/cuedeck/axis", "slide", 0.0))
    take.interrupt()
    done = take.end()
    assert done.returncode == 130
    assert done.stdout.count("which waits for its position") == 2


def test_contacts_whose_port_was_not_named_are_told_and_the_take_runs(show: Path) -> None:
    done = run("shoot", show, "started", "--no-countdown")
    assert done.returncode == 0
    assert "the contacts of shot started are not armed: name their port with --contacts PORT" in done.stderr


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["plain", "--contacts", "loop://"], "shot plain has no contact to watch and no signal to give"),
        (["plain", "--wait"], "nothing could be waited for: shot plain has no operator cue; leave --wait out"),
        (["osc", "--wait", "--chase", "mtc:x.mid"], "nothing could be waited for: a take that follows timecode"),
        (["handheld"], "the move of shot handheld is live: add --axis-from osc, or --axis-from serial:PORT"),
        (["plain", "--arm"], "nothing could start the take: add --osc, or --contacts PORT"),
        (["contact", "--contacts", "loop://", "--arm"], "nothing could start the take"),
        (["contact", "--contacts", "/nowhere"], "the contacts on /nowhere cannot be watched: there is no such port"),
        (["contact", "--contacts", "/dev/x", "--to", "serial:/dev/x"], "the contacts need a port of their own"),
        (["plain", "--axis-from", "osc"], "shot plain has no cue tied to a position"),
        (["ridden", "--axis-from", "radio"], "'radio' tells no positions: write --axis-from osc, serial:PORT"),
        (
            ["ridden", "--axis-from", "serial:/nowhere"],
            "the axis on /nowhere cannot be followed: there is no such port",
        ),
    ],
)
def test_what_does_not_fit_the_shot_is_refused_with_a_cure(show: Path, words: list[str], told: str) -> None:
    done = run("shoot", show, *words, "--no-countdown")
    assert done.returncode == 1
    assert told in done.stderr
    assert not (show / "takes.sqlite").exists() or "no takes" in run("takes", show).stdout


def test_an_osc_port_that_is_taken_is_refused(show: Path, port: int) -> None:
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as other:
        other.bind((HERE, port))
        done = run("shoot", show, "osc", "--osc", "--no-countdown")
    assert done.returncode == 1
    assert f"OSC cannot be listened for on 127.0.0.1:{port}" in done.stderr


def test_a_contact_that_would_fire_what_is_not_there_fails_the_check(show: Path) -> None:
    text = (show / "show.yaml").read_text(encoding="utf-8")
    (show / "show.yaml").write_text(text.replace("does: cue 9", "does: cue 8"), encoding="utf-8")
    done = run("check", show)
    assert done.returncode == 1
    assert "the contact would fire cue 8, which is no operator cue of shot contact" in done.stdout + done.stderr


# What a rig says that cannot be.


def test_one_bad_sample_of_a_rig_fires_no_cue_and_is_told_and_counted(show: Path) -> None:
    with Pty() as pty:
        take = Shoot(show, "ridden", "--axis-from", f"serial:{pty.port}", "--no-countdown")
        take.wait_for("rolling")
        pty.write(b"slide 0\nslide 1\nslide 9000\nslide 2\n")
        take.wait_for("slide is said to be at 9000, which it cannot have reached: not believed")
        take.wait_for("waiting for cue 2")
        pty.write(b"slide 20\nslide 40\nslide 70\n")
        done = take.end()
    assert done.returncode == 0, done.stdout + done.stderr
    assert [one.partition("@")[0] for one in fired(done)] == ["2", "3"]
    told = r"^axis +1 position of slide not believed, the worst 9000: .* and it goes 1000 at most"
    assert re.search(told, done.stdout, re.MULTILINE), done.stdout


def test_a_shot_says_how_fast_its_axis_goes(show: Path) -> None:
    text = (show / "show.yaml").read_text(encoding="utf-8")
    stated = text.replace("    move: live\n", "    move: live\n    top speed: {slide: 20 mm/s}\n")
    (show / "show.yaml").write_text(stated, encoding="utf-8")
    with Pty() as pty:
        take = Shoot(show, "handheld", "--axis-from", f"serial:{pty.port}", "--no-countdown")
        take.wait_for("rolling")
        pty.write(b"slide 0\nslide 0.5\nslide 31\nslide 1\n")
        take.wait_for("slide is said to be at 31, which it cannot have reached")
        pty.write(b"slide 31\nslide 31\nslide 31\n")
        done = take.end()
    assert done.returncode == 0, done.stdout + done.stderr
    assert "and it goes 20 at most (see 'top speed')" in done.stdout


@pytest.mark.parametrize(
    ("speed", "told"),
    [
        ("{slid: 20 mm/s}", "no cue of shot handheld is tied to an axis 'slid'"),
        ("{slide: 20 deg/s}", "the cues of shot handheld count axis 'slide' otherwise: write a speed such as 300 mm/s"),
        ("{slide: 20 mm}", "'20 mm' is no speed of an axis: write how far in a second, such as 300 mm/s"),
        ("{slide: 0 mm/s}", "'0 mm/s' is no speed of an axis"),
    ],
)
def test_a_speed_that_no_axis_has_fails_the_check(show: Path, speed: str, told: str) -> None:
    text = (show / "show.yaml").read_text(encoding="utf-8")
    stated = text.replace("    move: live\n", f"    move: live\n    top speed: {speed}\n")
    (show / "show.yaml").write_text(stated, encoding="utf-8")
    done = run("check", show)
    assert done.returncode == 1
    said = " ".join((done.stdout + done.stderr).split())
    assert told.replace(": write", " write") in said.replace(": write", " write"), said


# What must not meet on one port or in one take.


@pytest.mark.parametrize("words", [["--contacts", "loop://"], ["--osc"], ["--arm", "--osc"], ["--axis-from", "osc"]])
def test_a_take_that_follows_timecode_hears_nothing_else_from_the_floor(
    show: Path, tmp_path: Path, words: list[str]
) -> None:
    """A contact that starts a rig, or fires a cue, would make the light depend on more than the timecode."""
    tape = tmp_path / "tape.mid"
    make_midi(tape, Timecode(0, RATES["25"]), Fraction(2))
    done = run("shoot", show, "contact", "--chase", f"mtc:{tape}", *words)
    assert done.returncode == 1
    assert "a take that follows timecode is started and run by it: leave out --arm, --contacts, --osc" in done.stderr
    assert "no takes" in run("takes", show).stdout


@pytest.mark.parametrize("to", ["serial:{}", "framed:{}", "serial:{},slots=24", "framed:{},universe=1,slots=24"])
@pytest.mark.parametrize("order", [1, -1])
def test_contacts_are_never_watched_on_a_port_that_carries_light(show: Path, to: str, order: int) -> None:
    """A break on the port that raises RTS could start a rig: a safety refusal."""
    with Pty() as pty:
        outputs = ["--to", to.format(pty.port), "--to", "simulator"]
        outputs = outputs if order == 1 else [*outputs[2:], *outputs[:2]]
        done = run("shoot", show, "contact", "--contacts", pty.port, *outputs, "--no-countdown")
    assert done.returncode == 1
    assert f"{pty.port} cannot carry light and watch contacts: the contacts need a port of their own" in done.stderr
    assert "no takes" in run("takes", show).stdout


def test_contacts_are_never_watched_on_a_port_that_carries_light_by_another_name(show: Path, tmp_path: Path) -> None:
    link = tmp_path / "lights"
    with Pty() as pty:
        link.symlink_to(pty.port)
        for light, contacts in ((link, pty.port), (pty.port, link)):
            done = run("shoot", show, "contact", "--contacts", contacts, "--to", f"serial:{light}", "--no-countdown")
            assert done.returncode == 1
            assert "cannot carry light and watch contacts: the contacts need a port of their own" in done.stderr


def test_an_axis_is_never_followed_on_a_port_that_carries_light_or_watches_contacts(show: Path) -> None:
    with Pty() as pty:
        axis = ["--axis-from", f"serial:{pty.port},baud=9600", "--no-countdown"]
        for words in (["ridden", "--to", f"framed:{pty.port}"], ["contact", "--contacts", pty.port]):
            done = run("shoot", show, *words, *axis)
            assert done.returncode == 1
            assert "is used for light or contacts: the axis needs a port of its own" in done.stderr
