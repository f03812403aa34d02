"""What a user may call a source of timecode: `ltc:FILE.wav`, `ltc:audio`, `mtc:FILE.mid`, `mtc:PORT`."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple

from cuedeck.clock import Clock
from cuedeck.errors import Refusal
from cuedeck.folder.wav import WavFile
from cuedeck.input.audio import AudioInput
from cuedeck.input.ltc_file import read_timecode
from cuedeck.input.midi import FILE_SUFFIXES, MidiPort, recorded_midi
from cuedeck.input.playback import Playback
from cuedeck.input.timecode import InputUnusable, RecordedTimecode, TimecodeSource


class Kind(NamedTuple):
    """One way in which timecode is sent: how its files end, how one is read, how what is no file is heard."""

    suffixes: tuple[str, ...]
    recorded: Callable[[Path], RecordedTimecode]
    heard: Callable[[str, Clock], TimecodeSource]
    examples: str


class UnknownSource(Refusal):
    """A text that names no source of timecode. The message says what to write."""


def _recorded_sound(path: Path) -> RecordedTimecode:
    """Return the timecode of the first channel of a WAV file, counted as it is: the chaser tells foreign rates."""
    file = WavFile.open(path)
    found, level_dbfs = read_timecode(file, 0)
    if found is None:
        raise InputUnusable(
            f"no timecode was found on channel 1 of {path}, its level is {level_dbfs:.0f} dBFS:"
            f" 'cuedeck timecode read {path}' says what is there"
        )
    return RecordedTimecode(f"ltc:{path}", tuple(found.arrivals()), file.length_s)


def _heard_sound(rest: str, clock: Clock) -> TimecodeSource:
    word, _, device = rest.partition("=")
    if word != "audio":
        raise UnknownSource(f"'ltc:{rest}' is no source of timecode: write ltc:FILE.wav, ltc:audio or ltc:audio=DEVICE")
    return AudioInput(device or None, clock)


KINDS: dict[str, Kind] = {
    "ltc": Kind((".wav", ".wave"), _recorded_sound, _heard_sound, "ltc:FILE.wav, ltc:audio"),
    "mtc": Kind(FILE_SUFFIXES, recorded_midi, MidiPort, "mtc:FILE.mid, mtc:PORT"),
}


def _parts(text: str) -> tuple[Kind, str]:
    name, _, rest = text.partition(":")
    if name not in KINDS or not rest:
        known = ", ".join(kind.examples for kind in KINDS.values())
        raise UnknownSource(f"'{text}' is no source of timecode: write one of {known}")
    return KINDS[name], rest


def recorded_timecode(text: str) -> RecordedTimecode:
    """Return the recording that a text names. Raises UnknownSource, and InputUnusable where it cannot be read."""
    kind, rest = _parts(text)
    if not rest.lower().endswith(kind.suffixes):
        raise UnknownSource(f"'{text}' is no recording: a file ends in {' or '.join(kind.suffixes)}")
    return kind.recorded(Path(rest))


def timecode_source(text: str, clock: Clock) -> TimecodeSource:
    """Return the source that a text names, a recording played back. Raises as `recorded_timecode` does."""
    kind, rest = _parts(text)
    if rest.lower().endswith(kind.suffixes):
        return Playback(kind.recorded(Path(rest)))
    return kind.heard(rest, clock)
