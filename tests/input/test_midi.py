"""Timecode from MIDI ports (mido's interface of backends, with a driver that needs no device) and from files."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from pathlib import Path

import mido
import pytest

from cuedeck.clock import ManualClock
from cuedeck.input.base import InputUnusable
from cuedeck.input.midi import MidiPort, readings_of, recorded_midi
from cuedeck.input.timecode import RecordingPlayback
from cuedeck.input.timecode_sources import UnknownSource, recorded_timecode, timecode_source
from cuedeck.timing.chase import Arrival, Located
from cuedeck.timing.mtc.messages import FullFrame, running
from cuedeck.timing.mtc.midi_file import TimedMessage, write_midi_file
from cuedeck.timing.timecode import RATES, Timecode
from tests.input import midi_backend

LABEL = Timecode.parse("01:00:00:00", RATES["25"])


@pytest.fixture
def driver(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """Put mido on the driver without a device."""
    monkeypatch.setattr(midi_backend, "PORTS", ["Studio In", "Busy"])
    before = mido.backend
    mido.set_backend("tests.input.midi_backend", load=True)
    yield
    mido.set_backend(before)
    midi_backend.opened.clear()


@pytest.mark.usefixtures("driver")
def test_a_port_stamps_what_comes_with_the_clock_of_the_take() -> None:
    clock = ManualClock(7_000_000_000)
    port = MidiPort("Studio In", clock)
    port.open()
    for due in running(LABEL, 4):
        clock.wait_until_ns(7_000_000_000 + int(due.at_s * 1_000_000_000))
        midi_backend.opened[-1].play(due.encoded + b"\xf8")
    told = port.arrived(8.0)
    assert [one.label for one in told] == [LABEL + n for n in range(4)]
    assert [one.at_s for one in told] == pytest.approx([7.0, 7.04, 7.08, 7.12], abs=1e-9)
    midi_backend.opened[-1].play(FullFrame(LABEL).encoded)
    assert port.arrived(8.0) == [Located(clock.now_ns() / 1e9, LABEL)]
    assert port.arrived(9.0) == []
    assert not port.is_over(1e9)
    port.close()
    assert midi_backend.opened[-1].closed
    port.close()


@pytest.mark.usefixtures("driver")
def test_a_port_that_is_not_there_is_refused_with_those_that_are() -> None:
    with pytest.raises(InputUnusable, match=r"there is no MIDI input 'Other': write mtc: and one of 'Studio In'"):
        MidiPort("Other", ManualClock()).open()


@pytest.mark.usefixtures("driver")
def test_a_port_that_cannot_be_opened_says_why() -> None:
    with pytest.raises(
        InputUnusable,
        match=r"'Busy' cannot be used: look whether its device .* \(Port Is In Use\)",
    ):
        MidiPort("Busy", ManualClock()).open()


def test_without_mido_the_extra_is_named(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "mido", None)
    with pytest.raises(InputUnusable, match=r"pip install 'cuedeck\[midi\]'"):
        MidiPort("Studio In", ManualClock()).open()


def test_files_and_streams_need_no_mido(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setitem(sys.modules, "mido", None)
    sent = [TimedMessage(due.at_s, due.encoded) for due in running(LABEL, 4)]
    expected = [Arrival(n / 25, LABEL + n) for n in range(4)]
    assert readings_of((float(one.at_s), one.encoded) for one in sent) == expected
    path = tmp_path / "four.mid"
    path.write_bytes(write_midi_file(sent, 120_000))
    assert list(recorded_midi(path).readings) == expected


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (None, "cannot be read: no such file"),
        (b"RIFF", "is no MIDI file that can be read"),
        (write_midi_file([], 120_000), "holds no MIDI timecode"),
    ],
)
def test_a_file_without_timecode_is_refused(tmp_path: Path, content: bytes | None, words: str) -> None:
    path = tmp_path / "some.mid"
    if content is not None:
        path.write_bytes(content)
    with pytest.raises(InputUnusable, match=words):
        recorded_midi(path)


@pytest.mark.parametrize("text", ["tape", "mtc:", "tape:File.mid", ""])
def test_what_names_no_source_is_refused(text: str) -> None:
    with pytest.raises(UnknownSource, match=r"is no source of timecode: write one of .*mtc:FILE\.mid"):
        timecode_source(text, ManualClock())


def test_a_port_is_no_recording() -> None:
    with pytest.raises(UnknownSource, match=r"'mtc:Studio In' is no recording: a file ends in \.mid"):
        recorded_timecode("mtc:Studio In")


def test_a_recording_plays_from_the_start_of_the_take(tmp_path: Path) -> None:
    path = tmp_path / "four.mid"
    path.write_bytes(write_midi_file([TimedMessage(due.at_s, due.encoded) for due in running(LABEL, 4)], 120_000))
    source = timecode_source(f"mtc:{path}", ManualClock())
    assert isinstance(source, RecordingPlayback)
    source.open()
    assert not source.is_over(99.0)
    assert [one.label for one in source.arrived(100.0)] == [LABEL]
    assert [one.label for one in source.arrived(100.05)] == [LABEL + 1]
    assert not source.is_over(100.1)
    assert [one.at_s for one in source.arrived(101.0)] == pytest.approx([100.08, 100.12])
    assert source.is_over(100.2)
    source.close()
