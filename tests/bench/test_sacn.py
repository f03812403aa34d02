"""What is compared is the same: every sender of the benchmark sends every universe with every packet."""

from __future__ import annotations

import pytest

from cuedeck.bench.sacn import SENDERS, UNIVERSES
from tests.output.sacn_receiver import Data, read
from tests.output.udp import UdpPort

BARE = "bare loop"


@pytest.mark.parametrize("name", SENDERS)
def test_a_sender_sends_every_universe_with_every_packet(name: str) -> None:
    with UdpPort() as far, SENDERS[name](far.number) as beat:
        for number in range(40):
            beat(number)
            heard = [read(one) for one in far.read(UNIVERSES + (name == "cuedeck"))]
            data = [one for one in heard if isinstance(one, Data)]
            assert [one.universe for one in data] == list(range(1, UNIVERSES + 1))
            assert {one.slots for one in data} == {bytes([0 if name == BARE else number]) * 512}
            assert far.is_empty()
