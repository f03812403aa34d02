"""`cuedeck bench`: measurements on this machine, peers side by side."""

from __future__ import annotations

import argparse

from cuedeck.cli import exits

NAME = "bench"
HELP = "measure this machine: start, opening a show, offline rendering, timecode, streaming ACN, beside their peers"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of this command: it has none."""


def run(_: argparse.Namespace) -> int:
    """Print each measurement as it is done."""
    from cuedeck.bench import load, ltc, render, sacn, start

    for measure in (start.report, load.report, render.report, ltc.report, sacn.report):
        print(measure(), flush=True)
    return exits.DONE
