"""`shoot --chase` and `packets --chase` as a user runs them, and .mid files of timecode."""

from __future__ import annotations

import json
import os
import re
import sqlite3
import wave
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest

from cuedeck.cli.timecode_files import make_midi, read_midi
from cuedeck.errors import Refusal
from cuedeck.timing.mtc.messages import running
from cuedeck.timing.mtc.midi_file import TimedMessage, write_midi_file
from cuedeck.timing.timecode import RATES, Timecode, TimecodeRate
from tests.cli.command import run
from tests.cli.test_commands import write_show
from tests.published.test_midi_file import events_of, track_of

ZERO = Timecode(0, RATES["25"])


@pytest.fixture
def show(tmp_path: Path) -> Path:
    """A show of five packets a second, at 25 fps, with a shot of a second."""
    return write_show(tmp_path / "small")


@pytest.fixture
def tape(tmp_path: Path) -> Path:
    """Timecode that comes from before the shot, jumps into it, and runs on in reverse."""
    path = tmp_path / "tape.mid"
    messages = [TimedMessage(due.at_s, due.encoded) for due in running(ZERO - 10, 20)]
    messages += [TimedMessage(Fraction(4, 5) + due.at_s, due.encoded) for due in running(ZERO + 14, 6)]
    messages += [TimedMessage(Fraction(2) + due.at_s, due.encoded) for due in running(ZERO + 24, 24, is_reverse=True)]
    path.write_bytes(write_midi_file(messages, 120_000))
    return path


def carried(path: Path) -> list[int]:
    with np.load(path) as archive:
        numbers: list[int] = archive["packet"].tolist()
        return numbers


def test_packets_that_follow_a_recording_are_the_same_on_every_run(show: Path, tape: Path, tmp_path: Path) -> None:
    outs = [tmp_path / f"{name}.npz" for name in "ab"]
    for out in outs:
        done = run("packets", show, "1", "--chase", f"mtc:{tape}", "--out", out)
        assert (done.returncode, done.stdout) == (0, f"{out}: 15 packets after mtc:{tape}, 5 Hz\n")
    assert outs[0].read_bytes() == outs[1].read_bytes()
    # Packets are 5 frames apart. The tape is at -10, -5, 0, 5, 10 frames, has jumped by four, is at 19 at one second,
    # runs free past the end of the shot until two, and goes back from there: 19, 14, 9, 4.
    assert carried(outs[0]) == [0, 0, 0, 1, 2, 3, 4, 5, 5, 5, 5, 3, 2, 1, 0]


def test_a_table_of_packets_tells_which_of_the_shot_each_was(show: Path, tape: Path, tmp_path: Path) -> None:
    out = tmp_path / "a.csv"
    assert run("packets", show, "1", "--chase", f"mtc:{tape}", "--out", out).returncode == 0
    head, *rows = out.read_text().splitlines()
    assert head.startswith("time_s,packet,1.1,")
    assert rows[0].startswith("0.0,0,128,")


def test_a_take_that_follows_a_recording_sends_what_is_rendered_offline(show: Path, tmp_path: Path) -> None:
    path, rendered, exported = tmp_path / "run.mid", tmp_path / "r.npz", tmp_path / "e.npz"
    make_midi(path, ZERO - 5, Fraction(2))
    done = run("shoot", show, "1", "--chase", f"mtc:{path}")
    assert done.returncode == 0, done.stderr
    assert "locked at 00:00:00:" in done.stderr
    assert f"chased    mtc:{path}" in done.stdout
    assert "byte for byte as rendered offline" in done.stdout
    assert run("packets", show, "1", "--chase", f"mtc:{path}", "--out", rendered).returncode == 0
    assert run("takes", show, "export", "1-A", "--out", exported).returncode == 0
    sent = carried(exported)
    assert sent == [0, 0, 1, 2, 3, 4, 5]
    assert carried(rendered)[: len(sent)] == sent
    with np.load(rendered) as one, np.load(exported) as other:
        assert np.array_equal(one["slots"][: len(sent)], other["slots"])
    (take,) = json.loads(run("takes", show, "--json").stdout)
    assert (take["chase"], take["carried"]) == (f"mtc:{path}", [[0, 0, 2], [1, 1, 5]])


def test_timecode_that_counts_other_frames_than_the_camera_is_refused(show: Path, tmp_path: Path) -> None:
    path = tmp_path / "run.mid"
    make_midi(path, Timecode(0, RATES["24"]), Fraction(1))
    done = run("packets", show, "1", "--chase", f"mtc:{path}", "--out", tmp_path / "a.npz")
    assert done.returncode == 1
    assert "the timecode counts 24, and the camera 25: write 'fps:'" in done.stderr


@pytest.mark.parametrize(
    ("source", "words"),
    [
        ("tape", "'tape' is no source of timecode"),
        ("mtc:none.mid", "'none.mid' cannot be read: no such file"),
        ("mtc:Studio In", "MIDI"),  # no extra, no driver or no such port: whatever this machine lacks
    ],
)
def test_a_source_that_cannot_be_followed_leaves_no_take(show: Path, source: str, words: str) -> None:
    done = run("shoot", show, "1", "--chase", source)
    assert done.returncode == 1
    assert words in done.stderr
    assert not (show / "takes.sqlite").exists() or not _takes(show)


def _takes(show: Path) -> int:
    database = sqlite3.connect(show / "takes.sqlite")
    (count,) = database.execute("select count(*) from take").fetchone()
    database.close()
    return int(count)


# Files of timecode.


@pytest.mark.parametrize("name", ["23.976", "24", "25", "29.97df", "30"])
def test_a_made_file_is_read_back_and_keeps_to_the_grammar_of_midi_files(name: str, tmp_path: Path) -> None:
    rate, path = TimecodeRate.parse(name), tmp_path / "made.mid"
    start = Timecode.parse("09:59:59:00", rate)
    frames = make_midi(path, start, Fraction(10))
    told = read_midi(path)
    whole = frames - frames % 2
    assert told == {
        "start": str(start),
        "end": str(start + (whole - 1)),
        "rate": name,
        "drop": rate.is_drop,
        "frames": whole,
        "gaps": [],
        "measured_fps": pytest.approx(float(rate.frames_per_second), abs=1e-4),
    }
    # By the grammar of the format: a full frame, then four quarter frames to each frame, between tempo and end.
    kinds = [event[:1] for event in events_of(track_of(path.read_bytes()))]
    assert kinds == [b"\xff", b"\xf0", *[b"\xf7"] * (4 * frames), b"\xff"]


@pytest.mark.parametrize(
    ("name", "speed", "told"),
    [
        ("23.976", "1", "23.976"),
        ("24", "1", "24"),
        ("24", "0.999", "23.976"),
        ("23.976", "1.0002", "23.976"),
        ("24", "0.97", "24"),
        ("30", "1", "30"),
        ("29.97", "1", "29.97"),
        ("29.97df", "1", "29.97df"),
        ("25", "0.999", "25"),
    ],
)
def test_rates_that_midi_counts_alike_are_told_apart_by_the_times_of_the_file_to_a_tick(
    tmp_path: Path, name: str, speed: str, told: str
) -> None:
    """480 ticks to a beat and half a second to a beat: times are whole multiples of 25/24 ms."""
    rate, path = TimecodeRate.parse(name), tmp_path / "run.mid"
    messages = [
        TimedMessage(due.at_s / Fraction(speed), due.encoded) for due in running(Timecode(0, rate), 5 * rate.counted)
    ]
    path.write_bytes(write_midi_file(messages, 500_000))
    found = read_midi(path)
    assert found["rate"] == told
    done = run("timecode", "read", path)
    assert f"frames at {told}\n" in done.stdout
    assert ("cannot be told apart" in done.stdout) == (speed == "0.97")


def test_in_too_short_a_run_of_midi_alike_rates_are_not_told_apart_and_that_is_said(tmp_path: Path) -> None:
    path = tmp_path / "run.mid"
    make_midi(path, Timecode(0, RATES["23.976"]), Fraction(2))
    assert run("timecode", "read", path).stdout.splitlines() == [
        f"{path}: MIDI timecode 00:00:00:00 to 00:00:01:23, 48 frames at 24",
        "  off speed or too short, so that 24 and 23.976 cannot be told apart",
    ]


def test_gaps_are_told_with_the_labels_on_either_side(tmp_path: Path) -> None:
    path = tmp_path / "gap.mid"
    parts = [(Fraction(0), ZERO, 10), (Fraction(1), ZERO + 25, 10)]
    messages = [
        TimedMessage(at_s + due.at_s, due.encoded) for at_s, first, count in parts for due in running(first, count)
    ]
    path.write_bytes(write_midi_file(messages, 120_000))
    assert read_midi(path)["gaps"] == [{"ms": 360.0, "before": "00:00:00:09", "after": "00:00:01:00"}]


def test_a_rate_that_midi_does_not_count_is_refused(tmp_path: Path) -> None:
    with pytest.raises(Refusal, match=r"MIDI timecode does not count 50: it counts 24, 25, 29\.97df and 30"):
        make_midi(tmp_path / "made.mid", Timecode(0, RATES["50"]), Fraction(1))


# Longitudinal timecode, as sound.


def make_sound(path: Path, rate: str, start: str, seconds: str) -> None:
    done = run("timecode", "make", "--fps", rate, "--start", start, "--seconds", seconds, "--out", path)
    assert done.returncode == 0, done.stderr


def test_a_shot_follows_recorded_sound_the_same_way_on_every_run(show: Path, tmp_path: Path) -> None:
    tape, outs = tmp_path / "tape.wav", [tmp_path / f"{name}.npz" for name in "ab"]
    make_sound(tape, "25", "23:59:59:20", "2")
    for out in outs:
        assert run("packets", show, "1", "--chase", f"ltc:{tape}", "--out", out).returncode == 0
    assert outs[0].read_bytes() == outs[1].read_bytes()
    # Packets are five frames apart, and the shot begins five frames into the tape.
    assert carried(outs[0]) == [0, 0, 1, 2, 3, 4, 5, 5, 5, 5, 5]


def two_channels(mono: Path) -> Path:
    """Return a file beside one of a channel, whose second channel that is; the first is silent."""
    path = mono.with_name("two.wav")
    with wave.open(str(mono)) as one, wave.open(str(path), "wb") as two:
        two.setparams(one.getparams()._replace(nchannels=2))
        samples = np.frombuffer(one.readframes(one.getnframes()), "<i2")
        two.writeframes(np.stack([np.zeros_like(samples), samples], axis=1).tobytes())
    return path


def test_the_channel_of_recorded_sound_may_be_named(show: Path, tmp_path: Path) -> None:
    make_sound(tmp_path / "tape.wav", "25", "23:59:59:20", "2")
    two, out = two_channels(tmp_path / "tape.wav"), tmp_path / "a.npz"
    done = run("packets", show, "1", "--chase", f"ltc:{two},channel=2", "--out", out)
    assert done.returncode == 0, done.stderr
    assert carried(out) == [0, 0, 1, 2, 3, 4, 5, 5, 5, 5, 5]
    done = run("shoot", show, "1", "--chase", f"ltc:{os.path.relpath(two)},channel=2")
    assert done.returncode == 0, done.stdout + done.stderr
    assert f"chased    ltc:{two},channel=2, which ran through the whole shot" in done.stdout


@pytest.mark.parametrize(
    ("behind", "words"),
    [
        ("", "it has 2 channels: name another, such as ltc:"),
        (",channel=1", "no timecode was found on channel 1"),
        (",channel=3", "has no channel 3: it has 2 channels"),
        (",channel=0", "',channel=0' is no channel of sound: the first is 1"),
        (",channel=left", "',channel=left' is no channel of sound: the first is 1"),
        (",channel=", "',channel=' is no channel of sound: the first is 1"),
    ],
)
def test_a_channel_that_is_not_there_or_has_no_timecode_is_refused(
    show: Path, tmp_path: Path, behind: str, words: str
) -> None:
    make_sound(tmp_path / "tape.wav", "25", "00:00:00:00", "1")
    two = two_channels(tmp_path / "tape.wav")
    for words_before in (["packets", show, "1", "--out", tmp_path / "a.npz"], ["shoot", show, "1"]):
        done = run(*words_before, "--chase", f"ltc:{two}{behind}")
        assert done.returncode == 1
        assert words in done.stderr


def test_midi_has_no_channels_of_timecode(show: Path, tmp_path: Path) -> None:
    make_midi(tmp_path / "run.mid", ZERO, Fraction(1))
    done = run("packets", show, "1", "--chase", f"mtc:{tmp_path}/run.mid,channel=2", "--out", tmp_path / "a.npz")
    assert done.returncode == 1
    assert "has no channels, as sound has: leave ,channel=2 out" in done.stderr


@pytest.mark.parametrize("rate", ["24", "29.97df", "30"])
def test_sound_that_counts_other_frames_than_the_camera_is_refused(show: Path, tmp_path: Path, rate: str) -> None:
    tape = tmp_path / "tape.wav"
    make_sound(tape, rate, "00:00:00:00", "2")
    done = run("packets", show, "1", "--chase", f"ltc:{tape}", "--out", tmp_path / "a.npz")
    assert done.returncode == 1
    assert f"the timecode counts {rate}, and the camera 25" in done.stderr


def test_a_take_whose_timecode_never_was_inside_the_shot_says_so(show: Path, tmp_path: Path) -> None:
    tape = tmp_path / "tape.wav"
    make_sound(tape, "25", "01:00:00:00", "1")
    done = run("shoot", show, "1", "--chase", f"ltc:{tape}")
    assert done.returncode == 1
    assert "which was never inside the shot" in done.stdout
    assert re.search("^slate +1-A  .incomplete.$", done.stdout, re.MULTILINE), done.stdout
    where = "the timecode ran from 01:00:00:.. to 01:00:00:.., and the shot ends at 00:00:01:00: see 'starts at'"
    assert re.search(f"^reason +{where}$", done.stdout, re.MULTILINE), done.stdout
    assert where.partition(" from")[0] in run("takes", show).stdout


def test_a_take_tells_how_much_of_the_shot_the_timecode_ran_through(show: Path, tmp_path: Path) -> None:
    tape = tmp_path / "tape.wav"
    make_sound(tape, "25", "00:00:00:00", "0.7")
    done = run("shoot", show, "1", "--chase", f"ltc:{tape}")
    assert done.returncode == 1
    assert re.search(r"which was inside the shot from 0\.\d+ s to 0\.\d+ s", done.stdout), done.stdout
    assert re.search(r"the timecode broke off at 00:00:00:1\d, and the shot ends at 00:00:01:00", done.stdout)


@pytest.mark.parametrize("kind", ["ltc", "mtc"])
def test_a_take_whose_timecode_counts_otherwise_is_incomplete_and_says_why_on_the_screen_in_the_summary_and_the_log(
    show: Path, tmp_path: Path, kind: str
) -> None:
    tape = tmp_path / ("tape.wav" if kind == "ltc" else "tape.mid")
    make_sound(tape, "24", "00:00:00:00", "2")
    done = run("shoot", show, "1", "--chase", f"{kind}:{tape}")
    why = "the timecode was never locked: it counts 24, and the camera 25"
    assert done.returncode == 1
    assert "the timecode counts 24, not as the camera does" in done.stderr
    assert re.search(f"^reason +{why}", done.stdout, re.MULTILINE), done.stdout
    assert re.search(f"^1-A .* incomplete .*{why}", run("takes", show).stdout, re.MULTILINE)
    (take,) = json.loads(run("takes", show, "--json").stdout)
    assert take["status"] == "incomplete"
    assert take["reason"].startswith(why)


def test_a_chased_shot_that_does_not_say_where_it_starts_says_what_is_assumed(show: Path, tmp_path: Path) -> None:
    path = tmp_path / "run.mid"
    make_midi(path, ZERO - 5, Fraction(2))
    assumed = "shot 1 has no 'starts at': its first frame is taken for timecode 00:00:00:00"
    assert assumed in run("shoot", show, "1", "--chase", f"mtc:{path}").stderr
    assert assumed in run("packets", show, "1", "--chase", f"mtc:{path}", "--out", tmp_path / "a.npz").stderr
    file = show / "show.yaml"
    said = file.read_text(encoding="utf-8").replace('"1":', '"1":\n    starts at: 00:00:00:00', 1)
    file.write_text(said, encoding="utf-8")
    done = run("shoot", show, "1", "--chase", f"mtc:{path}")
    assert (done.returncode, "starts at" in done.stderr) == (0, False), done.stderr
