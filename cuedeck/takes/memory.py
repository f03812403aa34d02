"""The blocks of a take in memory: those that the log does not have yet, and those it has, as long as there is room."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterable, Set
from itertools import islice

from cuedeck.takes.blocks import Block


class Memory:
    """Blocks by their first packets. From any thread."""

    def __init__(self, most_bytes: int) -> None:
        self._most_bytes = most_bytes
        self._waiting: dict[int, Block] = {}
        self._written: dict[int, Block] = {}
        self._bytes = 0
        self._using = threading.Lock()
        self.waiting_packets = 0
        """Packets that the log does not have yet."""
        self.lacks_some = False
        """Whether blocks were forgotten that only the second file has."""

    def add(self, block: Block) -> None:
        """Take a block that the log does not have."""
        with self._using:
            self._waiting[block.first] = block
            self._bytes += block.size
            self.waiting_packets += block.count

    def waiting(self, most: int | None = None) -> list[Block]:
        """Return blocks that the log does not have, the oldest first."""
        with self._using:
            return list(islice(self._waiting.values(), most))

    def all(self) -> list[Block]:
        with self._using:
            return [block for _, block in sorted({**self._written, **self._waiting}.items())]

    def are_written(self, blocks: Iterable[Block]) -> None:
        with self._using:
            for block in blocks:
                if self._waiting.pop(block.first, None) is not None:
                    self._written[block.first] = block
                    self.waiting_packets -= block.count

    def log_has(self, firsts: Set[int]) -> None:
        """Note which blocks the log has, and that it has no others."""
        with self._using:
            every = sorted({**self._written, **self._waiting}.items())
            self._written = {first: block for first, block in every if first in firsts}
            self._waiting = {first: block for first, block in every if first not in firsts}
            self.waiting_packets = sum(block.count for block in self._waiting.values())

    def make_room(self, is_safe: Callable[[Block], bool]) -> list[Block]:
        """Forget blocks where there are too many: of those the log has, then of those that are safe elsewhere.

        Returns the newest ones that had to go although they are nowhere else.
        """
        if self._bytes <= self._most_bytes:
            return []
        with self._using:
            self._forget(self._written, list(self._written.values()))
            self._forget(self._waiting, safe := [block for block in self._waiting.values() if is_safe(block)])
            self.lacks_some = self.lacks_some or any(block.first not in self._waiting for block in safe)
            before = list(self._waiting.values())
            self._forget(self._waiting, before[::-1])
            lost = [block for block in before if block.first not in self._waiting and block not in safe]
            self.waiting_packets = sum(block.count for block in self._waiting.values())
            return lost

    def _forget(self, blocks: dict[int, Block], in_turn: list[Block]) -> None:
        for block in in_turn:
            if self._bytes <= self._most_bytes:
                return
            self._bytes -= blocks.pop(block.first).size
