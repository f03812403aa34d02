"""Who has the lamps once a source ends: other sources on the same group, by multicast that stays on this machine.

ANSI E1.31-2018: Stream_Terminated and network data loss after 2.5 s (6.7.1), Preview_Data (6.2.6), the highest
priority wins (6.2.3) [source seen].
"""

from __future__ import annotations

import os
import socket
import sys
from collections.abc import Iterator
from dataclasses import replace
from uuid import UUID

import numpy as np
import pytest

from cuedeck.output.base import Line, Packet
from cuedeck.output.e131 import PORT, SacnSource, group_of
from cuedeck.output.sacn import Destination, Sacn

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="a socket cannot be bound to a group there")
UNIVERSE = 10_000 + os.getpid() % 50_000
"""Of these tests alone, whatever else runs on this machine."""
LINE = Line((UNIVERSE,), 24, 44.0)
PERIOD_NS = 22_727_272
ALL = 1000


class Sender:
    """A source that counts its packets."""

    def __init__(self, number: int, priority: int, line: Line = LINE) -> None:
        self.output = Sacn(SacnSource(UUID(int=number), "harrow", priority), Destination(interface="127.0.0.1"))
        self.output.open(line)
        self._number = 0

    def send(self, packets: int = 1) -> None:
        """Send so many packets, each another than the one before."""
        for _ in range(packets):
            self._number += 1
            slots = np.full((1, 512), self._number % 256, np.uint8)
            self.output.send(Packet(self._number, self._number * PERIOD_NS, slots))

    def hears(self) -> bool:
        """Send until a spare is heard, or none has been for long enough."""
        for _ in range(5):
            self.send()
            if self.output.has_spare:
                return True
        return False


@pytest.fixture
def first() -> Iterator[Sender]:
    one = Sender(1, 100)
    yield one
    one.output.close()


def test_alone_there_is_no_spare_though_its_own_packets_come_back(first: Sender) -> None:
    assert not first.hears()


@pytest.mark.parametrize(("priority", "is_spare"), [(0, True), (90, True), (100, True), (101, False), (200, False)])
def test_a_source_of_no_more_priority_is_a_spare_until_it_ends(first: Sender, priority: int, is_spare: bool) -> None:
    spare = Sender(2, priority)
    spare.send()
    assert first.hears() is is_spare
    spare.output.close()
    assert not first.hears()


def test_one_that_was_silent_for_two_and_a_half_seconds_is_none(first: Sender) -> None:
    spare = Sender(2, 90)
    spare.send()
    assert first.hears()
    first.send(round(2.4e9 / PERIOD_NS))
    assert first.output.has_spare
    first.send(10)
    assert not first.output.has_spare
    spare.output.close()


def test_one_whose_light_is_only_for_looking_at_is_none(first: Sender) -> None:
    spare = Sender(2, 90, replace(LINE, is_rehearsal=True))
    spare.send()
    assert not first.hears()
    spare.output.close()


def test_whatever_else_is_sent_there_is_let_pass_and_there_is_an_end_to_reading_it(first: Sender) -> None:
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as noise:
        noise.setsockopt(socket.IPPROTO_IP, socket.IP_MULTICAST_IF, socket.inet_aton("127.0.0.1"))
        for number in range(ALL):
            noise.sendto(bytes([number % 256]) * (number % 700), (group_of(UNIVERSE), PORT))
    assert not first.hears()


def test_a_spare_can_be_named() -> None:
    assert Sacn(SacnSource(UUID(int=1), "harrow"), Destination("127.0.0.1", has_spare=True)).has_spare
    assert not Sacn(SacnSource(UUID(int=1), "harrow"), Destination("127.0.0.1")).has_spare


def test_a_program_that_hears_what_is_sent_to_this_machine_loses_nothing() -> None:
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as program:
        program.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        program.settimeout(20)
        program.bind(("", PORT))
        first = Sender(1, 100)
        with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as other:
            other.sendto(b"for you", ("127.0.0.1", PORT))
        assert program.recv(700) == b"for you"
    first.output.close()
