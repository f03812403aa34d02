"""The serial line through Linux's own driver of a USB serial adapter, in an emulated machine.

Shown are the settings, the breaks and every byte that reached the adapter, and their order. Nothing here tells
how long a break or a mark lasts on a wire, nor would a break that cuts into the bytes before it be noticed: the
emulated adapter takes bytes at once.
"""

from __future__ import annotations

import re
import shutil
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest

from cuedeck.cli.main import main
from tests.conftest import GUEST_KERNEL
from tests.output.emulated.guest import TOLD_AFTER
from tests.output.emulated.initramfs import build
from tests.output.emulated.kernel import Kernel, find_kernel
from tests.output.emulated.machine import Run, lacking, run
from tests.output.emulated.trace import Event, Sent, sessions
from tests.tools import leave_out

pytestmark = pytest.mark.xdist_group("emulated machine")  # they share one, as it takes a while to start

PORT = "/dev/ttyUSB0"
SETTINGS = "250000 8N2"
"""ANSI E1.11-2008 (R2018), 4.1 [source seen]: 250 kbit/s, 8 data bits, 2 stop bits, no parity."""

SHOW = """\
cuedeck: 2
refresh: 40 Hz
slots: 512
rig:
  key: {type: two-tone 16-bit, address: 1.1}
  rim: {type: rgbw, address: 1.509}
looks:
  lit: {key: {level: -1 stop, colour: 4300 K}, rim: {red: 80 %, blue: 40 %}}
  dark: {everything: out}
shots:
  "1":
    length: 2.5 s
    cues:
      - {cue: 1, at: 200 ms, look: lit, fade: 1 s, curve: even stops}
      - {cue: 2, after: 1, wait: 200 ms, look: dark, fade: 800 ms, curve: even lightness}
"""


@dataclass(frozen=True)
class Way:
    """A way to make breaks: how it is asked for, and what comes before each packet."""

    target: str
    break_: tuple[Event, ...]


WAYS = {
    "line control": Way("serial:{port}", ("break on", "break off")),
    "zero byte": Way("serial:{port},break=baud", (Sent("90909 8N2", b"\0"),)),
}


@pytest.fixture(scope="module")
def kernel() -> Kernel:
    missing = lacking()
    found = None if missing else find_kernel(GUEST_KERNEL)
    if not missing and found is None:
        missing = f"there is no kernel with the driver under {GUEST_KERNEL}"
    if found is None:
        leave_out("an emulated adapter", f"{missing}; DEVELOPERS.md says what to install")
    return found


@pytest.fixture(scope="module")
def show(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("emulated") / "show"
    folder.mkdir()
    (folder / "show.yaml").write_text(SHOW)
    return folder


@pytest.fixture(scope="module")
def packets(show: Path) -> list[bytes]:
    """Every packet of the shot with its start code, as `cuedeck packets` renders it here."""
    out = show.parent / "packets.npz"
    assert main(["packets", str(show), "--out", str(out)]) == 0
    with np.load(out) as rendered:
        return [b"\0" + slots.tobytes() for slots in rendered["slots"][:, 0]]


@pytest.fixture(scope="module")
def ran(kernel: Kernel, show: Path) -> Run:
    """One run of the machine: the shot in each way, then the adapter pulled out under it."""
    targets = [way.target for way in WAYS.values()]
    busybox = shutil.which("busybox")
    assert busybox is not None
    initramfs = show.parent / "initramfs"
    initramfs.write_bytes(build(kernel, Path(busybox), show, targets))
    plays = [word for target in targets for word in ("play", target.format(port=PORT))]
    words = [str(show), *plays, "replug", targets[0].format(port=PORT)]
    try:
        return run(kernel.image, initramfs, show.parent, words)
    finally:
        initramfs.unlink()  # pytest would keep its 100 MB for days


def line_of(packets: list[bytes], way: Way) -> list[Event]:
    """Return what the adapter has to see of a shot."""
    return [event for packet in packets for event in (*way.break_, Sent(SETTINGS, packet))]


def test_the_shot_is_long_enough_and_changes(packets: list[bytes]) -> None:
    assert len(packets) == 101
    assert len(set(packets)) > 60


@pytest.mark.parametrize("way", WAYS)
def test_every_byte_reaches_the_adapter_at_250_000_8n2_after_a_break_of_its_own(
    ran: Run, packets: list[bytes], way: str
) -> None:
    number = list(WAYS).index(way)
    assert ran.said[number] == f"sent {len(packets)}"
    assert ran.sessions[number] == line_of(packets, WAYS[way])


def test_an_adapter_that_is_pulled_out_is_lost_in_words(ran: Run) -> None:
    running, lost = ran.said[len(WAYS) : len(WAYS) + 2]
    assert running == "running"
    # Which of the two the driver gives depends on whether it was waiting or writing when the adapter went.
    assert re.fullmatch(rf"lost: serial:{PORT} was lost: (input/output error|no such device)", lost)


def test_what_was_sent_before_it_was_pulled_out_was_whole(ran: Run, packets: list[bytes]) -> None:
    before = line_of(packets[:TOLD_AFTER], next(iter(WAYS.values())))
    assert ran.sessions[len(WAYS)][: len(before)] == before


def test_an_adapter_that_is_back_is_opened_again_and_sends_whole_packets(ran: Run, packets: list[bytes]) -> None:
    assert ran.said[-1] == f"sent {len(packets)}"
    assert ran.sessions[-1] == line_of(packets, next(iter(WAYS.values())))


def test_the_trace_is_read_in_order_with_the_settings_that_held_for_each_byte() -> None:
    trace = """\
usb_serial_handle_control dev 0:1 got control 0x4000, value 0x0
usb_serial_handle_control dev 0:1 got control 0x4004, value 0x8
usb_serial_set_data dev 0:1 parity N, data bits 8, stop bits 1
usb_serial_set_baud dev 0:1 baud rate 9600
usb_packet_state_change bus 0, port 1, ep 1, packet 0x10, state setup -> complete
usb_xhci_xfer_success 0x8: len 9
usb_packet_state_change bus 0, port 1, ep 2, packet 0x10, state setup -> complete
usb_xhci_xfer_success 0x8: len 1
usb_serial_set_baud dev 0:1 baud rate 250000
usb_packet_state_change bus 0, port 1, ep 2, packet 0x10, state setup -> complete
usb_xhci_xfer_success 0x8: len 2
usb_packet_state_change bus 0, port 1, ep 2, packet 0x10, state setup -> complete
usb_xhci_xfer_success 0x8: len 1
usb_serial_handle_control dev 0:1 got control 0x4004, value 0x4008
usb_serial_set_data dev 0:1 parity N, data bits 8, stop bits 1
usb_serial_handle_control dev 0:1 got control 0x4000, value 0x0
usb_serial_handle_control dev 0:1 got control 0x4004, value 0x1008
usb_serial_set_data dev 0:1 parity N, data bits 8, stop bits 2
"""
    assert sessions(trace, b"zabc") == [
        [Sent("9600 8N1", b"z"), Sent("250000 8N1", b"abc"), "break on"],
        ["break off"],
    ]
