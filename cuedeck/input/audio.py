"""Longitudinal timecode from a sound input of this computer.

Needs the package of the extra 'audio'. Sound is decoded in the thread of the driver, as it comes. The times of labels
come from the count of samples, which has no jitter, mapped to the clock of the take.
"""

from __future__ import annotations

import queue
from collections.abc import Sequence
from types import ModuleType
from typing import Any

import numpy as np

from cuedeck.clock import Clock
from cuedeck.input.base import InputUnusable
from cuedeck.input.timecode import newly_arrived
from cuedeck.show.problems import counted
from cuedeck.timing.chase import Arrival
from cuedeck.timing.ltc.decode import LtcDecoder
from cuedeck.timing.timecode import TimecodeRate

_BLOCK_S = 1024 / 48_000
"""How much sound comes at a time: 1024 samples at 48 kHz, and as long at any other rate."""
_LARGEST_DRIFT_S = 0.05
"""Where the clocks differ by more, the stream was started again or sound was lost: no drift is that fast."""
_SMOOTHING = 0.05
"""The part of the difference between the clocks that each block corrects."""


class SampleClock:
    """Maps the samples of a stream to another clock. It follows steady drift, not jitter."""

    def __init__(self, sample_rate_hz: float) -> None:
        self._sample_rate_hz = sample_rate_hz
        self._begin_s: float | None = None

    def add_block(self, samples_before: int, first_sample_s: float) -> None:
        """Learn when the first sample of a block was recorded, and how many samples came before it."""
        begin_s = first_sample_s - samples_before / self._sample_rate_hz
        if self._begin_s is None or abs(begin_s - self._begin_s) > _LARGEST_DRIFT_S:
            self._begin_s = begin_s
        else:
            self._begin_s += _SMOOTHING * (begin_s - self._begin_s)

    def time_s(self, stream_s: float) -> float:
        """Return the time on the other clock for a time on the count of samples."""
        return stream_s + (self._begin_s or 0.0)


class AudioInput:
    """Timecode on one channel of a sound input."""

    def __init__(self, device: str | None, clock: Clock, channel: int = 0, rate: TimecodeRate | None = None) -> None:
        """Name the device, else the default one is used; name the rate, else it is found in the signal."""
        self._device = device
        self._clock = clock
        self._channel = channel
        self._rate = rate
        self._arrived: queue.SimpleQueue[Arrival] = queue.SimpleQueue()
        self._stream: Any = None

    @property
    def name(self) -> str:
        device = "" if self._device is None else f"={self._device}"
        return f"ltc:audio{device}{f',channel={self._channel + 1}' if self._channel else ''}"

    def open(self) -> None:
        """Start to listen. Raises InputUnusable."""
        sounddevice = _sounddevice()
        try:
            device = sounddevice.query_devices(self._device, "input")
        except (ValueError, sounddevice.PortAudioError) as error:
            raise InputUnusable(f"{self.name} cannot be found: {_inputs(sounddevice)}") from error
        if device["max_input_channels"] <= self._channel:
            channels = counted(device["max_input_channels"], "channel")
            raise InputUnusable(f"{self.name} has no channel {self._channel + 1}: it has {channels}")
        sample_rate_hz = round(device["default_samplerate"])
        self._decoder = LtcDecoder(sample_rate_hz, self._rate)
        self._samples = 0
        self._sample_clock = SampleClock(sample_rate_hz)
        try:
            self._stream = sounddevice.RawInputStream(
                samplerate=sample_rate_hz,
                blocksize=round(_BLOCK_S * sample_rate_hz),
                device=self._device,
                channels=self._channel + 1,
                dtype="float32",
                callback=self._on_block,
            )
            self._stream.start()
        except sounddevice.PortAudioError as error:
            self.close()
            raise InputUnusable(f"{self.name} cannot be used: {str(error).lower()}") from error

    def arrived(self, time_s: float) -> Sequence[Arrival]:  # noqa: ARG002 - what has come is never ahead of the clock
        """Return what has come since the last call."""
        return newly_arrived(self._arrived)

    def is_over(self, time_s: float) -> bool:  # noqa: ARG002 - an input has no end
        """Return False: an input may always go on."""
        return False

    def close(self) -> None:
        """Let go of the input; safe to call twice."""
        stream, self._stream = self._stream, None
        if stream is not None:
            stream.close()

    def _on_block(self, data: Any, frames: int, time: Any, status: Any) -> None:  # noqa: ARG002 - as the driver calls it
        now_s = self._clock.now_ns() / 1e9
        # Some drivers do not say when the first sample was recorded. It is then as old as the block is long.
        age_s = time.currentTime - time.inputBufferAdcTime if time.inputBufferAdcTime else _BLOCK_S
        self._sample_clock.add_block(self._samples, now_s - age_s)
        self._samples += frames
        samples = np.frombuffer(data, np.float32).reshape(frames, -1)[:, self._channel]
        for arrival in self._decoder.feed(samples):
            at_s = self._sample_clock.time_s(arrival.at_s)
            self._arrived.put(Arrival(at_s, arrival.label, arrival.is_reverse))


def _sounddevice() -> ModuleType:
    try:
        import sounddevice
    except ImportError as error:
        raise InputUnusable(
            f"sound inputs need a package that is not installed ({error}): pip install 'cuedeck[audio]'"
        ) from error
    except OSError as error:
        raise InputUnusable(
            f"sound inputs need the library PortAudio ({error}): on Debian it is the package libportaudio2"
        ) from error
    module: ModuleType = sounddevice
    return module


def _inputs(sounddevice: ModuleType) -> str:
    names = [one["name"] for one in sounddevice.query_devices() if one["max_input_channels"]]
    return f"write ltc:audio= and one of {', '.join(map(repr, names))}" if names else "this computer has no sound input"
