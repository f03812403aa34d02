"""Sources of timecode as the user names them: `ltc:FILE.wav`, `ltc:audio`, `mtc:FILE.mid`, `mtc:PORT`.

A channel of sound may follow: `ltc:FILE.wav,channel=2`. The first is 1, which is also the default.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple

from cuedeck.clock import Clock
from cuedeck.errors import Refusal
from cuedeck.folder.wav import WavFile
from cuedeck.input.audio import AudioInput
from cuedeck.input.base import InputUnusable
from cuedeck.input.ltc_file import read_ltc
from cuedeck.input.midi import FILE_SUFFIXES, MidiPort, recorded_midi
from cuedeck.input.timecode import RecordingPlayback, TimecodeRecording, TimecodeSource
from cuedeck.show.problems import counted


class SourceKind(NamedTuple):
    """A kind of timecode: sound or MIDI."""

    suffixes: tuple[str, ...]
    """Of its files."""
    read_file: Callable[[Path, int], TimecodeRecording]
    live_source: Callable[[str, int, Clock], TimecodeSource]
    examples: str
    has_channels: bool


class NamedSource(NamedTuple):
    """A source as a user named it."""

    kind: SourceKind
    rest: str
    """The file, the device or the port."""
    channel: int
    """The first is 0."""

    @property
    def is_recorded(self) -> bool:
        """Whether it is a file."""
        return self.rest.lower().endswith(self.kind.suffixes)


class UnknownSource(Refusal):
    """A text that names no source of timecode. The message says what to write."""


def _read_sound_file(path: Path, channel: int) -> TimecodeRecording:
    """Return the timecode of a channel of a WAV file at its own rate. The chaser reports one that is not the shot's."""
    file = WavFile.open(path)
    channels = file.format.channels
    if channel >= channels:
        raise InputUnusable(f"{path} has no channel {channel + 1}: it has {counted(channels, 'channel')}")
    found, level_dbfs = read_ltc(file, channel)
    if found is None:
        others = f"; it has {channels} channels: name another, such as ltc:{path},channel=2" if channels > 1 else ""
        raise InputUnusable(
            f"no timecode was found on channel {channel + 1} of {path}, its level is {level_dbfs:.0f} dBFS:"
            f" 'cuedeck timecode read {path}' says what is there{others}"
        )
    return TimecodeRecording(f"ltc:{path}", tuple(found.arrivals()), file.length_s)


def _live_sound(rest: str, channel: int, clock: Clock) -> TimecodeSource:
    word, _, device = rest.partition("=")
    if word != "audio":
        raise UnknownSource(f"'ltc:{rest}' is no source of timecode: write ltc:FILE.wav, ltc:audio or ltc:audio=DEVICE")
    return AudioInput(device or None, clock, channel)


KINDS: dict[str, SourceKind] = {
    "ltc": SourceKind((".wav", ".wave"), _read_sound_file, _live_sound, "ltc:FILE.wav, ltc:audio", has_channels=True),
    "mtc": SourceKind(
        FILE_SUFFIXES,
        lambda path, _: recorded_midi(path),
        lambda port, _, clock: MidiPort(port, clock),
        "mtc:FILE.mid, mtc:PORT",
        has_channels=False,
    ),
}


def named_source(text: str) -> NamedSource:
    """Return what a text names. Raises UnknownSource."""
    name, _, rest = text.partition(":")
    if name not in KINDS or not rest:
        known = ", ".join(kind.examples for kind in KINDS.values())
        raise UnknownSource(f"'{text}' is no source of timecode: write one of {known}")
    kind = KINDS[name]
    match = re.fullmatch(r"(?P<rest>.+),channel=(?P<channel>[^,]*)", rest, re.DOTALL)
    if match is None:
        return NamedSource(kind, rest, 0)
    if not kind.has_channels:
        raise UnknownSource(f"'{text}' has no channels, as sound has: leave ,channel={match['channel']} out")
    if re.fullmatch(r"[1-9]\d{0,3}", match["channel"], re.ASCII) is None:
        raise UnknownSource(f"',channel={match['channel']}' is no channel of sound: the first is 1, such as ,channel=2")
    return NamedSource(kind, match["rest"], int(match["channel"]) - 1)


def recorded_timecode(text: str) -> TimecodeRecording:
    """Return the recording that a text names. Raises UnknownSource, and InputUnusable where it cannot be read."""
    named = named_source(text)
    if not named.is_recorded:
        raise UnknownSource(f"'{text}' is no recording: a file ends in {' or '.join(named.kind.suffixes)}")
    return named.kind.read_file(Path(named.rest), named.channel)


def timecode_source(text: str, clock: Clock) -> TimecodeSource:
    """Return the source that a text names, a recording played back. Raises as `recorded_timecode` does."""
    named = named_source(text)
    if named.is_recorded:
        return RecordingPlayback(named.kind.read_file(Path(named.rest), named.channel))
    return named.kind.live_source(named.rest, named.channel, clock)
