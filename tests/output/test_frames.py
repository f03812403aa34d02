"""Frames for interfaces that time the line themselves. Common practice, from memory: no document was seen."""

from __future__ import annotations

import random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cuedeck.output.framed import LONGEST_PAYLOAD, Frame, levels_frame
from tests.output.frame_parser import FrameParser

frames = st.builds(Frame, st.integers(0, 255), st.binary(max_size=LONGEST_PAYLOAD))
MOST_KEPT = 4 + LONGEST_PAYLOAD + 1
"""A frame without its last byte is all that a parser may hold."""


def parsed(content: bytes, cut: int | None = None) -> list[Frame]:
    parser = FrameParser()
    step = cut or max(1, len(content))
    return [frame for at in range(0, len(content), step) for frame in parser.feed(content[at : at + step])]


def test_a_packet_of_24_slots_in_a_frame_byte_by_byte() -> None:
    # From memory: 7E, message 6, length with the low byte first, start code and slots, E7.
    content = bytes([0, *range(1, 25)])
    assert levels_frame(content).encoded == b"\x7e\x06\x19\x00" + content + b"\xe7"


def test_the_length_of_a_full_universe_is_513_with_the_low_byte_first() -> None:
    encoded = levels_frame(bytes(513)).encoded
    assert encoded[:4] == b"\x7e\x06\x01\x02"
    assert len(encoded) == 513 + 5


def test_fewer_than_24_slots_are_filled_up_with_zeros() -> None:
    assert levels_frame(b"\0\xff").payload == b"\0\xff" + bytes(23)


def test_a_payload_that_no_message_has_is_refused() -> None:
    with pytest.raises(ValueError, match="601 bytes is longer than 600"):
        _ = Frame(6, bytes(601)).encoded


@given(st.lists(frames, max_size=5), st.integers(1, 700))
def test_what_is_encoded_reads_back_however_it_is_cut(sent: list[Frame], cut: int) -> None:
    assert parsed(b"".join(frame.encoded for frame in sent), cut) == sent


@given(st.binary(max_size=300).map(lambda garbage: garbage.replace(b"\x7e", b"")), frames, st.integers(1, 700))
def test_a_frame_behind_garbage_without_a_start_byte_is_found_at_once(garbage: bytes, frame: Frame, cut: int) -> None:
    assert parsed(garbage + frame.encoded, cut) == [frame]


@given(st.binary(max_size=300), frames)
def test_a_frame_behind_any_garbage_is_found_where_no_whole_frame_covers_it(garbage: bytes, frame: Frame) -> None:
    # What starts in the garbage may ask for up to 600 bytes more before it shows that it is no frame.
    content = garbage + frame.encoded + bytes(MOST_KEPT)
    assert _covered(content, len(garbage)) or frame in parsed(content)


def _covered(content: bytes, at: int) -> bool:
    """Return whether a run of bytes that starts sooner and is a frame by its looks reaches over a place."""
    for start in range(at):
        length = int.from_bytes(content[start + 2 : start + 4], "little")
        end = start + 4 + length
        is_frame = content[start] == 0x7E and length <= LONGEST_PAYLOAD and content[end : end + 1] == b"\xe7"
        if is_frame and end >= at:
            return True
    return False


@given(frames, st.integers(0, 700), st.integers(0, 255))
def test_a_frame_that_was_hurt_does_not_hide_the_next(frame: Frame, place: int, byte: int) -> None:
    hurt = bytearray(frame.encoded)
    hurt[place % len(hurt)] = byte
    good = levels_frame(bytes(25))
    assert good in parsed(bytes(hurt) + bytes(MOST_KEPT) + good.encoded + bytes(MOST_KEPT))


def test_all_bytes_are_accounted_for() -> None:
    parser = FrameParser()
    parser.feed(b"abc" + Frame(1, b"xy").encoded + b"\x7e\x06\xff\xffd" + b"\x7e\x06\x01\x00zz")
    assert parser.skipped == 3 + 5 + 6


def test_100000_random_and_mutated_messages_raise_nothing_and_fill_no_memory() -> None:
    source = random.Random(0x7EE7)  # noqa: S311
    parser = FrameParser()
    fed = found = 0
    for _ in range(100_000):
        message = bytearray(Frame(source.choice((3, 6, 10)), source.randbytes(source.randrange(40))).encoded)
        match source.randrange(5):
            case 0:
                message = bytearray(source.randbytes(source.randrange(60)))
            case 1:
                message[source.randrange(len(message))] = source.randrange(256)
            case 2:
                del message[source.randrange(len(message)) :]
            case 3:
                message[2:4] = source.randbytes(2)
        frames = parser.feed(bytes(message))
        fed += len(message)
        found += sum(len(frame.encoded) for frame in frames)
        assert len(parser._kept) <= MOST_KEPT
        assert found + parser.skipped + len(parser._kept) == fed
    assert parser.feed(bytes(MOST_KEPT) + levels_frame(bytes(25)).encoded)[-1] == levels_frame(bytes(25))
