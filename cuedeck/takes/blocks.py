"""A block: packets of a take that are written to the log at once, with a digest over all that is written.

The invariant owned here: what is read of a block is what was written, or it is refused. Sizes are judged before
anything is unpacked.
"""

from __future__ import annotations

import hashlib
import zlib
from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from cuedeck.arrays import Numbers, Slots
from cuedeck.show.units import FULL_UNIVERSE
from cuedeck.takes.times import from_blob, to_blob

COLUMNS = "first, numbers, due_ns, sent_ns, slots, carried, digest"
_MOST_PACKETS = 100_000
"""Of a block: it holds a fraction of a second."""
_LARGEST = 2**53


class Packets(NamedTuple):
    numbers: Numbers
    due_ns: Numbers | None
    """None where an older cuedeck did not keep it."""
    sent_ns: Numbers
    slots: Slots
    """Shape (packets, universes, 512)."""
    carried: Numbers | None
    """Which packets of the shot they were; None where those of their numbers."""


@dataclass(frozen=True)
class Block:
    first: int
    numbers: bytes
    due_ns: bytes | None
    sent_ns: bytes
    slots: bytes
    carried: bytes | None
    digest: bytes | None

    @property
    def count(self) -> int:
        return len(self.numbers) // 8

    @property
    def last(self) -> int:
        return int.from_bytes(self.numbers[-8:], "little", signed=True)

    @property
    def size(self) -> int:
        """How many bytes it takes."""
        return sum(len(part or b"") for part in self.parts)

    @property
    def parts(self) -> tuple[bytes | None, ...]:
        """What the digest is over."""
        return self.numbers, self.due_ns, self.sent_ns, self.slots, self.carried

    @property
    def row(self) -> tuple[object, ...]:
        return (self.first, *self.parts, self.digest)


def block_of(
    numbers: Sequence[int], due_ns: Sequence[int], sent_ns: Sequence[int], slots: Slots, carried: Sequence[int] = ()
) -> Block:
    """Return the block of some packets; `carried` only where those are not the ones of their numbers."""
    packed = zlib.compress(np.ascontiguousarray(slots).tobytes(), 1)
    of_shot = to_blob(carried) if carried else None
    parts = (to_blob(numbers), to_blob(due_ns), to_blob(sent_ns), packed, of_shot)
    return Block(numbers[0], *parts, digest_of(parts))


def digest_of(parts: Sequence[bytes | None]) -> bytes:
    """Return the SHA-256 of the parts of a block, each with its length before it, 8 bytes, the lowest first."""
    total = hashlib.sha256()
    for part in parts:
        total.update((len(part or b"")).to_bytes(8, "little"))
        total.update(part or b"")
    return total.digest()


def block_in(row: Sequence[object]) -> Block:
    """Return the block of a row of the log. Raises ValueError where it is none."""
    first, numbers, due_ns, sent_ns, slots, carried, digest = row
    if type(first) is not int or not 0 <= first < _LARGEST:
        raise ValueError("a block of packets has no number")
    must = (numbers, sent_ns, slots)
    if not all(isinstance(one, bytes) for one in must):
        raise ValueError(f"the block of packet {first} is not whole")
    if not all(one is None or isinstance(one, bytes) for one in (due_ns, carried, digest)):
        raise ValueError(f"the block of packet {first} holds what is no bytes")
    block = Block(first, numbers, due_ns, sent_ns, slots, carried, digest)  # type: ignore[arg-type]
    if digest is not None and digest != digest_of(block.parts):
        raise ValueError(f"the block of packet {first} is not what was written: its digest is another")
    return block


def packets_in(block: Block, universes: int) -> Packets:
    """Return the packets of a block. Raises ValueError where it does not hold what it should."""
    of_numbers = [one for one in (block.numbers, block.due_ns, block.sent_ns, block.carried) if one is not None]
    count = block.count
    if not 0 < count <= _MOST_PACKETS or any(len(one) != 8 * count for one in of_numbers):
        raise ValueError(f"the block of packet {block.first} has lists of different lengths")
    numbers = from_blob(block.numbers)
    if numbers[0] != block.first or (np.diff(numbers) <= 0).any() or numbers[-1] >= _LARGEST:
        raise ValueError(f"the block of packet {block.first} has its packets out of order")
    expected = count * universes * FULL_UNIVERSE
    unpacking = zlib.decompressobj()
    try:
        slots = unpacking.decompress(block.slots, expected + 1)
    except zlib.error as error:
        raise ValueError(f"the slots of the block of packet {block.first} cannot be unpacked") from error
    if len(slots) != expected or not unpacking.eof:
        raise ValueError(f"the block of packet {block.first} holds another number of slots than its packets have")
    due_ns, carried = (None if one is None else from_blob(one) for one in (block.due_ns, block.carried))
    shaped = np.frombuffer(slots, dtype=np.uint8).reshape(count, universes, FULL_UNIVERSE)
    return Packets(numbers, due_ns, from_blob(block.sent_ns), shaped, carried)
