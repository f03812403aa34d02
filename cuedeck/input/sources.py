"""What a user may call a source of timecode: `mtc:FILE.mid`, `mtc:PORT`."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from cuedeck.clock import Clock
from cuedeck.errors import Refusal
from cuedeck.input.midi import FILE_SUFFIXES, MidiPort, recorded_midi
from cuedeck.input.playback import Playback
from cuedeck.input.timecode import RecordedTimecode, TimecodeSource

Recording = Callable[[Path], RecordedTimecode]
Listening = Callable[[str, Clock], TimecodeSource]

KINDS: dict[str, tuple[tuple[str, ...], Recording, Listening]] = {
    "mtc": (FILE_SUFFIXES, recorded_midi, MidiPort),
}
"""For each kind: how its files end, how one is read, and how what is no file is listened to."""


class UnknownSource(Refusal):
    """A text that names no source of timecode. The message says what to write."""


def _parts(text: str) -> tuple[str, str]:
    kind, _, rest = text.partition(":")
    if kind not in KINDS or not rest:
        known = ", ".join(f"{name}:FILE{suffixes[0]}" for name, (suffixes, _, _) in KINDS.items())
        raise UnknownSource(f"'{text}' is no source of timecode: write one such as {known}")
    return kind, rest


def _is_file(kind: str, rest: str) -> bool:
    return rest.lower().endswith(KINDS[kind][0])


def recorded_timecode(text: str) -> RecordedTimecode:
    """Return the recording that a text names. Raises UnknownSource, and InputUnusable where it cannot be read."""
    kind, rest = _parts(text)
    if not _is_file(kind, rest):
        raise UnknownSource(f"'{text}' is no recording: a file ends in {' or '.join(KINDS[kind][0])}")
    return KINDS[kind][1](Path(rest))


def timecode_source(text: str, clock: Clock) -> TimecodeSource:
    """Return the source that a text names, a recording played back. Raises as `recorded_timecode` does."""
    kind, rest = _parts(text)
    if _is_file(kind, rest):
        return Playback(recorded_timecode(text))
    return KINDS[kind][2](rest, clock)
