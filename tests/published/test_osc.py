"""OSC datagrams against the specification: Open Sound Control 1.0 (M. Wright, 2002), from memory.

Its rules: a string ends with a zero and is filled up with zeros to a multiple of four bytes; numbers are big-endian;
a type tag string begins with a comma; a bundle is "#bundle", a time tag of eight bytes, and elements, each behind its
size. Its section "OSC Message Examples" prints two messages byte by byte.
"""

from __future__ import annotations

import struct

import pytest

from cuedeck.input.osc_messages import Malformed, OscMessage, read_datagram

OSCILLATOR = bytes.fromhex("2f6f7363696c6c61746f722f342f6672657175656e6379002c66000043dc0000")
FOO = bytes.fromhex("2f666f6f000000002c69697366660000000003e8ffffffff68656c6c6f0000003f9df3b640b5b22d")
IMMEDIATELY = bytes(7) + b"\1"
"""The time tag of 63 zero bits and a one."""


def test_the_first_example_of_the_specification_is_read() -> None:
    assert read_datagram(OSCILLATOR) == [OscMessage("/oscillator/4/frequency", (440.0,))]


def test_the_second_example_of_the_specification_is_read() -> None:
    (message,) = read_datagram(FOO)
    assert message.address == "/foo"
    assert message.arguments == (1000, -1, "hello", pytest.approx(1.234), pytest.approx(5.678))


@pytest.mark.parametrize(
    ("text", "padded"), [("", 4), ("a", 4), ("abc", 4), ("abcd", 8), ("abcdefg", 8), ("abcdefgh", 12)]
)
def test_a_string_is_filled_up_to_a_multiple_of_four_bytes(text: str, padded: int) -> None:
    whole = b"/s\0\0,s\0\0" + text.encode().ljust(padded, b"\0")
    assert read_datagram(whole) == [OscMessage("/s", (text,))]
    if len(text) % 4 == 3:  # the zero that ends it is the last byte
        with pytest.raises(Malformed):
            read_datagram(whole[:-1])


def test_the_elements_of_a_bundle_stand_behind_their_sizes() -> None:
    elements = b"".join(struct.pack(">i", len(one)) + one for one in (OSCILLATOR, FOO))
    addresses = [message.address for message in read_datagram(b"#bundle\0" + IMMEDIATELY + elements)]
    assert addresses == ["/oscillator/4/frequency", "/foo"]
