"""The receiver of the general `sacn` library as a process of its own: a line of JSON for each change.

python -m tests.output.sacn_library_receiver ADDRESS UNIVERSE...
"""

from __future__ import annotations

import json
import sys
import threading

import sacn

_say = threading.Lock()


def tell(**facts: object) -> None:
    """Write a line."""
    with _say:
        print(json.dumps(facts), flush=True)


def main() -> None:
    """Listen until standard input ends."""
    address, *universes = sys.argv[1:]
    receiver = sacn.sACNreceiver(bind_address=address)  # on Linux: the interface on which it joins groups
    for universe in map(int, universes):
        receiver.register_listener(
            "universe",
            lambda packet: tell(
                universe=packet.universe,
                cid=bytes(packet.cid).hex(),
                name=packet.sourceName,
                priority=packet.priority,
                level=packet.dmxData[0],
            ),
            universe=universe,
        )
    receiver.register_listener("availability", lambda universe, changed: tell(universe=universe, changed=changed))
    receiver.start()
    for universe in map(int, universes):
        receiver.join_multicast(universe)
    print("ready", flush=True)
    sys.stdin.read()
    receiver.stop()


if __name__ == "__main__":
    main()
