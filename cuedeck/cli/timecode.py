"""`cuedeck timecode`: timecode as a WAV or MIDI file, made, read or sent."""

from __future__ import annotations

import argparse
import json
import re
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from cuedeck.cli import exits
from cuedeck.cli.arguments import parsed
from cuedeck.cli.printing import say
from cuedeck.errors import Refusal
from cuedeck.terminal import stream_to_draw_on

if TYPE_CHECKING:
    from fractions import Fraction

    from cuedeck.folder.wav import WavFile
    from cuedeck.timing.timecode import Timecode, TimecodeRate

SAMPLE_RATES_HZ = (44_100, 192_000)
LOWEST_DBFS = -90.0
LONGEST_S = 24 * 3600
_PROGRESS_FROM_S = 30


def add_arguments(parser: argparse.ArgumentParser) -> None:
    actions = parser.add_subparsers(title="actions", metavar="ACTION", dest="action", required=True)
    made = actions.add_parser("make", help="write timecode to a WAV file")
    made.add_argument("--fps", metavar="RATE", required=True, help="23.976, 24, 25, 29.97, 29.97df or 30")
    made.add_argument("--start", metavar="LABEL", required=True, help="the first label, such as 01:00:00:00")
    made.add_argument("--seconds", metavar="N", required=True, help="how long; whole frames are written")
    made.add_argument(
        "--out", metavar="FILE.wav", required=True, type=Path, help="the file to write; FILE.mid is MIDI timecode"
    )
    made.add_argument("--rate", metavar="HZ", default="48000", help="samples a second (default 48000)")
    made.add_argument("--bits", choices=("16", "24", "32", "float"), default="16", help="what a sample is (default 16)")
    made.add_argument("--level", metavar="DBFS", default="-18", help="level of the crests in dBFS (default -18)")
    made.add_argument("--user-bits", metavar="HEX", default="0", help="32 user bits as hexadecimal digits")
    sent = actions.add_parser("send", help="send running MIDI timecode to a MIDI output")
    sent.add_argument("--fps", metavar="RATE", required=True, help="24, 25, 29.97df or 30")
    sent.add_argument("--start", metavar="LABEL", required=True, help="the first label, such as 01:00:00:00")
    sent.add_argument("--seconds", metavar="N", required=True, help="how long")
    sent.add_argument("--to", metavar="mtc:PORT", required=True, help="the MIDI output")
    read = actions.add_parser("read", help="print what timecode a WAV file holds")
    read.add_argument("file", metavar="FILE.wav", type=Path, help="the file to read; FILE.mid is MIDI timecode")
    read.add_argument("--channel", metavar="N", default="1", help="the channel with the timecode (default 1)")
    read.add_argument(
        "--fps",
        metavar="RATE",
        help="count at this rate; without it 24 and 23.976, and 30 and 29.97, are told apart by their speed alone",
    )
    read.add_argument("--json", action="store_true", help="print one JSON object")


def run(options: argparse.Namespace) -> int:
    if options.action == "make":
        return _make(options)
    if options.action == "send":
        return _send(options)
    return _read_midi(options) if options.file.suffix.lower() == ".mid" else _read(options)


def _make(options: argparse.Namespace) -> int:
    from cuedeck.cli.timecode_files import make_midi
    from cuedeck.folder.wav import WavFormat, write_wav
    from cuedeck.show.problems import counted
    from cuedeck.timing.ltc.encode import encode, sample_count
    from cuedeck.timing.ltc.frame import LtcFrame

    rate = _ltc_rate(options.fps)
    seconds = _number("--seconds", options.seconds, above=0, to=LONGEST_S)
    if options.out.suffix.lower() == ".mid":
        made = make_midi(options.out, _label(options.start, rate), seconds)
        print(f"{options.out}: {counted(made, 'frame')} of MIDI timecode at {rate} from {options.start}")
        return exits.DONE
    if options.out.suffix.lower() not in (".wav", ".wave"):
        raise Refusal(f"--out {options.out}: write a file that ends in .wav, or in .mid for MIDI timecode")
    first = LtcFrame(_label(options.start, rate), _user_bits(options.user_bits))
    frames = -int(-seconds * rate.frames_per_second // 1)
    rate_hz = _whole("--rate", options.rate, *SAMPLE_RATES_HZ)
    level_dbfs = float(_number("--level", options.level, above=LOWEST_DBFS, to=0))
    layout = WavFormat(rate_hz, 1, options.bits)
    samples = sample_count(frames, rate, rate_hz)
    write_wav(options.out, layout, samples, encode(first, frames, rate_hz, level_dbfs))
    labels = f"{first.label} to {first.label + (frames - 1)}"
    print(f"{options.out}: {counted(frames, 'frame')} at {rate}, {labels}, {rate_hz} Hz")
    return exits.DONE


def _send(options: argparse.Namespace) -> int:
    """Send until the time is over, or until it is stopped."""
    from cuedeck.clock import MonotonicClock
    from cuedeck.output.midi_timecode import MidiTimecodeOutput
    from cuedeck.show.units import UnitError

    kind, _, port = options.to.partition(":")
    if kind != "mtc" or not port:
        raise Refusal(f"'{options.to}' is no output for timecode: write mtc:PORT; for a file, use 'timecode make'")
    rate = _ltc_rate(options.fps)
    first = _label(options.start, rate)
    frames = -int(-_number("--seconds", options.seconds, above=0, to=LONGEST_S) * rate.frames_per_second // 1)
    with MidiTimecodeOutput(port) as output, exits.interruptible():
        try:
            count = output.run(first, frames, MonotonicClock(), lambda: False)
        except UnitError as error:
            raise Refusal(f"{error}: {error.cure}") from error
    print(f"{options.to}: {count} quarter frames from {first} at {rate}")
    return exits.DONE


def _read(options: argparse.Namespace) -> int:
    from cuedeck.cli.timecode_files import ltc_data, ltc_summary
    from cuedeck.folder.wav import WavFile
    from cuedeck.input.ltc_file import read_ltc

    rate = None if options.fps is None else _ltc_rate(options.fps)
    file = WavFile.open(options.file)
    if not options.channel.isdecimal() or not 1 <= int(options.channel[:9]) <= file.format.channels:
        raise Refusal(f"--channel {options.channel}: {options.file} has {_channels(file)}; the first is 1")
    progress = _Progress(file)
    found, level_dbfs = read_ltc(file, int(options.channel) - 1, rate, progress.show)
    progress.end()
    if file.is_cut:
        say(f"{options.file} ends before its header says: what is there was read")
    if found is None:
        raise Refusal(_no_timecode(options, file, level_dbfs))
    print(json.dumps(ltc_data(found), indent=2) if options.json else "\n".join(ltc_summary(options.file, found)))
    return exits.DONE


def _read_midi(options: argparse.Namespace) -> int:
    from cuedeck.cli.timecode_files import midi_summary, read_midi

    found = read_midi(options.file)
    print(json.dumps(found, indent=2) if options.json else midi_summary(options.file, found))
    return exits.DONE


def _no_timecode(options: argparse.Namespace, file: WavFile, level_dbfs: float) -> str:
    from cuedeck.input.ltc_file import SILENCE_DBFS

    level = "silence" if level_dbfs <= SILENCE_DBFS else f"sound of {level_dbfs:.0f} dBFS"
    where = f"channel {options.channel} of {_channels(file)}, {file.length_s:.1f} s of {level}"
    cure = "try another --channel" if file.format.channels > 1 else "see that the timecode was recorded"
    if options.fps is not None:
        cure = "leave --fps out, or " + cure
    return f"no timecode in {options.file} ({where}): {cure}"


def _channels(file: WavFile) -> str:
    from cuedeck.show.problems import counted

    return counted(file.format.channels, "channel")


class _Progress:
    """How much of a long file is read, on a terminal."""

    def __init__(self, file: WavFile) -> None:
        is_terminal = sys.stderr is not None and sys.stderr.isatty()
        self._is_shown = is_terminal and file.length_s >= _PROGRESS_FROM_S
        self._shown = -1

    def show(self, share: float) -> None:
        percent = int(100 * share)
        if self._is_shown and percent != self._shown:
            self._shown = percent
            print(f"\rreading, {percent} %", end="", file=stream_to_draw_on(sys.stderr), flush=True)

    def end(self) -> None:
        if self._is_shown:
            print("\r               \r", end="", file=stream_to_draw_on(sys.stderr), flush=True)


def _ltc_rate(text: str) -> TimecodeRate:
    from cuedeck.timing.ltc.frame import require_ltc
    from cuedeck.timing.timecode import TimecodeRate

    def parse(text: str) -> TimecodeRate:
        rate = TimecodeRate.parse(text)
        require_ltc(rate)
        return rate

    return parsed("--fps", text, parse)


def _label(text: str, rate: TimecodeRate) -> Timecode:
    from cuedeck.timing.timecode import Timecode

    return parsed("--start", text, lambda text: Timecode.parse(text, rate))


def _user_bits(text: str) -> int:
    if not re.fullmatch("[0-9a-fA-F]{1,8}", text):
        raise Refusal(
            f"--user-bits {text}: user bits are 32 bits: write up to eight hexadecimal digits such as 20240229"
        )
    return int(text, 16)


def _number(option: str, text: str, *, above: float, to: float) -> Fraction:
    from cuedeck.show.units import parse_number

    number = parsed(option, text, parse_number)
    if not above < number <= to:
        raise Refusal(f"{option} {text} is out of range: write a number over {above:g} and up to {to:g}")
    return number


def _whole(option: str, text: str, least: int, most: int) -> int:
    if not text.isdecimal() or not least <= int(text[:9]) <= most:
        raise Refusal(f"{option} {text} is out of range: write a whole number from {least} to {most}")
    return int(text)
