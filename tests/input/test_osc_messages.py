"""OSC 1.0 datagrams: read as a library builds them, and never harmed by anything."""

from __future__ import annotations

import random
import struct

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pythonosc.osc_bundle_builder import IMMEDIATELY, OscBundleBuilder
from pythonosc.osc_message_builder import OscMessageBuilder

from cuedeck.input.osc_messages import BUNDLE, DEEPEST, Argument, Malformed, OscMessage, read_datagram
from tests.published.test_osc import FOO, OSCILLATOR


def datagram(address: str, *arguments: Argument) -> bytes:
    """Return a message as python-osc builds it."""
    builder = OscMessageBuilder(address)
    for argument in arguments:
        builder.add_arg(argument)
    return builder.build().dgram


def bundle(*messages: bytes, time_tag: bytes = bytes(7) + b"\1") -> bytes:
    return BUNDLE + time_tag + b"".join(struct.pack(">i", len(message)) + message for message in messages)


arguments = st.lists(st.integers(-(2**31), 2**31 - 1) | st.text(st.characters(codec="ascii", exclude_characters="\0")))


@given(arguments)
def test_what_python_osc_builds_is_read_back(values: list[Argument]) -> None:
    assert read_datagram(datagram("/cuedeck/cue", *values)) == [OscMessage("/cuedeck/cue", tuple(values))]


def test_a_message_without_type_tags_has_no_arguments() -> None:
    assert read_datagram(b"/cuedeck/start\0\0") == [OscMessage("/cuedeck/start", ())]


def test_the_messages_of_a_bundle_come_in_their_order_whatever_its_time_tag_says() -> None:
    builder = OscBundleBuilder(IMMEDIATELY)
    for number in (3, 1, 2):
        message = OscMessageBuilder("/cuedeck/cue")
        message.add_arg(number)
        builder.add_content(message.build())  # type: ignore[arg-type] - its own annotation is too narrow
    assert [message.arguments for message in read_datagram(builder.build().dgram)] == [(3,), (1,), (2,)]
    later = bundle(datagram("/cuedeck/start"), time_tag=b"\xff" * 8)
    assert read_datagram(later) == [OscMessage("/cuedeck/start", ())]


def test_bundles_within_bundles_are_taken_apart_down_to_a_depth() -> None:
    nested = datagram("/cuedeck/start")
    for _ in range(DEEPEST):
        nested = bundle(nested)
    assert read_datagram(nested) == [OscMessage("/cuedeck/start", ())]
    with pytest.raises(Malformed):
        read_datagram(bundle(nested))


@pytest.mark.parametrize(
    "raw",
    [
        b"",
        b"\0\0\0\0",
        b"start",
        b"cuedeck/start\0\0\0",
        b"/cuedeck/start",
        b"/cuedeck/cue\0\0\0\0,i\0\0",
        b"/cuedeck/cue\0\0\0\0,s\0\0abcd",
        b"/cuedeck/cue\0\0\0\0xi\0\0\0\0\0\1",
        b"/cuedeck/cue\0\0\0\0,b\0\0\0\0\0\4abcd",
        b"/cuedeck/cue\0\0\0\0,[i]\0\0\0\0\0\0\0\1",
        b"/cuedeck/c\xff\xfe\0\0\0\0",
        BUNDLE,
        BUNDLE + bytes(4),
        bundle(b"")[:-4] + b"\xff\xff\xff\xfc",
        BUNDLE + bytes(8) + struct.pack(">i", -4),
        BUNDLE + bytes(8) + struct.pack(">i", 0),
        BUNDLE + bytes(8) + struct.pack(">i", 64) + b"/a\0\0",
        bundle(b"nonsense"),
    ],
)
def test_what_is_no_osc_is_malformed(raw: bytes) -> None:
    with pytest.raises(Malformed):
        read_datagram(raw)


def damaged(dice: random.Random) -> bytes:
    """Return noise, or a datagram with bytes changed, put in, taken out or cut off."""
    right = [
        OSCILLATOR,
        FOO,
        datagram("/cuedeck/cue", 4),
        datagram("/cuedeck/axis", "slide", 60.5),
        bundle(datagram("/cuedeck/start"), bundle(datagram("/cuedeck/cue", "go"))),
    ]
    if dice.randrange(4) == 0:
        return dice.randbytes(dice.randrange(0, 80))
    raw = bytearray(dice.choice(right))
    for _ in range(dice.randrange(1, 5)):
        at = dice.randrange(len(raw) + 1)
        raw[at : at + dice.randrange(3)] = dice.randbytes(dice.choice((0, 1, 1, 4)))
    return bytes(raw[: dice.choice((len(raw), len(raw), dice.randrange(len(raw) + 1)))])


@pytest.mark.parametrize("first", range(0, 20_000, 5_000))
def test_damaged_datagrams_are_read_or_malformed_and_nothing_is_printed(
    first: int, capfd: pytest.CaptureFixture[str]
) -> None:
    malformed = 0
    for number in range(first, first + 5_000):
        try:
            messages = read_datagram(damaged(random.Random(number)))  # noqa: S311 - the same damage every time
        except Malformed:
            malformed += 1
        else:
            assert all(message.address.startswith("/") for message in messages)
    assert 1_000 < malformed < 5_000
    assert capfd.readouterr() == ("", "")
