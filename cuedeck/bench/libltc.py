"""The general library libltc, through ctypes: the peer of our timecode, in measurements and in tests.

The layouts of its structures are those of its public header, ltc.h of version 1.3.
"""

from __future__ import annotations

import ctypes
import ctypes.util
from collections.abc import Iterator
from typing import NamedTuple

import numpy as np

from cuedeck.arrays import Sound

STANDARDS = {24: 3, 25: 1, 30: 0}
"""What the library calls the television standard, by the labels a second."""
_QUEUE = 1 << 15
_FRAME_BYTES = 10


class _FrameExt(ctypes.Structure):
    _fields_ = (
        ("ltc", ctypes.c_uint32 * 3),
        ("off_start", ctypes.c_longlong),
        ("off_end", ctypes.c_longlong),
        ("reverse", ctypes.c_int),
        ("biphase_tics", ctypes.c_float * 80),
        ("sample_min", ctypes.c_ubyte),
        ("sample_max", ctypes.c_ubyte),
        ("volume", ctypes.c_double),
    )


class PeerFrame(NamedTuple):
    """A frame as the library decodes it."""

    data: bytes
    start: int
    is_reverse: bool


def load() -> ctypes.CDLL | None:
    """Return the library, or None where it is not installed."""
    name = ctypes.util.find_library("ltc")
    if name is None:
        return None
    try:
        library = ctypes.CDLL(name)
    except OSError:
        return None
    pointer, number = ctypes.c_void_p, ctypes.c_int
    library.ltc_decoder_create.restype = pointer
    library.ltc_decoder_create.argtypes = [number, number]
    library.ltc_decoder_write_float.argtypes = [pointer, pointer, ctypes.c_size_t, ctypes.c_longlong]
    library.ltc_decoder_write_float.restype = None
    library.ltc_decoder_read.argtypes = [pointer, ctypes.POINTER(_FrameExt)]
    library.ltc_decoder_free.argtypes = [pointer]
    library.ltc_encoder_create.restype = pointer
    library.ltc_encoder_create.argtypes = [ctypes.c_double, ctypes.c_double, number, number]
    library.ltc_encoder_set_timecode.argtypes = [pointer, ctypes.c_char_p]
    library.ltc_encoder_set_timecode.restype = None
    library.ltc_encoder_set_user_bits.argtypes = [pointer, ctypes.c_ulong]
    library.ltc_encoder_set_user_bits.restype = None
    library.ltc_encoder_encode_frame.argtypes = [pointer]
    library.ltc_encoder_encode_frame.restype = None
    library.ltc_encoder_get_bufferptr.argtypes = [pointer, ctypes.POINTER(pointer), number]
    library.ltc_encoder_inc_timecode.argtypes = [pointer]
    library.ltc_encoder_free.argtypes = [pointer]
    library.ltc_encoder_free.restype = None
    return library


def decode(library: ctypes.CDLL, signal: Sound, samples_per_frame: int) -> Iterator[PeerFrame]:
    """Yield the frames that the library finds in a signal of full scale 1."""
    decoder = library.ltc_decoder_create(samples_per_frame, _QUEUE)
    try:
        samples = np.ascontiguousarray(signal, np.float32)
        library.ltc_decoder_write_float(decoder, samples.ctypes.data, len(samples), 0)
        frame = _FrameExt()
        while library.ltc_decoder_read(decoder, ctypes.byref(frame)):
            yield PeerFrame(bytes(frame.ltc)[:_FRAME_BYTES], frame.off_start, bool(frame.reverse))
    finally:
        library.ltc_decoder_free(decoder)


def encode(
    library: ctypes.CDLL,
    label: tuple[int, int, int, int],
    count: int,
    sample_rate_hz: int,
    fps: float,
    counted: int,
    user_bits: int = 0,
) -> Sound:
    """Return the signal of frames from hours, minutes, seconds and frames on, as the library makes it."""
    encoder = library.ltc_encoder_create(sample_rate_hz, fps, STANDARDS[counted], 0)
    try:
        library.ltc_encoder_set_user_bits(encoder, user_bits)
        library.ltc_encoder_set_timecode(encoder, b"+0000\0\0\0\0" + bytes(label))
        parts = []
        for _ in range(count):
            library.ltc_encoder_encode_frame(encoder)
            buffer = ctypes.c_void_p()
            size = library.ltc_encoder_get_bufferptr(encoder, ctypes.byref(buffer), 1)
            parts.append(ctypes.string_at(buffer, size))
            library.ltc_encoder_inc_timecode(encoder)
    finally:
        library.ltc_encoder_free(encoder)
    return (np.frombuffer(b"".join(parts), np.uint8).astype(np.float32) - np.float32(128)) / np.float32(128)
