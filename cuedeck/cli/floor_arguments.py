"""What a take may listen to, as arguments: apart from `floor`, so that help need not load it."""

from __future__ import annotations

import argparse


def add_floor(parser: argparse.ArgumentParser) -> None:
    """Add the arguments that say what a take listens to."""
    parser.add_argument("--contacts", metavar="PORT", help="the serial port of the shot's trigger and signal lines")
    parser.add_argument(
        "--osc",
        action="store_true",
        help="listen to OSC messages, as the show's 'osc:' says; addresses are"
        " no patterns, and the time tags of bundles are not honoured: messages act when they arrive",
    )
    parser.add_argument(
        "--arm", action="store_true", help="hold the first packet until /cuedeck/start comes or a contact starts"
    )
    parser.add_argument(
        "--wait",
        action="store_true",
        help="go on past the length of the shot until every operator cue was fired, by whoever it is; without it, a"
        " take that has no keyboard ends at its length",
    )
    parser.add_argument(
        "--axis-from",
        metavar="SOURCE",
        help="fire the cues tied to positions by the rig itself: osc, serial:PORT or serial:PORT,baud=N",
    )
