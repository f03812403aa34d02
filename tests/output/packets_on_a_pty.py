"""Three packets on a pseudo-terminal, sent by a process of its own so that its system calls can be recorded.

python -m tests.output.packets_on_a_pty [BREAK_BAUD]
"""

from __future__ import annotations

import sys

from cuedeck.clock import ManualClock
from cuedeck.output.base import Line
from cuedeck.output.serial_line import SerialLine
from tests.output.ports import Pty, packet

if __name__ == "__main__":
    with Pty() as pty:
        output = SerialLine(pty.port, ManualClock(), break_baud=int(sys.argv[1]) if sys.argv[1:] else None)
        output.open(Line((1,), 24, 44.0))
        print("opened", flush=True)
        for number in range(3):
            output.send(packet(number))
        output.close()
