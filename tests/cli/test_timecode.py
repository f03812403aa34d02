"""`cuedeck timecode`, run as a user runs it."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

from cuedeck.folder.wav import WavFile, WavFormat, write_wav
from tests.cli.command import run
from tests.timing.ltc.signals import played, signal, with_noise


def make(path: Path, *words: str, fps: str = "29.97df", start: str = "01:00:00:00", seconds: str = "10") -> Path:
    done = run("timecode", "make", "--fps", fps, "--start", start, "--seconds", seconds, "--out", path, *words)
    assert done.returncode == 0, done.stderr
    return path


def read(*words: str | Path) -> dict[str, object]:
    done = run("timecode", "read", *words, "--json")
    assert done.returncode == 0, done.stderr
    found: dict[str, object] = json.loads(done.stdout)
    return found


def write(path: Path, samples: np.ndarray, rate_hz: int = 48_000) -> Path:
    write_wav(path, WavFormat(rate_hz, 1, "16"), len(samples), [samples])
    return path


def write_channels(path: Path, *channels: np.ndarray) -> Path:
    together = np.stack(channels, axis=1).ravel()
    write_wav(path, WavFormat(48_000, len(channels), "16"), len(channels[0]), [together])
    return path


def test_what_was_made_is_read(tmp_path: Path) -> None:
    assert read(make(tmp_path / "a.wav", "--user-bits", "20240229")) == {
        "start": "01:00:00;00",
        "end": "01:00:09;29",
        "rate": "29.97df",
        "drop": True,
        "frames": 300,
        "gaps": [],
        "polarity": "normal",
        "level_dbfs": -18.0,
        "direction": "forward",
        "measured_fps": 29.97,
        "user_bits": "20240229",
        "sample_rate_hz": 48000,
    }


@pytest.mark.parametrize(
    ("fps", "rate_hz", "bits", "rate"),
    [
        ("23.976", "44100", "24", "23.976"),
        ("24", "48000", "float", "24"),
        ("25", "96000", "32", "25"),
        ("30", "192000", "16", "30"),
    ],
)
def test_any_rate_and_kind_of_sample(tmp_path: Path, fps: str, rate_hz: str, bits: str, rate: str) -> None:
    path = make(tmp_path / "a.wav", "--rate", rate_hz, "--bits", bits, "--level", "-30", fps=fps, seconds="2")
    found = read(path)
    assert (found["rate"], found["level_dbfs"]) == (rate, pytest.approx(-30, abs=0.2))
    assert found["frames"] == WavFile.open(path).samples * float(fps) // int(rate_hz)


def test_a_summary_for_people_lists_the_gaps(tmp_path: Path) -> None:
    samples = signal("01:00:00:00", "25", 100)
    samples[40 * 1920 : 50 * 1920] = 0
    done = run("timecode", "read", write(tmp_path / "a.wav", samples))
    assert done.returncode == 0
    first, second, third, gap = done.stdout.splitlines()
    assert first.endswith("a.wav: 01:00:00:00 to 01:00:03:24, 90 frames at 25")
    assert second == "  forward, 1.0000 times normal speed; normal polarity; -18.0 dBFS; user bits 1234abcd"
    assert third == "  1 gap"
    assert gap == "    1.600 s to 2.000 s: 01:00:01:14, then 01:00:02:00"


def test_gaps_are_sample_positions_with_the_labels_on_either_side(tmp_path: Path) -> None:
    samples = with_noise(signal("01:00:00:00", "25", 100), -60, 1)
    samples[40 * 1920 + 400 : 50 * 1920 + 400] = 0
    (gap,) = read(write(tmp_path / "a.wav", samples))["gaps"]  # type: ignore[misc]
    assert (gap["before"], gap["after"]) == ("01:00:01:14", "01:00:02:01")
    assert gap["begin_sample"] == pytest.approx(40 * 1920, abs=2)
    assert gap["end_sample"] == pytest.approx(51 * 1920, abs=2)


def test_off_speed_it_says_that_the_rate_is_a_guess(tmp_path: Path) -> None:
    heard, _ = played(signal("01:00:00:00", "24", 50), 1.1)
    done = run("timecode", "read", write(tmp_path / "a.wav", heard))
    assert "off speed, so that 24 and 23.976 cannot be told apart: --fps says which" in done.stdout


def test_backwards_and_upside_down(tmp_path: Path) -> None:
    found = read(write(tmp_path / "a.wav", -signal("01:00:00:00", "25", 100)[::-1]))
    assert (found["start"], found["end"]) == ("01:00:03:24", "01:00:00:00")
    assert (found["direction"], found["polarity"]) == ("reverse", "inverted")


def test_the_channel_is_chosen(tmp_path: Path) -> None:
    timecode = signal("01:00:00:00", "25", 50)
    path = write_channels(tmp_path / "a.wav", np.zeros_like(timecode), timecode)
    assert read(path, "--channel", "2")["frames"] == 50
    done = run("timecode", "read", path)
    assert done.returncode == 1
    assert done.stdout == ""
    assert "(channel 1 of 2 channels, 2.0 s of silence): try another --channel" in done.stderr
    done = run("timecode", "read", path, "--channel", "3")
    assert (done.returncode, "has 2 channels; the first is 1" in done.stderr) == (1, True)


def test_without_timecode_it_says_what_was_there(tmp_path: Path) -> None:
    path = write(tmp_path / "a.wav", with_noise(np.zeros(48_000, np.float32), -30, 3))
    done = run("timecode", "read", path, "--json")
    assert done.returncode == 1
    assert done.stdout == ""
    assert "no timecode in" in done.stderr
    assert "1.0 s of sound of -1" in done.stderr


def test_the_rate_can_be_given(tmp_path: Path) -> None:
    path = make(tmp_path / "a.wav", fps="24", seconds="2")
    assert read(path, "--fps", "23.976")["rate"] == "23.976"
    done = run("timecode", "read", path, "--fps", "29.97df")
    assert (done.returncode, "leave --fps out" in done.stderr) == (1, True)


def test_a_file_that_ends_early_is_read_and_said_so(tmp_path: Path) -> None:
    path = make(tmp_path / "a.wav", fps="25", seconds="2")
    path.write_bytes(path.read_bytes()[:-9601])
    done = run("timecode", "read", path)
    assert done.returncode == 0
    assert "ends before its header says" in done.stderr


@pytest.mark.parametrize(
    ("option", "value", "what"),
    [
        ("--fps", "59.94", "every second frame"),
        ("--fps", "31", "is no rate of timecode"),
        ("--start", "1:2:3", "is no timecode"),
        ("--start", "01:01:00;00", "left out in drop-frame"),
        ("--seconds", "0", "out of range"),
        ("--seconds", "1e9", "is not a number"),
        ("--rate", "8000", "from 44100 to 192000"),
        ("--level", "3", "out of range"),
        ("--user-bits", "123456789", "eight hexadecimal digits"),
        ("--user-bits", "0x12", "eight hexadecimal digits"),
        ("--out", "no/such/folder.wav", "cannot be written"),
    ],
)
def test_what_cannot_be_made_is_refused(tmp_path: Path, option: str, value: str, what: str) -> None:
    good = {"--fps": "29.97df", "--start": "01:00:00:00", "--seconds": "1", "--out": str(tmp_path / "a.wav")}
    words = [word for pair in {**good, option: value}.items() for word in pair]
    done = run("timecode", "make", *words)
    assert done.returncode == 1
    assert what in done.stderr
    assert list(tmp_path.iterdir()) == []


def test_sound_is_not_written_under_the_name_of_something_else(tmp_path: Path) -> None:
    words = ["--fps", "25", "--start", "01:00:00:00", "--seconds", "1", "--out", tmp_path / "a.mp3"]
    done = run("timecode", "make", *words)
    assert done.returncode == 1
    assert "write a file that ends in .wav, or in .mid" in done.stderr
