"""`cuedeck ports`: the serial ports of this machine."""

from __future__ import annotations

import argparse
import json

from cuedeck.cli import exits


def add_arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--json", action="store_true", help="print the list as JSON")


def run(options: argparse.Namespace) -> int:
    """Print what pyserial knows of each port."""
    from serial.tools.list_ports import comports

    rows = [
        {
            "port": port.device,
            "description": port.description,
            "manufacturer": port.manufacturer,
            "serial_number": port.serial_number,
            "usb_id": f"{port.vid:04x}:{port.pid:04x}" if port.vid is not None and port.pid is not None else None,
            "location": port.location,
        }
        for port in sorted(comports())
    ]
    if options.json:
        print(json.dumps(rows, indent=2))
    elif not rows:
        print("no serial port was found: plug the interface in, and see hardware-notes.md for drivers and permissions")
    for row in rows if not options.json else []:
        known = {key: value for key, value in row.items() if key != "port" and value not in (None, "", "n/a")}
        print(f"serial:{row['port']}")
        for key, value in known.items():
            print(f"    {key.replace('_', ' ')}: {value}")
    return exits.DONE
