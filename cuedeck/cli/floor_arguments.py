"""What a take may listen to, as arguments: apart from `floor`, so that help need not load it."""

from __future__ import annotations

import argparse


def add_floor(parser: argparse.ArgumentParser) -> None:
    """Add the arguments that say what a take listens to."""
    parser.add_argument("--contacts", metavar="PORT", help="the serial port of the shot's trigger and signal lines")
    parser.add_argument("--osc", action="store_true", help="listen to OSC messages, as the show's 'osc:' says")
    parser.add_argument(
        "--arm", action="store_true", help="hold the first packet until /cuedeck/start comes or a contact starts"
    )
    parser.add_argument(
        "--axis-from",
        metavar="SOURCE",
        help="fire the cues tied to positions by the rig itself: osc, serial:PORT or serial:PORT,baud=N",
    )
