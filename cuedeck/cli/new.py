"""`cuedeck new`: a show folder that runs at once, from flags or from questions."""

from __future__ import annotations

import argparse

NAME = "new"
HELP = "make a show folder that runs at once, from flags or from questions"
COMMON_TYPE = "two-tone 16-bit"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of this command."""
    parser.description = f"{HELP}; at a terminal it asks for what the flags leave out"
    parser.set_defaults(misused=parser.error)
    parser.add_argument("name", metavar="NAME", nargs="?", help="the folder to make")
    parser.add_argument("--title", metavar="TEXT", help="what is filmed")
    parser.add_argument("--fps", metavar="RATE", help="frames a second of the camera (25)")
    parser.add_argument("--hertz", metavar="HERTZ", help="of the mains, 50 or 60 (50)")
    lights = parser.add_mutually_exclusive_group()
    lights.add_argument("--light", metavar="NAME=TYPE", action="append", help="a light and its type; may be repeated")
    lights.add_argument("--lights", metavar="NUMBER", help=f"so many lights of type {COMMON_TYPE} (3)")
    parser.add_argument("--slider", metavar="LENGTH", nargs="+", help="how far the slider goes, or none (340 mm)")
    parser.add_argument("--turn", metavar="ANGLE", nargs="+", help="how far the turntable goes, or none (none)")
    parser.add_argument("--seconds", metavar="TIME", nargs="+", help="how long the move takes, also as 2 min (4)")
    parser.add_argument("--defaults", action="store_true", help="ask nothing")


def run(options: argparse.Namespace) -> int:
    """Make the folder, or say what is in its way."""
    from cuedeck.cli.new_show import make

    return make(options)
