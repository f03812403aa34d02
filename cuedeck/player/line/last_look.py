"""The look that was last on the line, in a small file: a player that is started after a killed one sends it on.

The file is mapped into memory and holds two records that are written in turn, each with a counter and a
checksum: whenever the process is killed, one of them is whole. What is written to it survives the process at
once, and a loss of power after `sync`.
"""

from __future__ import annotations

import json
import mmap
import struct
from contextlib import suppress
from dataclasses import asdict, dataclass, field
from itertools import count
from pathlib import Path
from typing import TYPE_CHECKING
from zlib import crc32

import numpy as np

from cuedeck.arrays import Slots
from cuedeck.folder.durable import replace_without_waiting, sync_folder
from cuedeck.output.base import Line, Output
from cuedeck.show.units import FULL_UNIVERSE

if TYPE_CHECKING:
    from cuedeck.output.outlet import Outlet

_HEAD = struct.Struct("<8sI")
_MAGIC = b"cuelook2"
_RECORD = struct.Struct("<QI")
"""A counter, and the checksum of it and the slots behind both."""
_MOST_HEADER_BYTES = 1_000_000


@dataclass(frozen=True, eq=False)
class Route:
    """Where packets go. It is kept with the look; one that is read from the file has no outlets yet."""

    targets: tuple[str, ...]
    """The outputs, as the user wrote them."""
    line: Line
    dark: Slots = field(repr=False)
    """What a blackout leaves, shape (universes, 512)."""
    stays_lit: bool = False
    """Whether a lamp is never below a level, so that packets are needed in the dark too."""
    outlets: tuple[Outlet, ...] = field(default=(), repr=False)
    asked: tuple[Output, ...] = field(default=(), repr=False)
    """For each outlet, its output as it is asked for now; one that was open already may be another."""


class LastLook:
    """The file while it is written. Only the thread that sends packets calls `keep`."""

    def __init__(self, path: Path, route: Route, slots: Slots) -> None:
        """Put a new file in the place of the one before, in one step, without waiting for the disk. Raises OSError."""
        self._path = path
        self._places, content = _laid_out(route)
        replace_without_waiting(path, content)
        with path.open("r+b") as file:
            self._memory: mmap.mmap | None = mmap.mmap(file.fileno(), 0)
        self._counter = count(1)
        self.keep(slots)

    def keep(self, slots: Slots) -> None:
        """Keep the look that would be on the line without a blackout, shape (universes, 512)."""
        if self._memory is None:
            return
        number = next(self._counter)
        # In turn, so that the one that is being written is never the only one. The slots go before their checksum:
        # a process that is killed in between leaves a record that is seen to be spoilt.
        start = self._places[number % 2]
        content = np.ascontiguousarray(slots).data  # no copy: it is written at once
        checksum = _checksum(number, content)
        self._memory[start + _RECORD.size : start + _RECORD.size + content.nbytes] = content
        _RECORD.pack_into(self._memory, start, number, checksum)

    def sync(self) -> None:
        """Bring it to the disk; waits for that."""
        memory = self._memory
        if memory is not None:
            with suppress(OSError, ValueError):  # closed meanwhile, or a disk that is full: the next one may succeed
                memory.flush()
                sync_folder(self._path.parent)

    def close(self) -> None:
        """Let go of the file and leave it; safe to call twice."""
        memory, self._memory = self._memory, None
        if memory is not None:
            memory.close()


def read_last_look(path: Path) -> tuple[Route, Slots] | None:
    """Return the route and the look that a file holds, or None where there is none or it is not whole."""
    try:
        content = path.read_bytes()
        magic, header_bytes = _HEAD.unpack_from(content)
        if magic != _MAGIC or header_bytes > _MOST_HEADER_BYTES:
            return None
        header = json.loads(content[_HEAD.size : _HEAD.size + header_bytes])
        line = Line(**{**header["line"], "universes": tuple(header["line"]["universes"])})
        if not line.universes or not all(0 < one < 64_000 for one in line.universes) or not 0 < line.refresh_hz < 1e4:
            return None
        size = len(line.universes) * FULL_UNIVERSE
        dark = _slots(content, _HEAD.size + header_bytes, size)
        records = [_record(content, place, size) for place in _places(header_bytes, size)]
        _, slots = max((one for one in records if one is not None), key=lambda one: one[0])
        return Route(tuple(header["targets"]), line, dark, header["stays_lit"] is True), slots
    except (OSError, ValueError, KeyError, TypeError, struct.error):
        return None


def _laid_out(route: Route) -> tuple[tuple[int, int], bytes]:
    """Return where the two records start, and the whole of a new file, without a look yet."""
    header = json.dumps({"targets": route.targets, "line": asdict(route.line), "stays_lit": route.stays_lit}).encode()
    places = _places(len(header), route.dark.size)
    content = _HEAD.pack(_MAGIC, len(header)) + header + route.dark.tobytes()
    return places, content.ljust(places[1] + _RECORD.size + route.dark.size, b"\0")


def _places(header_bytes: int, slots_bytes: int) -> tuple[int, int]:
    first = _HEAD.size + header_bytes + slots_bytes
    return first, first + _RECORD.size + slots_bytes


def _record(content: bytes, start: int, size: int) -> tuple[int, Slots] | None:
    number, checksum = _RECORD.unpack_from(content, start)
    slots = _slots(content, start + _RECORD.size, size)
    is_whole = number > 0 and checksum == _checksum(number, slots.tobytes())
    return (number, slots) if is_whole else None


def _slots(content: bytes, start: int, size: int) -> Slots:
    return np.frombuffer(content, np.uint8, size, start).reshape(-1, FULL_UNIVERSE).copy()


def _checksum(number: int, slots: bytes | memoryview) -> int:
    return crc32(slots, crc32(struct.pack("<Q", number)))
