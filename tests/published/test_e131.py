"""Packets of streaming ACN, octet by octet, against ANSI E1.31-2018 as public documents quote it [source seen]."""

from __future__ import annotations

import struct
from uuid import UUID

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cuedeck.output.e131 import (
    DISCOVERY_INTERVAL_NS,
    OPTIONS_AT,
    SEQUENCE_AT,
    SLOTS_AT,
    DiscoveryPace,
    NotAllowed,
    Options,
    SacnSource,
    checked_priority,
    checked_universe,
    data_packet,
    discovery_packets,
    group_of,
    name_field,
    synchronisation_packet,
)

CID = UUID("00112233-4455-6677-8899-aabbccddeeff")
SOURCE = SacnSource(CID, "harrow", 120)

universes = st.integers(1, 63_999)
bytes_of_one = st.integers(0, 255)


def words(packet: bytes, *places: int) -> list[int]:
    """Return the 16-bit numbers at some places of a packet."""
    return [struct.unpack_from(">H", packet, place)[0] for place in places]


def test_a_data_packet_has_each_octet_of_the_table() -> None:
    """ANSI E1.31-2018, data packet, octet table [source seen]."""
    slots = bytes(range(256)) * 2
    packet = data_packet(SOURCE, 0x1234, 0x56, slots, synchronisation=0x0203, options=Options.PREVIEW_DATA)
    assert packet == (
        bytes.fromhex("0010 0000 41 53 43 2D 45 31 2E 31 37 00 00 00")  # 0: preamble, post-amble, identifier
        + bytes.fromhex("726E 00000004")  # 16: root flags and length, vector
        + bytes.fromhex("00112233445566778899AABBCCDDEEFF")  # 22: CID
        + bytes.fromhex("7258 00000002")  # 38: framing flags and length, vector
        + b"harrow".ljust(64, b"\0")  # 44: source name
        + bytes.fromhex("78 0203 56 80 1234")  # 108: priority, synchronisation, sequence, options, universe
        + bytes.fromhex("720B 02 A1 0000 0001 0201")  # 115: property layer
        + b"\0"  # 125: START code
        + slots
    )
    assert len(packet) == 638
    assert (packet[SEQUENCE_AT], packet[OPTIONS_AT], packet[SLOTS_AT:]) == (0x56, 0x80, slots)


@pytest.mark.parametrize(
    ("slots", "total", "root", "framing", "properties", "count"),
    [
        (512, 638, 0x726E, 0x7258, 0x720B, 0x0201),
        (24, 150, 0x7086, 0x7070, 0x7023, 0x0019),
        (1, 127, 0x706F, 0x7059, 0x700C, 0x0002),
    ],
)
def test_each_layer_of_a_data_packet_opens_with_its_length(
    slots: int, total: int, root: int, framing: int, properties: int, count: int
) -> None:
    """ANSI E1.31-2018, lengths [computed from the octet table; 726E source seen]."""
    packet = data_packet(SOURCE, 1, 0, bytes(slots))
    assert len(packet) == total
    assert words(packet, 16, 38, 115, 123) == [root, framing, properties, count]


def test_a_synchronisation_packet_has_each_octet_of_the_table() -> None:
    """ANSI E1.31-2018, synchronisation packet, 49 octets [source seen, lengths computed]."""
    packet = synchronisation_packet(SOURCE, 0xF9FF, 0xAB)
    assert packet[16:] == (
        bytes.fromhex("7021 00000008 00112233445566778899AABBCCDDEEFF") + bytes.fromhex("700B 00000001 AB F9FF 0000")
    )
    assert len(packet) == 49


@pytest.mark.parametrize(
    ("count", "lengths"),
    [(0, [0x7068, 0x7052, 0x7008]), (1, [0x706A, 0x7054, 0x700A]), (512, [0x7468, 0x7452, 0x7408])],
)
def test_a_discovery_packet_has_each_octet_of_the_table(count: int, lengths: list[int]) -> None:
    """ANSI E1.31-2018, universe discovery packet, 120 octets and two for each universe [source seen]."""
    listed = range(1, count + 1)
    (packet,) = discovery_packets(SOURCE, listed)
    assert words(packet, 16, 38, 112) == lengths
    assert packet[18:38] == bytes.fromhex("00000008") + CID.bytes
    assert packet[40:44] == bytes.fromhex("00000002")
    assert packet[44:112] == b"harrow".ljust(64, b"\0") + bytes(4)
    assert packet[114:120] == bytes.fromhex("00000001 00 00")
    assert packet[120:] == b"".join(universe.to_bytes(2, "big") for universe in listed)
    assert len(packet) == 120 + 2 * count


@given(st.sets(universes, max_size=1200))
def test_a_list_of_universes_is_sorted_and_goes_in_pages_of_512(listed: set[int]) -> None:
    """ANSI E1.31-2018, universe discovery: sorted, at most 512 a page, numbered to the last [source seen]."""
    pages = discovery_packets(SOURCE, listed)
    heard: list[int] = []
    for number, page in enumerate(pages):
        assert (page[118], page[119]) == (number, len(pages) - 1)
        assert number == len(pages) - 1 or len(page) == 1144
        heard += struct.unpack(f">{(len(page) - 120) // 2}H", page[120:])
    assert heard == sorted(listed)


@pytest.mark.parametrize(
    ("universe", "group"),
    [
        (1, "239.255.0.1"),
        (255, "239.255.0.255"),
        (256, "239.255.1.0"),
        (257, "239.255.1.1"),
        (510, "239.255.1.254"),
        (1000, "239.255.3.232"),
        (63_999, "239.255.249.255"),
        (64_214, "239.255.250.214"),
    ],
)
def test_the_group_of_a_universe_is_its_two_bytes(universe: int, group: str) -> None:
    """ANSI E1.31-2018, clause 9.1.1 [source seen for 1, 256 and 63999, the others computed]; not universe % 255."""
    assert group_of(universe) == group


@pytest.mark.parametrize("universe", [-1, 0, 64_000, 64_213, 64_215, 65_535])
def test_a_universe_that_is_reserved_is_refused(universe: int) -> None:
    """ANSI E1.31-2018, clause 6.2.7 [source seen]."""
    for use in (checked_universe, group_of, lambda one: data_packet(SOURCE, one, 0, b"\0")):
        with pytest.raises(NotAllowed, match=r"E1\.31 has 1 to 63999"):
            use(universe)
    with pytest.raises(NotAllowed):
        synchronisation_packet(SOURCE, universe, 0)
    with pytest.raises(NotAllowed):
        discovery_packets(SOURCE, [universe])


@pytest.mark.parametrize("priority", [-1, 201, 255])
def test_no_packet_has_a_priority_out_of_range(priority: int) -> None:
    """ANSI E1.31-2018: 0 to 200, none outside may be sent [source seen]."""
    with pytest.raises(NotAllowed, match=r"E1\.31 has 0 to 200"):
        checked_priority(priority)
    with pytest.raises(NotAllowed):
        SacnSource(CID, "harrow", priority)


@pytest.mark.parametrize("slots", [0, 513])
def test_a_packet_carries_1_to_512_slots(slots: int) -> None:
    with pytest.raises(NotAllowed, match="1 to 512"):
        data_packet(SOURCE, 1, 0, bytes(slots))


@given(universes, bytes_of_one, st.binary(min_size=1, max_size=512), st.integers(0, 200), st.integers(0, 63_999))
def test_what_goes_into_a_data_packet_can_be_read_out_of_it(
    universe: int, sequence: int, slots: bytes, priority: int, synchronisation: int
) -> None:
    """ANSI E1.31-2018, data packet, offsets [source seen]."""
    packet = data_packet(
        SacnSource(CID, "harrow", priority), universe, sequence, slots, synchronisation=synchronisation
    )
    assert struct.unpack(">BHBBH", packet[108:115]) == (priority, synchronisation, sequence, 0, universe)
    assert (packet[125], packet[126:]) == (0, slots)
    assert [length & 0xFFF for length in words(packet, 16, 38, 115)] == [len(packet) - at for at in (16, 38, 115)]


@given(st.text(max_size=100))
def test_a_source_name_is_whole_characters_and_ends_with_a_null(name: str) -> None:
    """ANSI E1.31-2018, source name: 64 octets of UTF-8, null-terminated [source seen]."""
    field = name_field(name)
    assert len(field) == 64
    text, _, rest = field.partition(b"\0")
    assert not rest.strip(b"\0")
    assert name.startswith(text.decode("utf-8")) or not name.isprintable()


def test_a_long_source_name_is_cut_between_characters() -> None:
    assert name_field("a" * 62 + "é") == b"a" * 62 + b"\0\0"
    assert name_field("a" * 61 + "é") == b"a" * 61 + "é".encode() + b"\0"
    assert name_field("rig\0secret") == b"rig".ljust(64, b"\0")


def test_the_list_goes_out_every_ten_seconds_and_once_more_on_change() -> None:
    """ANSI E1.31-2018, clause 4.3: an interval of 10 s, at most one extra set in each [source seen]."""
    pace = DiscoveryPace()
    second = DISCOVERY_INTERVAL_NS // 10
    pace.change()
    assert pace.is_due(0)
    assert not pace.is_due(second)
    pace.change()
    assert pace.is_due(2 * second)
    pace.change()
    assert not pace.is_due(3 * second)
    assert pace.is_due(10 * second)
    assert not pace.is_due(11 * second), "the second change went with the list of the interval"
    pace.change()
    assert pace.is_due(12 * second)
    assert not pace.is_due(19 * second)
    assert pace.is_due(20 * second)
