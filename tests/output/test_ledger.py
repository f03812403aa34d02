"""The numbers of a ledger, where one thread hands packets over while another looks."""

from __future__ import annotations

import pytest

from cuedeck.output.ledger import Handed, Ledger
from tests.output.ports import FULL, packet


class Busy(Ledger):
    """One that is handed a packet at the worst moment: between two looks of a reader."""

    def __init__(self) -> None:
        super().__init__("busy")
        self.is_busy = False

    @property  # type: ignore[override]
    def handed(self) -> Handed:
        handed = self._newest
        if self.is_busy:
            self._newest = Handed(handed.number + 1, packet(handed.number), FULL.universes)
        return handed

    @handed.setter
    def handed(self, handed: Handed) -> None:
        self._newest = handed


@pytest.mark.parametrize("packets", [0, 1, 5])
def test_no_packet_counts_as_missed_while_another_is_handed_over(packets: int) -> None:
    ledger = Busy()
    ledger.resume()
    for number in range(packets):
        ledger.hand_over(packet(number), FULL.universes)
        assert ledger.take(FULL, FULL) is not None
        ledger.left(number)
    ledger.is_busy = True
    for _ in range(3):
        assert ledger.tally(packets).missed >= 0
        assert ledger.tally(packets).sent == packets
