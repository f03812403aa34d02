"""The memory that the emulated machine starts from: this interpreter, cuedeck, a show, busybox and the drivers.

Playing the shot once on this machine, against a pseudo-terminal, shows which files it takes; each goes into
the machine under the path that it has here.
"""

from __future__ import annotations

import encodings
import os
import re
import subprocess
import sys
from collections.abc import Iterable
from pathlib import Path

from tests.output.emulated.archive import Archive
from tests.output.emulated.kernel import Kernel
from tests.output.ports import Pty

ROOT = Path(__file__).parents[3]
INTERPRETER = Path(sys.executable).resolve()
SEARCHED = ":".join(dict.fromkeys([str(ROOT), *(path for path in sys.path if path.endswith("-packages"))]))
TELLS = "/dev/ttyS1"
"""What the program in the machine says; its first port is the console."""

INIT = """\
#!/bin/busybox sh
/bin/busybox mount -t devtmpfs none /dev
/bin/busybox mount -t proc none /proc
/bin/busybox mount -t sysfs none /sys
for module in {modules}; do /bin/busybox insmod /modules/$module; done
export PYTHONPATH={searched}
cd {root}
{interpreter} -S -B -m tests.output.emulated.guest "$@" >{tells}
echo "ended with $?" >{tells}
/bin/busybox poweroff -f
"""


def build(kernel: Kernel, busybox: Path, show: Path, targets: Iterable[str]) -> bytes:
    """Return the archive. The targets are all that the machine will be asked for, with {port} for the port."""
    archive = Archive()
    for folder in ("/dev", "/proc", "/sys", "/tmp"):  # noqa: S108 - folders of the other machine
        archive.add_folder(folder)
    archive.add("/bin/busybox", busybox.read_bytes())
    modules = kernel.modules()
    for name, content in modules.items():
        archive.add(f"/modules/{name}", content)
    for path in sorted({*_needed_files(show, targets), *_libraries_of(busybox), *map(str, show.iterdir())}):
        archive.add_copy(path)
    init = INIT.format(modules=" ".join(modules), searched=SEARCHED, root=ROOT, interpreter=INTERPRETER, tells=TELLS)
    archive.add("/init", init.encode())
    return archive.to_bytes()


def _needed_files(show: Path, targets: Iterable[str]) -> set[str]:
    needed = {str(INTERPRETER), *map(str, Path(encodings.__file__).parent.glob("*.py"))}
    for target in targets:
        with Pty() as pty:
            needed.update(_inventory(show, target.format(port=pty.port)))
    return needed | _libraries_of(INTERPRETER, *(path for path in needed if path.endswith(".so")))


def _inventory(show: Path, target: str) -> list[str]:
    listed = subprocess.run(
        [INTERPRETER, "-S", "-m", "tests.output.emulated.inventory", show, target],
        cwd=ROOT,
        env={"PYTHONPATH": SEARCHED},
        capture_output=True,
        text=True,
        check=False,
        timeout=120,
    )
    assert listed.returncode == 0, listed.stderr
    return listed.stdout.splitlines()


def _libraries_of(*programs: str | Path) -> set[str]:
    """Return the libraries that programs and libraries are linked with; a static one has none."""
    listed = subprocess.run(["ldd", *programs], capture_output=True, text=True, check=False, timeout=120).stdout
    return {os.path.normpath(path) for path in re.findall(r"(/\S+) \(0x", listed)}
