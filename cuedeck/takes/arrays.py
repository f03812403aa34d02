"""Packets as files for others to read: NumPy arrays or a table. The same bytes for the same packets.

An .npz holds `time_s` (packets,), `slots` (packets, universes, 512) uint8 and `universes` (universes,),
the names of the universes. A .csv has a line a packet: the time, then a column for each slot, named universe.slot.
Where packets followed timecode, `packet` (packets,) or a column of that name says which of the shot each was.
An .npz of recorded packets also holds `due_ns` and `sent_ns` (packets,): when each was due and when it left, counted
from when the first was due.
"""

from __future__ import annotations

import io
import zipfile
from collections.abc import Callable, Iterable, Sequence
from pathlib import Path
from typing import IO

import numpy as np

from cuedeck.arrays import Numbers, Slots, Values
from cuedeck.errors import Refusal
from cuedeck.folder.durable import replacing
from cuedeck.show.units import FULL_UNIVERSE
from cuedeck.takes.times import PacketTimes

Blocks = Callable[[], Iterable[Slots]]
"""Yields the slots in order, each block (packets, universes, 512); called once a pass over the data."""

_EPOCH = (1980, 1, 1, 0, 0, 0)


class CannotWrite(Refusal):
    """A file that cannot be written. The message says why."""


def write_packets(
    path: Path,
    times_s: Values,
    universes: Sequence[int],
    blocks: Blocks,
    carried: Numbers | None = None,
    times: PacketTimes | None = None,
) -> None:
    """Write packets to a .npz or .csv file, whole or not at all. Raises CannotWrite.

    `carried` are the numbers of the shot's packets, where they are others than 0, 1, 2 and so on. `times` are for
    an .npz; a .csv is what the shot renders to, and the same for every take of it.
    """
    kind = path.suffix.lower()
    if kind not in (".npz", ".csv"):
        raise CannotWrite(f"'{path.name}' is neither .npz nor .csv: name the file FILE.npz or FILE.csv")
    try:
        with replacing(path) as file:
            if kind == ".csv":
                _write_csv(file, times_s, universes, blocks, carried)
            else:
                _write_npz(file, times_s, universes, blocks, carried, times)
    except OSError as error:
        raise CannotWrite(f"'{path}' cannot be written: {(error.strerror or str(error)).lower()}") from error


def _write_npz(
    file: IO[bytes],
    times_s: Values,
    universes: Sequence[int],
    blocks: Blocks,
    carried: Numbers | None,
    times: PacketTimes | None,
) -> None:
    shape = (len(times_s), len(universes), FULL_UNIVERSE)
    arrays = {"time_s": times_s, "universes": np.array([str(one) for one in universes])}
    if carried is not None:
        arrays["packet"] = carried
    if times is not None:
        arrays |= times.from_first_due()._asdict()
    with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, array in arrays.items():
            content = io.BytesIO()
            np.lib.format.write_array(content, array, allow_pickle=False)
            archive.writestr(zipfile.ZipInfo(f"{name}.npy", _EPOCH), content.getvalue(), zipfile.ZIP_DEFLATED)
        entry = zipfile.ZipInfo("slots.npy", _EPOCH)
        entry.compress_type = zipfile.ZIP_DEFLATED
        with archive.open(entry, "w", force_zip64=True) as out:
            header = {"descr": "|u1", "fortran_order": False, "shape": shape}
            np.lib.format.write_array_header_1_0(out, header)
            for block in blocks():
                out.write(np.ascontiguousarray(block).tobytes())


def _write_csv(
    file: IO[bytes], times_s: Values, universes: Sequence[int], blocks: Blocks, carried: Numbers | None
) -> None:
    names = [f"{universe}.{slot}" for universe in universes for slot in range(1, FULL_UNIVERSE + 1)]
    firsts = ["time_s"] if carried is None else ["time_s", "packet"]
    file.write((",".join([*firsts, *names]) + "\n").encode())
    row = 0
    for block in blocks():
        for packet in block.reshape(len(block), -1).tolist():
            of_shot = "" if carried is None else f"{carried[row]},"
            file.write(f"{float(times_s[row])!r},{of_shot}{','.join(map(str, packet))}\n".encode())
            row += 1
