"""Universe discovery of streaming ACN: what it says, and when (ANSI E1.31-2018, clauses 4.3, 6.4* and 8*).

A clause marked * is from memory. So is that a universe which only carries synchronisation is listed, too.
"""

from __future__ import annotations

import struct
from collections.abc import Iterable

from cuedeck.output.e131 import SacnSource, checked_universe, extended_packet, name_field, with_length

INTERVAL_NS = 10_000_000_000
"""E131_UNIVERSE_DISCOVERY_INTERVAL, appendix A."""
UNIVERSES_OF_A_PAGE = 512

_FRAMING_DISCOVERY = 0x00000002
"""VECTOR_E131_EXTENDED_DISCOVERY, appendix A*."""
_UNIVERSE_LIST = 0x00000001
"""VECTOR_UNIVERSE_DISCOVERY_UNIVERSE_LIST, appendix A*."""


def discovery_packets(source: SacnSource, universes: Iterable[int]) -> list[bytes]:
    """Return the packets that list the universes of a source, sorted, 512 to a page. Raises OutOfRange."""
    listed = sorted({checked_universe(universe) for universe in universes})
    starts = range(0, max(len(listed), 1), UNIVERSES_OF_A_PAGE)
    pages = [listed[start : start + UNIVERSES_OF_A_PAGE] for start in starts]
    return [_page(source, number, len(pages) - 1, page) for number, page in enumerate(pages)]


def _page(source: SacnSource, number: int, last: int, universes: list[int]) -> bytes:
    layer = struct.pack(f">IBB{len(universes)}H", _UNIVERSE_LIST, number, last, *universes)
    frame = struct.pack(">I64sI", _FRAMING_DISCOVERY, name_field(source.name), 0)
    return extended_packet(source, frame + with_length(layer))


class DiscoveryPace:
    """When the list is sent: every ten seconds, and once more in between where it has changed (clause 4.3)."""

    def __init__(self) -> None:
        self._sent_ns: int | None = None
        self._is_changed = False
        self._had_extra = False

    def change(self) -> None:
        """Take notice that the list is another one."""
        self._is_changed = True

    def is_due(self, now_ns: int) -> bool:
        """Return whether the list is to be sent now, and take it for sent."""
        if self._sent_ns is None or not 0 <= now_ns - self._sent_ns < INTERVAL_NS:
            self._sent_ns, self._had_extra = now_ns, False
        elif self._is_changed and not self._had_extra:
            self._had_extra = True
        else:
            return False
        self._is_changed = False
        return True
