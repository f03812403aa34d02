"""WAV files: what is written comes back, and no header is trusted."""

from __future__ import annotations

import struct
import wave
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from cuedeck.folder.wav import KINDS, SampleKind, WavFile, WavFormat, WavRefused, write_wav

RAMP = np.linspace(-1, 1, 1001).astype(np.float32)
STEPS: dict[SampleKind, float] = {"16": 2**-14, "24": 2**-22, "32": 2**-22, "float": 2**-24}


def write(path: Path, samples: np.ndarray, kind: SampleKind = "16", rate_hz: int = 48_000) -> Path:
    write_wav(path, WavFormat(rate_hz, 1, kind), len(samples), [samples[:400], samples[400:]])
    return path


def read(path: Path, channel: int = 0) -> np.ndarray:
    return np.concatenate(list(WavFile.open(path).pieces(channel)))


def chunk(name: bytes, data: bytes, size: int | None = None) -> bytes:
    return name + struct.pack("<I", len(data) if size is None else size) + data + bytes(len(data) % 2)


def layout(tag: int, channels: int, rate_hz: int, bits: int, more: bytes = b"") -> bytes:
    frame = channels * bits // 8
    return chunk(b"fmt ", struct.pack("<HHIIHH", tag, channels, rate_hz, rate_hz * frame, frame, bits) + more)


def riff(*chunks: bytes, name: bytes = b"RIFF") -> bytes:
    return name + struct.pack("<I", 4 + sum(map(len, chunks))) + b"WAVE" + b"".join(chunks)


def opened(tmp_path: Path, data: bytes) -> WavFile:
    path = tmp_path / "made.wav"
    path.write_bytes(data)
    return WavFile.open(path)


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("rate_hz", [44_100, 192_000])
def test_samples_come_back(tmp_path: Path, kind: SampleKind, rate_hz: int) -> None:
    path = write(tmp_path / "a.wav", RAMP, kind, rate_hz)
    assert np.abs(read(path) - RAMP).max() <= STEPS[kind]
    assert WavFile.open(path).format == WavFormat(rate_hz, 1, kind)
    assert not WavFile.open(path).is_cut


@pytest.mark.parametrize(("kind", "width"), [("16", 2), ("24", 3), ("32", 4)])
def test_the_standard_library_reads_what_is_written(tmp_path: Path, kind: SampleKind, width: int) -> None:
    with wave.open(str(write(tmp_path / "a.wav", RAMP, kind)), "rb") as file:
        assert (file.getnchannels(), file.getsampwidth(), file.getframerate()) == (1, width, 48_000)
        data = file.readframes(file.getnframes())
    whole = [int.from_bytes(data[at : at + width], "little", signed=True) for at in range(0, len(data), width)]
    assert whole == [round(float(one) * (2 ** (8 * width - 1) - 1)) for one in RAMP.astype(float)]


@pytest.mark.parametrize("width", [2, 3, 4])
@pytest.mark.parametrize("channels", [1, 2, 5])
def test_any_channel_of_what_the_standard_library_writes_is_read(tmp_path: Path, width: int, channels: int) -> None:
    rng = np.random.default_rng(width)
    values = rng.integers(-(2 ** (8 * width - 1)), 2 ** (8 * width - 1), (333, channels))
    with wave.open(str(tmp_path / "a.wav"), "wb") as file:
        file.setparams((channels, width, 48_000, 0, "NONE", ""))
        file.writeframes(b"".join(int(one).to_bytes(width, "little", signed=True) for one in values.ravel()))
    for channel in range(channels):
        exact = values[:, channel] / 2 ** (8 * width - 1)
        assert np.abs(read(tmp_path / "a.wav", channel) - exact).max() < 1e-6


def test_extensible_and_large_headers_and_foreign_chunks_are_read(tmp_path: Path) -> None:
    samples = np.arange(8, dtype="<i2").tobytes()
    # WAVE_FORMAT_EXTENSIBLE: 22 more bytes, the format first in the identifier (from memory).
    guid = struct.pack("<H", 1) + bytes.fromhex("000000001000800000aa00389b71")
    more = struct.pack("<HHI", 22, 16, 3) + guid
    plain = opened(tmp_path, riff(chunk(b"LIST", b"odd"), layout(0xFFFE, 2, 96_000, 16, more), chunk(b"data", samples)))
    assert (plain.format, plain.samples) == (WavFormat(96_000, 2, "16"), 4)
    # EBU Tech 3306: sizes of 64 bits in the chunk ds64, the file, the data and the samples (from memory).
    sizes = chunk(b"ds64", struct.pack("<QQQI", 0, len(samples), 4, 0))
    data = chunk(b"data", samples, 0xFFFF_FFFF)
    large = opened(tmp_path, riff(sizes, layout(1, 2, 48_000, 16), data, name=b"RF64"))
    assert (large.samples, large.is_cut) == (4, False)


@pytest.mark.parametrize("claimed", [9, 4000, 0xFFFF_FFFF])
def test_a_file_that_ends_early_is_read_as_far_as_it_goes(tmp_path: Path, claimed: int) -> None:
    file = opened(tmp_path, riff(layout(1, 1, 48_000, 16), chunk(b"data", bytes(7), claimed)[:-1]))
    assert (file.samples, file.is_cut) == (3, True)
    assert read(file.path).tolist() == [0, 0, 0]


def test_floats_that_are_no_sound_are_held(tmp_path: Path) -> None:
    values = np.array([np.nan, np.inf, -np.inf, 1e38, -1e38, 0.5], "<f4")
    file = opened(tmp_path, riff(layout(3, 1, 48_000, 32), chunk(b"data", values.tobytes())))
    assert read(file.path).tolist() == [0, 0, 0, 16, -16, 0.5]


@pytest.mark.parametrize(
    ("data", "what"),
    [
        (b"", "is no WAV file"),
        (b"RIFF\0\0\0\0AVI ", "is no WAV file"),
        (riff(), "holds no samples"),
        (riff(layout(1, 1, 48_000, 16)), "holds no samples"),
        (riff(chunk(b"junk", b"", 0xFFFF_FFFF)), "holds no samples"),
        (riff(*[chunk(b"junk", b"")] * 2000), "holds no samples"),
        (riff(chunk(b"data", bytes(8))), "does not say how its samples are held"),
        (riff(chunk(b"fmt ", bytes(4)), chunk(b"data", bytes(8))), "does not say how its samples are held"),
        (riff(layout(1, 1, 48_000, 8), chunk(b"data", bytes(8))), "of a kind that is not read"),
        (riff(layout(85, 1, 48_000, 16), chunk(b"data", bytes(8))), "of a kind that is not read"),
        (riff(layout(1, 0, 48_000, 16), chunk(b"data", bytes(8))), "claims 0 channels"),
        (riff(layout(1, 1000, 48_000, 16), chunk(b"data", bytes(8))), "claims 1000 channels"),
        (riff(layout(1, 1, 0, 16), chunk(b"data", bytes(8))), "claims 0 samples a second"),
        (riff(layout(1, 1, 2_000_000_000, 16), chunk(b"data", bytes(8))), "claims 2000000000 samples a second"),
    ],
)
def test_what_is_no_sound_is_refused(tmp_path: Path, data: bytes, what: str) -> None:
    with pytest.raises(WavRefused, match=what):
        opened(tmp_path, data)


@given(st.binary(max_size=200), st.integers(0, 43), st.binary(min_size=1, max_size=8))
def test_any_bytes_are_read_or_refused(
    tmp_path_factory: pytest.TempPathFactory, tail: bytes, at: int, new: bytes
) -> None:
    data = bytearray(riff(layout(1, 2, 48_000, 24), chunk(b"data", tail)))
    data[at : at + len(new)] = new
    path = tmp_path_factory.getbasetemp() / "any.wav"
    path.write_bytes(data)
    try:
        file = WavFile.open(path)
    except WavRefused:
        return
    assert sum(map(len, file.pieces(0))) == file.samples


def test_a_folder_and_a_missing_file_are_refused(tmp_path: Path) -> None:
    with pytest.raises(WavRefused, match="is no file"):
        WavFile.open(tmp_path)
    with pytest.raises(WavRefused, match="cannot be read: no such file"):
        WavFile.open(tmp_path / "none.wav")


def test_a_file_that_cannot_be_finished_leaves_the_old_one(tmp_path: Path) -> None:
    path = write(tmp_path / "a.wav", RAMP)
    before = path.read_bytes()

    def broken() -> object:
        yield RAMP
        raise OSError(28, "No space left on device")

    with pytest.raises(WavRefused, match="no space left"):
        write_wav(path, WavFormat(48_000, 1, "16"), 5000, broken())  # type: ignore[arg-type]
    assert path.read_bytes() == before
    assert list(tmp_path.iterdir()) == [path]


def test_more_than_a_wav_file_can_hold_is_refused(tmp_path: Path) -> None:
    with pytest.raises(WavRefused, match="4 GB"):
        write_wav(tmp_path / "a.wav", WavFormat(192_000, 1, "32"), 1 << 30, [])
