"""What tshark makes of streaming ACN that was captured from a cable.

Debian's tshark 4.0 knows the data packet of E1.31 and no other: of synchronisation and discovery packets it
gives the addresses and the payload, which are read by what was written from the standard alone, and by the
general `sacn` library.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from sacn.messages.sync_packet import SyncPacket
from sacn.messages.universe_discovery import UniverseDiscoveryPacket

from tests.output.namespace import ADDRESS, INTERFACE, Namespace, namespace
from tests.output.sacn_receiver import Discovery, Synchronisation, read
from tests.output.test_sacn_network import SOURCE, identity
from tests.tools import needed_tool

TARGET = f"sacn,interface={INTERFACE},priority=120,name=Harröw,sync=7000"
PACKETS = 3
CAPTURED = PACKETS * 3 + 1 + 2 * 3
"""Two universes and their synchronisation with every packet, one list of universes, and their ends."""


def capture(network: Namespace, folder: Path, *options: str) -> list[dict[str, Any]]:
    """Return what tshark says of all that a source sent until its end."""
    dumpcap, tshark, file = needed_tool("dumpcap"), needed_tool("tshark"), folder / "sacn.pcapng"
    filtered = ("-i", INTERFACE, "-f", "udp", "-c", str(CAPTURED), "-w", str(file))
    capturing = network.start(dumpcap, *filtered)
    capturing.line_with("File: ")
    source = network.python(
        SOURCE, TARGET, "--universes", "1,300", "--packets", str(PACKETS), *options,
        environment={"XDG_STATE_HOME": str(folder)},
    )  # fmt: skip
    source.line_with("ended")
    capturing.line_with(f"Packets captured: {CAPTURED}")
    assert capturing.finish() == 0
    as_acn = ("--enable-heuristic", "acn", "-o", "acn.dmx_enable:TRUE")
    said = network.run(tshark, "-r", str(file), *as_acn, "-T", "json", "--no-duplicate-keys")
    return [one["_source"]["layers"] for one in json.loads(said)]


@pytest.fixture(scope="module", params=[False, True], ids=["for lamps", "rehearsal"])
def captured(
    request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory
) -> tuple[bool, str, list[dict[str, Any]]]:
    folder = tmp_path_factory.mktemp("captured")
    with namespace() as network:
        layers = capture(network, folder, *(["--rehearsal"] if request.param else []))
    return request.param, identity(folder), layers


Captured = tuple[bool, str, list[dict[str, Any]]]


def payload(layers: dict[str, Any]) -> bytes:
    return bytes.fromhex(layers["udp"]["udp.payload"].replace(":", ""))


def test_every_packet_goes_to_its_group_and_no_further_than_the_next_router(captured: Captured) -> None:
    """ANSI E1.31-2018, clause 9.1.1 and appendix A [source seen]."""
    _, _, packets = captured
    beat = ["239.255.0.1", "239.255.1.44", "239.255.27.88"]
    ends = ["239.255.0.1", "239.255.1.44"] * 3
    assert [one["ip"]["ip.dst"] for one in packets] == [*beat, "239.255.250.214", *beat, *beat, *ends]
    assert {(one["ip"]["ip.src"], one["ip"]["ip.ttl"], one["udp"]["udp.dstport"]) for one in packets} == {
        (ADDRESS, "1", "5568")
    }


def test_every_field_of_a_data_packet_is_as_meant(captured: Captured) -> None:
    """ANSI E1.31-2018, data packet and the end of a stream, octet table [source seen]."""
    is_rehearsal, cid, packets = captured
    heard = []
    for layers in (one for one in packets if "acn" in one):
        acn = layers["acn"]
        root = acn["acn.pdu"]
        frame = root["acn.pdu"]
        properties = frame["acn.pdu"]
        opening = (acn["acn.preamble_size"], acn["acn.postamble_size"], acn["acn.packet_identifier"])
        assert opening == ("16", "0", "ASC-E1.17")
        assert [layer["acn.pdu.length"] for layer in (root, frame, properties)] == ["622", "600", "523"]
        assert {layer["acn.pdu.flags"] for layer in (root, frame, properties)} == {"0x70"}
        assert (root["acn.protocol_id"], root["acn.cid"].replace("-", "")) == ("4", cid)
        named = (frame["acn.dmx_vector"], frame["acn.dmx.source_name"], frame["acn.dmx.priority"])
        assert named == ("2", "Harröw", "120")
        assert frame["acn.dmx.reserved"] == "7000", "the synchronisation address, reserved in the edition of 2009"
        layout = [properties[f"acn.dmx.{name}"] for name in ("first_property_address", "increment", "count")]
        assert (properties["acn.dmp_vector"], layout) == ("2", ["0", "1", "513"])
        assert properties["acn.dmx.start_code2"] == "0"
        options = frame["acn.dmx.options_tree"]
        ends = options["acn.dmx.option_s"] == "1"
        assert options["acn.dmx.option_p"] == str(int(is_rehearsal))
        assert int(frame["acn.dmx.options"]) == 0x80 * is_rehearsal | 0x40 * ends | 0x20
        heard.append((int(frame["acn.dmx.universe"]), int(frame["acn.dmx.seq_number"]), ends))
        assert payload(layers)[126:] == bytes([min(heard[-1][1], PACKETS - 1)]) * 512
    sent = [(number, False) for number in range(PACKETS)] + [(PACKETS + number, True) for number in range(3)]
    assert heard == [(universe, *one) for one in sent for universe in (1, 300)]


def test_every_field_of_a_synchronisation_packet_is_as_meant(captured: Captured) -> None:
    """ANSI E1.31-2018, synchronisation packet [source seen]."""
    _, cid, packets = captured
    heard = [payload(one) for one in packets if one["ip"]["ip.dst"] == "239.255.27.88"]
    assert [read(one) for one in heard] == [Synchronisation(cid, number, 7000) for number in range(PACKETS)]
    for number, one in enumerate(heard):
        theirs = SyncPacket.make_sync_packet(list(one))
        assert (bytes(theirs.cid).hex(), theirs.syncAddr, theirs.sequence) == (cid, 7000, number)
        assert one[47:] == b"\0\0"


def test_every_field_of_a_discovery_packet_is_as_meant(captured: Captured) -> None:
    """ANSI E1.31-2018, universe discovery packet [source seen]; that 7000 is listed, too, is from memory."""
    _, cid, packets = captured
    (heard,) = [payload(one) for one in packets if one["ip"]["ip.dst"] == "239.255.250.214"]
    assert read(heard) == Discovery(cid, "Harröw", 0, 0, (1, 300, 7000))
    theirs = UniverseDiscoveryPacket.make_universe_discovery_packet(list(heard))
    assert (bytes(theirs.cid).hex(), theirs.sourceName) == (cid, "Harröw")
    assert (theirs.page, theirs.lastPage, tuple(theirs.universes)) == (0, 0, (1, 300, 7000))
