"""WAV files, read and written in pieces, so that a long one needs little memory.

Read are PCM of 16, 24 and 32 bits and 32-bit float, plain, extensible and RF64. What a header claims is never
trusted: a file that ends early is read as far as it goes, and a size that cannot be is an error with a cure.
The layout is that of the Multimedia Programming Interface and Data Specifications 1.0 (RIFF) and EBU Tech 3306
(RF64), from memory.
"""

from __future__ import annotations

import os
import stat
import struct
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import IO, Literal

import numpy as np
import numpy.typing as npt

from cuedeck.arrays import Sound
from cuedeck.errors import Refusal
from cuedeck.folder.durable import replacing

SampleKind = Literal["16", "24", "32", "float"]
KINDS: dict[SampleKind, int] = {"16": 2, "24": 3, "32": 4, "float": 4}
"""What samples are, and their bytes."""
RATES_HZ = (8_000, 384_000)
"""The least and the most samples a second that are read."""
_PCM, _FLOAT, _EXTENSIBLE = 1, 3, 0xFFFE
_MOST_CHANNELS = 256
_MOST_CHUNKS = 1000
_MOST_BYTES = 0xFFFF_FFFF - 64
_LOUDEST = 16.0
"""Floats are held within this many times full scale: what is beyond is no sound."""
_PIECE = 1 << 17


class WavRefused(Refusal):
    """A file that is no WAV file, or none that can be read or written. The message says why."""


@dataclass(frozen=True)
class WavFormat:
    """How a file holds its samples."""

    sample_rate_hz: int
    channels: int
    kind: SampleKind

    @property
    def frame_bytes(self) -> int:
        """Bytes of one sample of every channel."""
        return self.channels * KINDS[self.kind]


@dataclass(frozen=True)
class WavFile:
    """A WAV file that can be read."""

    path: Path
    format: WavFormat
    samples: int
    """Samples of each channel that are there, whatever the header says."""
    is_cut: bool
    """Whether the header claims more."""
    data_begin: int

    @classmethod
    def open(cls, path: Path) -> WavFile:
        """Return what the header says of a file. Raises WavRefused."""
        try:
            with _opened(path) as file:
                return cls._parsed(path, file)
        except OSError as error:
            raise _unreadable(path, error) from error

    @classmethod
    def _parsed(cls, path: Path, file: IO[bytes]) -> WavFile:
        there = os.fstat(file.fileno()).st_size
        head = file.read(12)
        if len(head) < 12 or head[:4] not in (b"RIFF", b"RF64") or head[8:] != b"WAVE":
            raise WavRefused(f"'{path}' is no WAV file: save the sound as WAV, with 16, 24 or 32 bits or as float")
        layout, large_size = None, None
        for _ in range(_MOST_CHUNKS):
            header = file.read(8)
            if len(header) < 8:
                break
            name, size = header[:4], int.from_bytes(header[4:], "little")
            begin = file.tell()
            if name == b"ds64":
                large_size = int.from_bytes(file.read(min(size, 28))[8:16], "little")
            elif name == b"fmt ":
                layout = _format(path, file.read(min(size, 40)))
            elif name == b"data":
                if layout is None:
                    raise WavRefused(f"'{path}' does not say how its samples are held: save it as WAV again")
                if size == 0xFFFF_FFFF and large_size is not None:
                    size = large_size
                held = min(size, there - begin)
                return cls(path, layout, held // layout.frame_bytes, size > there - begin, begin)
            file.seek(begin + size + size % 2)
        raise WavRefused(f"'{path}' holds no samples: save the sound as WAV again")

    @property
    def length_s(self) -> float:
        return self.samples / self.format.sample_rate_hz

    def pieces(self, channel: int) -> Iterator[Sound]:
        """Yield the samples of one channel, counted from 0, full scale 1. Raises WavRefused."""
        step = max(1, _PIECE // self.format.channels)
        try:
            with _opened(self.path) as file:
                file.seek(self.data_begin)
                for done in range(0, self.samples, step):
                    data = file.read(min(step, self.samples - done) * self.format.frame_bytes)
                    whole = len(data) // self.format.frame_bytes * self.format.frame_bytes
                    yield _signal(data[:whole], self.format, channel)
        except OSError as error:
            raise _unreadable(self.path, error) from error


def write_wav(path: Path, layout: WavFormat, samples: int, pieces: Iterable[Sound]) -> None:
    """Write so many samples of each channel to a WAV file, whole or not at all. Raises WavRefused.

    The pieces hold one sample of every channel in turn, full scale 1.
    """
    size = samples * layout.frame_bytes
    if size > _MOST_BYTES:
        raise WavRefused(f"'{path.name}' would be larger than a WAV file can be, 4 GB: make it shorter")
    try:
        with replacing(path) as file:
            file.write(_header(layout, samples))
            for piece in pieces:
                file.write(_bytes(piece, layout.kind))
            file.write(bytes(size % 2))
    except OSError as error:
        raise WavRefused(f"'{path}' cannot be written: {(error.strerror or str(error)).lower()}") from error


def _format(path: Path, chunk: bytes) -> WavFormat:
    if len(chunk) < 16:
        raise WavRefused(f"'{path}' does not say how its samples are held: save it as WAV again")
    tag, channels, rate_hz, _, frame_bytes, bits = struct.unpack_from("<HHIIHH", chunk)
    if tag == _EXTENSIBLE and len(chunk) >= 26:
        tag = int.from_bytes(chunk[24:26], "little")
    kind = _kind(tag, bits)
    if kind is None:
        raise WavRefused(
            f"'{path}' holds samples of a kind that is not read: save it with 16, 24 or 32 bits or as float"
        )
    layout = WavFormat(rate_hz, channels, kind)
    if not 1 <= channels <= _MOST_CHANNELS or frame_bytes != layout.frame_bytes:
        raise WavRefused(f"'{path}' claims {channels} channels in {frame_bytes} bytes: save it as WAV again")
    if not RATES_HZ[0] <= rate_hz <= RATES_HZ[1]:
        raise WavRefused(f"'{path}' claims {rate_hz} samples a second: write {RATES_HZ[0]} to {RATES_HZ[1]}")
    return layout


def _kind(tag: int, bits: int) -> SampleKind | None:
    if tag == _FLOAT:
        return "float" if bits == 32 else None
    kinds: dict[int, SampleKind] = {16: "16", 24: "24", 32: "32"}
    return kinds.get(bits) if tag == _PCM else None


def _signal(data: bytes, layout: WavFormat, channel: int) -> Sound:
    if layout.kind == "16":
        return _column(np.frombuffer(data, "<i2"), layout, channel) * np.float32(2**-15)
    if layout.kind == "32":
        return _column(np.frombuffer(data, "<i4"), layout, channel) * np.float32(2**-31)
    if layout.kind == "24":
        three = np.frombuffer(data, np.uint8).reshape(-1, layout.channels, 3)[:, channel]
        four = np.zeros((len(three), 4), np.uint8)
        four[:, 1:] = three
        return four.view("<i4").ravel().astype(np.float32) * np.float32(2**-31)
    floats = _column(np.frombuffer(data, "<f4"), layout, channel)
    clean: Sound = np.clip(np.nan_to_num(floats, nan=0, posinf=0, neginf=0), -_LOUDEST, _LOUDEST)
    return clean


def _column(samples: npt.NDArray[np.generic], layout: WavFormat, channel: int) -> Sound:
    return samples.reshape(-1, layout.channels)[:, channel].astype(np.float32)


def _bytes(signal: Sound, kind: SampleKind) -> bytes:
    if kind == "float":
        return bytes(signal.astype("<f4").data)
    bits = 8 * KINDS[kind]
    highest = 2 ** (bits - 1) - 1
    whole = np.clip(np.rint(signal.astype(np.float64) * highest), -highest - 1, highest).astype("<i4")
    # The low bytes of each: all four, three or two of them.
    return bytes(np.ascontiguousarray(whole.view(np.uint8).reshape(-1, 4)[:, : KINDS[kind]]).data)


def _header(layout: WavFormat, samples: int) -> bytes:
    size = samples * layout.frame_bytes
    tag = _FLOAT if layout.kind == "float" else _PCM
    rate_hz, frame = layout.sample_rate_hz, layout.frame_bytes
    fields = struct.pack("<HHIIHH", tag, layout.channels, rate_hz, rate_hz * frame, frame, 8 * KINDS[layout.kind])
    # A float file says how many samples it holds in a chunk of its own.
    count = struct.pack("<4sII", b"fact", 4, samples) if tag == _FLOAT else b""
    chunks = struct.pack("<4sI", b"fmt ", len(fields)) + fields + count + struct.pack("<4sI", b"data", size)
    return struct.pack("<4sI4s", b"RIFF", 4 + len(chunks) + size + size % 2, b"WAVE") + chunks


def _opened(path: Path) -> IO[bytes]:
    if not stat.S_ISREG(path.stat().st_mode):
        raise WavRefused(f"'{path}' is no file: name a WAV file")
    return path.open("rb")


def _unreadable(path: Path, error: OSError) -> WavRefused:
    return WavRefused(f"'{path}' cannot be read: {(error.strerror or str(error)).lower()}")
