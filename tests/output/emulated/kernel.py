"""A Linux kernel with the driver of the adapter: the one that is installed, or one that was unpacked somewhere."""

from __future__ import annotations

import lzma
import os
import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

DRIVERS = ("xhci_pci", "ftdi_sio")
"""The host controller and the adapter; each names the modules that it needs."""


@dataclass(frozen=True)
class Kernel:
    """An image that can be started, and what belongs to it, by name with underscores."""

    image: Path
    module_files: dict[str, Path]
    built_in: frozenset[str]
    """What is part of the image and no module."""

    @property
    def has_drivers(self) -> bool:
        """Whether the drivers are there, in a form that can be read."""
        return all(driver in self.module_files or driver in self.built_in for driver in DRIVERS)

    def modules(self) -> dict[str, bytes]:
        """Return the modules that the drivers need and the drivers, in the order they must be loaded."""
        loaded: dict[str, bytes] = {}
        for driver in DRIVERS:
            self._load(driver, loaded)
        return loaded

    def _load(self, name: str, loaded: dict[str, bytes]) -> None:
        if name in loaded or name not in self.module_files:
            return
        content = _read(self.module_files[name])
        for needed in _needed(content):
            self._load(needed, loaded)
        loaded[name] = content


def find_kernel(root: Path) -> Kernel | None:
    """Return a kernel under a root (of the machine, or of an unpacked package) that has the drivers."""
    for image in sorted(root.glob("boot/vmlinuz-*"), reverse=True):
        version = image.name.removeprefix("vmlinuz-")
        for modules in (root / "lib/modules" / version, root / "usr/lib/modules" / version):
            kernel = Kernel(image, dict(_modules(modules)), frozenset(_built_in(modules)))
            if kernel.has_drivers and os.access(image, os.R_OK):  # some systems let only root read the kernel
                return kernel
    return None


def _modules(folder: Path) -> Iterator[tuple[str, Path]]:
    for path in folder.glob("kernel/drivers/**/*.ko*"):
        if path.suffix in (".ko", ".xz"):
            yield _name(path.name), path


def _built_in(folder: Path) -> Iterator[str]:
    listed = folder / "modules.builtin"
    if listed.is_file():
        yield from (_name(Path(line).name) for line in listed.read_text().splitlines())


def _name(file_name: str) -> str:
    return file_name.partition(".")[0].replace("-", "_")


def _read(path: Path) -> bytes:
    content = path.read_bytes()
    return lzma.decompress(content) if path.suffix == ".xz" else content


def _needed(module: bytes) -> list[str]:
    """Return what a module says that it depends on."""
    found = re.search(rb"\0depends=([^\0]*)\0", module)
    return found[1].decode().replace("-", "_").split(",") if found else []
