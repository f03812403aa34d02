"""Timecode from a sound input.

There is no sound device where tests run: a module of the shape of sounddevice plays a real signal into the real
callback. Its interface is that of sounddevice 0.5: RawInputStream, query_devices, PortAudioError.
"""

from __future__ import annotations

import sys
from types import ModuleType, SimpleNamespace
from typing import Any

import numpy as np
import pytest

from cuedeck.clock import ManualClock
from cuedeck.input.audio import AudioInput, SampleClock
from cuedeck.input.base import InputUnusable
from cuedeck.input.timecode_sources import timecode_source
from tests.timing.ltc.signals import pieces, signal

DEVICES = [
    {"name": "line in", "max_input_channels": 2, "default_samplerate": 48_000.0},
    {"name": "speakers", "max_input_channels": 0, "default_samplerate": 48_000.0},
]


class PortAudioError(Exception):
    """As sounddevice has it."""


class Stream:
    """A stream that hears what a test plays into it."""

    def __init__(self, **options: Any) -> None:
        if options["samplerate"] == 1:
            raise PortAudioError("Invalid sample rate")
        self.options = options
        self.is_running = False

    def start(self) -> None:
        self.is_running = True

    def close(self) -> None:
        self.is_running = False

    def play(self, channels: np.ndarray, clock: ManualClock, latency_s: float) -> None:
        """Hand on the pieces of a signal, shape (samples, channels), each as late as it is long, and the latency."""
        size, rate_hz = self.options["blocksize"], self.options["samplerate"]
        for piece in pieces(channels, size):
            clock.wait_until_ns(clock.now_ns() + round(len(piece) / rate_hz * 1e9))
            told = SimpleNamespace(inputBufferAdcTime=100.0, currentTime=100.0 + len(piece) / rate_hz + latency_s)
            data = memoryview(np.ascontiguousarray(piece, np.float32)).cast("B")
            self.options["callback"](data, len(piece), told, None)


@pytest.fixture
def streams(monkeypatch: pytest.MonkeyPatch) -> list[Stream]:
    made: list[Stream] = []

    def stream(**options: Any) -> Stream:
        made.append(Stream(**options))
        return made[-1]

    def query_devices(device: str | None = None, kind: str | None = None) -> Any:
        if kind is None:
            return DEVICES
        for one in DEVICES:
            if device in (None, one["name"]):
                return one
        raise ValueError(f"No input device matching {device!r}")

    module = ModuleType("sounddevice")
    vars(module).update(PortAudioError=PortAudioError, RawInputStream=stream, query_devices=query_devices)
    monkeypatch.setitem(sys.modules, "sounddevice", module)
    return made


def test_labels_arrive_with_the_times_at_which_they_were_in_the_air(streams: list[Stream]) -> None:
    clock = ManualClock(5_000_000_000)
    heard = timecode_source("ltc:audio=line in,channel=2", clock)
    assert heard.name == "ltc:audio=line in,channel=2"
    heard.open()
    (stream,) = streams
    assert stream.is_running
    assert (stream.options["blocksize"], stream.options["channels"]) == (1024, 2)
    timecode = signal("01:00:00:00", "25", 50)
    stream.play(np.stack((np.zeros_like(timecode), timecode), axis=1), clock, latency_s=0.01)
    found = heard.arrived(clock.now_ns() / 1e9)
    assert [str(one.label) for one in found[:2]] == ["01:00:00:00", "01:00:00:01"]
    assert len(found) >= 49
    # The first sample was in the air at 5 s less the latency of 10 ms.
    assert [one.at_s for one in found] == pytest.approx([4.99 + number / 25 for number in range(len(found))], abs=1e-3)
    assert heard.arrived(99) == []
    assert not heard.is_over(99)
    heard.close()
    heard.close()
    assert not stream.is_running


def test_an_unknown_device_is_refused_with_those_that_are_there(streams: list[Stream]) -> None:
    with pytest.raises(InputUnusable, match="ltc:audio=mic cannot be found: write ltc:audio= and one of 'line in'"):
        AudioInput("mic", ManualClock()).open()
    assert streams == []


def test_a_channel_that_is_not_there_is_refused(streams: list[Stream]) -> None:
    with pytest.raises(InputUnusable, match="ltc:audio,channel=3 has no channel 3: it has 2 channels"):
        timecode_source("ltc:audio,channel=3", ManualClock()).open()
    assert streams == []


@pytest.mark.usefixtures("streams")
def test_what_the_driver_says_is_passed_on(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(DEVICES[0], "default_samplerate", 1)
    with pytest.raises(InputUnusable, match="ltc:audio cannot be used: invalid sample rate"):
        AudioInput(None, ManualClock()).open()


def test_without_the_package_the_extra_is_named(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "sounddevice", None)
    with pytest.raises(InputUnusable, match=r"pip install 'cuedeck\[audio\]'"):
        AudioInput(None, ManualClock()).open()


def test_the_sample_clock_follows_drift_and_not_jitter() -> None:
    clock = SampleClock(48_000)
    jitter = np.random.default_rng(1).uniform(0, 0.004, 2000)
    for number in range(2000):  # the other clock runs 100 parts in a million fast
        clock.add_block(1024 * number, 7.0 + 1.0001 * 1024 * number / 48_000 + jitter[number])
    end_s = 1024 * 1999 / 48_000
    assert clock.time_s(end_s) == pytest.approx(7.002 + 1.0001 * end_s, abs=5e-4)


def test_the_sample_clock_starts_anew_after_a_loss() -> None:
    clock = SampleClock(48_000)
    clock.add_block(0, 7.0)
    clock.add_block(48_000, 9.0)
    assert clock.time_s(1.0) == pytest.approx(9.0)
