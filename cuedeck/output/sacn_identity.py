"""The CID of this installation: its identity on the network, made once and kept (ANSI E1.31-2018, root layer).

Receivers tell sources apart by it, and recognise a source that comes back.
"""

from __future__ import annotations

import contextlib
import os
import socket
from pathlib import Path
from uuid import UUID, uuid4

from cuedeck.folder.durable import discard, make_folder, sync_folder, write_beside

CID_FILE = "sacn-cid"


def own_cid() -> UUID:
    """Return the CID of this installation, from the folder where the system keeps the state of programs."""
    from platformdirs import user_state_path

    return kept_cid(user_state_path("cuedeck"))


def kept_cid(folder: Path) -> UUID:
    """Return the CID that a folder keeps, made where there is none: two processes at once get the same.

    Where it cannot be kept, on a full or a read-only disk, it is one for this process only.
    """
    path = folder / CID_FILE
    fresh = uuid4()
    with contextlib.suppress(OSError):
        if _read(path) is None:
            make_folder(folder)
            _put(path, fresh)
    return _read(path) or fresh


def default_source_name() -> str:
    """Return the name that receivers show where none was given."""
    return f"cuedeck {socket.gethostname()}".strip()


def _read(path: Path) -> UUID | None:
    """Return the CID in a file, None where there is none or it is damaged."""
    try:
        return UUID(path.read_text(encoding="ascii").strip())
    except (OSError, ValueError):
        return None


def _put(path: Path, cid: UUID) -> None:
    """Put a CID where there is none: whoever comes first stays. Raises OSError."""
    beside = write_beside(path, f"{cid}\n".encode("ascii"), None)
    try:
        # In this order: a file that was linked after the question would be whole.
        if path.exists() and _read(path) is None:
            beside.replace(path)
        else:
            _link(beside, path)
        sync_folder(path.parent)
    finally:
        discard(beside)


def _link(beside: Path, path: Path) -> None:
    """Give a complete file its name, unless that is taken by now."""
    try:
        os.link(beside, path)
    except FileExistsError:
        pass
    except OSError:  # a file system without links
        beside.replace(path)
