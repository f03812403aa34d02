"""Streaming ACN as an output: real sockets on 127.0.0.1, where nothing leaves this machine."""

from __future__ import annotations

import errno
import socket
import threading
from collections.abc import Iterator
from dataclasses import replace
from uuid import UUID

import numpy as np
import pytest

from cuedeck.clock import ManualClock
from cuedeck.output.base import Line, OutputLost, Packet
from cuedeck.output.e131 import SacnSource
from cuedeck.output.network import words_of
from cuedeck.output.sacn import Destination, Sacn
from cuedeck.output.sacn_target import sacn_of
from cuedeck.output.targets import UnknownTarget, output_for, outputs_for
from cuedeck.rig.patch import build_patch
from cuedeck.show.load import load_show
from tests.output.ports import FULL, packet
from tests.output.udp import UdpPort

SOURCE = SacnSource(UUID("00112233-4455-6677-8899-aabbccddeeff"), "harrow", 90)
THREE = Line((2, 1, 300), 512, 44.0)
SYNCHRONISATION_BYTES = 49


@pytest.fixture
def far() -> Iterator[UdpPort]:
    with UdpPort() as port:
        yield port


def sacn_to(far: UdpPort, synchronisation: int | None = None) -> Sacn:
    return Sacn(SOURCE, Destination("127.0.0.1", far.number, synchronisation=synchronisation))


def universe_of(data: bytes) -> int:
    return int.from_bytes(data[113:115], "big")


def test_each_universe_goes_out_in_a_packet_of_its_own_and_then_they_are_made_to_count(far: UdpPort) -> None:
    """ANSI E1.31-2018: synchronisation follows the data of all universes [source seen]."""
    output, sent = sacn_to(far), packet(3, universes=3)
    output.open(THREE)
    output.send(sent)
    *data, synchronisation = far.read(4)
    assert [universe_of(one) for one in data] == [2, 1, 300]
    assert [one[126:] for one in data] == [row.tobytes() for row in sent.slots]
    assert {one[108:113] for one in data} == {bytes([90, 0, 1, 0, 0x20])}
    assert (len(synchronisation), synchronisation[44:47]) == (SYNCHRONISATION_BYTES, bytes([0, 0, 1]))
    output.close()


@pytest.mark.parametrize(
    ("synchronisation", "line", "address"),
    [(None, FULL, 0), (None, THREE, 1), (0, THREE, 0), (7000, THREE, 7000), (7000, FULL, 7000)],
)
def test_one_universe_needs_no_synchronisation_and_several_have_the_lowest_where_nobody_asked(
    far: UdpPort, synchronisation: int | None, line: Line, address: int
) -> None:
    output = sacn_to(far, synchronisation)
    output.open(line)
    output.send(packet(0, universes=len(line.universes)))
    data = far.read(len(line.universes))
    assert {int.from_bytes(one[109:111], "big") for one in data} == {address}
    if address:
        (last,) = far.read(1)
        assert int.from_bytes(last[45:47], "big") == address
    assert far.is_empty()
    output.close()


def test_synchronisation_has_a_sequence_of_its_own_and_rests_where_no_data_leaves(far: UdpPort) -> None:
    output = sacn_to(far)
    output.open(THREE)
    for number in range(40):
        output.send(Packet(number, number * 20_000_000, packet(0, universes=3).slots))
    heard = far.read(24 * 4)
    assert [one[44] for one in heard if len(one) == SYNCHRONISATION_BYTES] == list(range(24))
    assert far.is_empty()
    output.close()


def test_a_rehearsal_is_marked_to_its_end(far: UdpPort) -> None:
    """ANSI E1.31-2018, clause 6.2.6, Preview_Data and Stream_Terminated [source seen]."""
    output = sacn_to(far)
    output.open(replace(FULL, is_rehearsal=True))
    output.send(packet(0))
    output.close()
    assert [one[112] for one in far.read(4)] == [0x80, 0xC0, 0xC0, 0xC0]
    assert far.is_empty()


def test_a_change_of_line_ends_what_leaves_and_goes_on_with_what_stays(far: UdpPort) -> None:
    output = sacn_to(far, synchronisation=0)
    output.open(Line((1, 2), 512, 44.0))
    output.send(packet(0, universes=2))
    output.open(Line((2, 3), 24, 44.0, is_rehearsal=True))
    output.send(packet(1, universes=2))
    heard = [(universe_of(one), one[111], one[112], len(one)) for one in far.read(7)]
    assert heard == [
        *[(1, 0, 0x00, 638), (2, 0, 0x00, 638)],
        *[(1, number, 0x40, 638) for number in (1, 2, 3)],
        *[(2, 1, 0x80, 150), (3, 0, 0x80, 150)],
    ]
    output.close()


def test_numbers_go_on_when_it_is_opened_again(far: UdpPort) -> None:
    output = sacn_to(far)
    for number in range(2):
        output.open(FULL)
        output.send(packet(number))
        output.close()
    assert [one[111] for one in far.read(8)] == list(range(8))


def test_one_that_sent_nothing_ends_nothing(far: UdpPort) -> None:
    output = sacn_to(far)
    output.open(FULL)
    output.close()
    assert far.is_empty()


def test_a_receiver_that_is_not_there_is_not_a_lost_output() -> None:
    with UdpPort() as gone:
        output = sacn_to(gone)
    output.open(FULL)
    for number in range(5):
        output.send(packet(number))
    output.close()
    assert output.dropped == 0


def test_it_starts_no_thread(far: UdpPort) -> None:
    before = threading.active_count()
    output = sacn_to(far)
    output.open(THREE)
    output.send(packet(0, universes=3))
    assert threading.active_count() == before
    output.close()


class _Failing:
    """A socket whose system has one answer."""

    def __init__(self, code: int) -> None:
        self.code = code
        self.is_closed = False

    def sendto(self, *_: object) -> None:
        raise OSError(self.code, "said by the system")

    def close(self) -> None:
        self.is_closed = True


def opened_on(code: int, far: UdpPort) -> tuple[Sacn, _Failing]:
    """Return an output whose system answers every packet with an error."""
    output, failing = sacn_to(far), _Failing(code)
    output.open(FULL)
    assert output._socket is not None
    output._socket.close()
    output._socket = failing  # type: ignore[assignment]  # no system can be made to say all of these
    return output, failing


@pytest.mark.parametrize("code", [errno.EAGAIN, errno.ENOBUFS])
def test_what_the_system_has_no_room_for_is_dropped_and_counted(far: UdpPort, code: int) -> None:
    output, _ = opened_on(code, far)
    output.send(packet(0))
    output.send(packet(1))
    assert output.dropped == 2


@pytest.mark.parametrize("code", [errno.ECONNREFUSED, errno.ECONNRESET])
def test_that_nobody_listens_is_let_pass(far: UdpPort, code: int) -> None:
    output, _ = opened_on(code, far)
    output.send(packet(0))
    assert output.dropped == 0


@pytest.mark.parametrize("code", [errno.ENETUNREACH, errno.ENETDOWN, errno.EHOSTUNREACH, errno.EPERM, errno.ENODEV])
def test_a_lost_network_is_told_with_a_cure_and_can_be_opened_again(far: UdpPort, code: int) -> None:
    output, failing = opened_on(code, far)
    with pytest.raises(OutputLost, match=r"sacn:127\.0\.0\.1,port=\d+ was lost: .+: .+"):
        output.send(packet(0))
    assert failing.is_closed
    with pytest.raises(OutputLost, match="is not open"):
        output.send(packet(1))
    output.open(FULL)
    output.send(packet(2))
    (data,) = far.read(1)
    assert data[126:] == packet(2).slots.tobytes()
    output.close()


def test_words_for_an_unknown_error_are_those_of_the_system() -> None:
    assert words_of(OSError(errno.EIO, "Odd thing")) == "odd thing: look at the network of this computer"


def test_an_interface_that_is_not_there_is_told_with_those_that_are() -> None:
    output = Sacn(SOURCE, Destination(interface="nosuch0"))
    with pytest.raises(OutputLost) as caught:
        output.open(FULL)
    assert "there is no interface 'nosuch0' now; there are " in str(caught.value)
    assert socket.if_nameindex()[0][1] in str(caught.value)


def test_an_address_that_this_computer_does_not_have_is_told() -> None:
    output = Sacn(SOURCE, Destination(interface="192.0.2.77"))
    with pytest.raises(OutputLost, match="does not have that address now"):
        output.open(FULL)


def test_a_host_without_an_address_is_told() -> None:
    output = Sacn(SOURCE, Destination("no-such-lamp.invalid"))
    with pytest.raises(OutputLost, match="no address is known for that name"):
        output.open(FULL)


def target(text: str) -> Sacn:
    output = output_for(text, build_patch(load_show(b"cuedeck: 1\n").show), ManualClock())
    assert isinstance(output, Sacn)
    return output


def test_a_text_names_multicast_or_one_receiver_and_options() -> None:
    assert target("sacn").destination == Destination()
    assert target("sacn").source.name.startswith("cuedeck ")
    assert target("sacn").source.priority == 100
    assert target("sacn,priority=0").source.priority == 0
    one = target("sacn:192.0.2.20,priority=200,interface=127.0.0.1,name=main: left,sync=7,port=6000")
    assert one.destination == Destination("192.0.2.20", 6000, "127.0.0.1", 7)
    assert (one.source.name, one.source.priority) == ("main: left", 200)
    assert one.name == "sacn:192.0.2.20,port=6000,interface=127.0.0.1"
    assert target("sacn:lamp-node.lan,sync=off").destination == Destination("lamp-node.lan", synchronisation=0)


def test_every_source_of_this_installation_has_the_same_identity() -> None:
    assert target("sacn").source.cid == target("sacn:192.0.2.20").source.cid


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("sacn,priority=201", "'priority=201': priority 201 is out of range: E1.31 has 0 to 200; write priority=100"),
        ("sacn,priority=high", "'priority=high' is no whole number"),
        ("sacn,sync=on", "write sync=off, or sync=1 to sync=63999"),
        ("sacn,sync=64214", "universe 64214 is out of range"),
        ("sacn,port=6000", "multicast has port 5568 and no other"),
        ("sacn:192.0.2.20,port=0", "ports go from 1 to 65535"),
        ("sacn:192.0.2.20,port=99999", "ports go from 1 to 65535"),
        ("sacn,universe=1", "'universe=1' is no option of sacn: it takes priority=, interface=, name=, sync=, spare="),
        ("sacn,name=", "'name=' cannot be read"),
        ("sacn,spare=2", "'spare=2' is neither yes nor no: write spare=yes"),
        ("sacn,interface=", "'interface=' is no interface"),
        ("sacn:192.0.2", "'192.0.2' is no address"),
        ("sacn:priority=90", "'priority=90' is no address: write sacn for multicast"),
        ("sacn:a b", "'a b' is no address"),
        ("sacn:ff18::1", "is an IPv6 address"),
        ("sacn:239.255.0.1", "is a multicast address: write sacn"),
        ("sacn:255.255.255.255", "is not one receiver"),
        ("sacn:192.0.2.20,fast", "'fast' is no option of sacn:192.0.2.20"),
        ("sacn,sync=1,sync=2", "sync is written twice behind sacn: write it once"),
    ],
)
def test_a_text_that_means_nothing_is_refused_with_what_to_write(text: str, words: str) -> None:
    with pytest.raises(UnknownTarget) as caught:
        target(text)
    assert words in str(caught.value)


def test_one_receiver_is_not_sent_to_twice() -> None:
    patch = build_patch(load_show(b"cuedeck: 1\n").show)
    with pytest.raises(UnknownTarget, match="sacn is named twice"):
        outputs_for(["sacn", "sacn,priority=90"], patch, ManualClock())
    assert len(outputs_for(["sacn:192.0.2.20", "sacn:192.0.2.21"], patch, ManualClock())) == 2


def test_only_what_has_changed_leaves(far: UdpPort) -> None:
    output = sacn_to(far, synchronisation=0)
    output.open(Line((1, 2), 512, 44.0))
    slots = np.zeros((2, 512), np.uint8)
    for number in range(30):
        slots = slots.copy()
        slots[1, 0] = number + 1
        output.send(Packet(number, number * 22_727_272, slots))
    heard = [universe_of(one) for one in far.read(24 + 30)]
    assert (heard.count(1), heard.count(2)) == (24, 30)
    assert far.is_empty()
    output.close()


def test_sacn_of_takes_options_that_were_taken_apart_elsewhere() -> None:
    assert sacn_of("", {"sync": "off"}).destination.synchronisation == 0


@pytest.mark.parametrize(("priority", "lower"), [(100, 80), (20, 0), (7, 0)])
def test_a_look_that_is_resumed_has_a_lower_priority_until_something_else_is_sent(
    far: UdpPort, priority: int, lower: int
) -> None:
    output = Sacn(replace(SOURCE, priority=priority), Destination("127.0.0.1", far.number))
    line = Line((1,), 512, 44.0)
    for number, sent in enumerate((replace(line, is_resumed=True), line)):
        output.open(sent)
        output.send(packet(number))
    resumed, normal = far.read(2)
    assert (resumed[108], normal[108]) == (lower, priority)
    assert normal[111] == resumed[111] + 1, "it is the same stream"
    output.close()
