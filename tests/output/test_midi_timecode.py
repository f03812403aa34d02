"""MIDI timecode goes out on its deadlines, through mido, and reads back as what was meant."""

from __future__ import annotations

import sys
from collections.abc import Iterator

import mido
import pytest

from cuedeck.clock import ManualClock
from cuedeck.input.midi import readings_of
from cuedeck.output.midi_timecode import MidiOutputUnusable, MidiTimecodeOutput
from cuedeck.timing.chase import Arrival, Located
from cuedeck.timing.timecode import RATES, Timecode
from tests.input import midi_backend

LABEL = Timecode.parse("01:00:00:00", RATES["25"])


@pytest.fixture
def driver() -> Iterator[None]:
    """Put mido on the driver without a device."""
    before = mido.backend
    mido.set_backend("tests.input.midi_backend", load=True)
    yield
    mido.set_backend(before)
    midi_backend.written.clear()


@pytest.mark.usefixtures("driver")
def test_running_timecode_leaves_on_its_deadlines_and_reads_back() -> None:
    clock = ManualClock()
    with MidiTimecodeOutput("Studio Out") as output:
        assert output.run(LABEL, 4, clock, lambda: False) == 16
    sent = midi_backend.written[0].sent
    # A quarter frame every 10 ms at 25 frames a second (MIDI timecode: four to a frame).
    assert clock.now_ns() == 150_000_000
    times_s = [0.0, *(n / 100 for n in range(16))]
    readings = readings_of(zip(times_s, sent, strict=True))
    assert readings[0] == Located(0.0, LABEL)
    assert readings[1:] == [Arrival(n / 25, LABEL + n) for n in range(4)]


@pytest.mark.usefixtures("driver")
def test_it_stops_when_it_is_told_to() -> None:
    with MidiTimecodeOutput("Studio Out") as output:
        assert output.run(LABEL, 100, ManualClock(), lambda: len(midi_backend.written[0].sent) > 5) == 5


@pytest.mark.usefixtures("driver")
def test_an_unknown_output_names_those_there_are() -> None:
    with pytest.raises(MidiOutputUnusable, match=r"no MIDI output 'Attic': write mtc: and one of 'Studio Out'"):
        MidiTimecodeOutput("Attic").__enter__()


@pytest.mark.usefixtures("driver")
def test_an_output_that_is_lost_says_so(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(midi_backend.Output, "lost_after", 3)
    with MidiTimecodeOutput("Studio Out") as output, pytest.raises(MidiOutputUnusable, match="was lost"):
        output.run(LABEL, 4, ManualClock(), lambda: False)


def test_without_mido_the_extra_is_named(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "mido", None)
    with pytest.raises(MidiOutputUnusable, match=r"pip install 'cuedeck\[midi\]'"):
        MidiTimecodeOutput("Studio Out").__enter__()
