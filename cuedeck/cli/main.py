"""The `cuedeck` command. Heavy imports wait inside the commands, so that help is quick."""

from __future__ import annotations

import argparse
import io
import os
import sys
from collections.abc import Sequence

from cuedeck import __version__
from cuedeck.cli import (
    bench,
    calibrate,
    check,
    exits,
    fixture,
    looks,
    migrate,
    move,
    new,
    open_show,
    packets,
    patch,
    ports,
    schema,
    sheet,
    shoot,
    step,
    takes,
)
from cuedeck.errors import Refusal

COMMANDS = (
    new,
    open_show,
    shoot,
    packets,
    step,
    sheet,
    move,
    check,
    looks,
    patch,
    calibrate,
    fixture,
    takes,
    schema,
    migrate,
    ports,
    bench,
)


def parser() -> argparse.ArgumentParser:
    """Return the parser of all commands."""
    top = argparse.ArgumentParser(
        prog="cuedeck",
        description="Lighting cues timed to a camera move and rendered to DMX-512 the same way every time.",
    )
    top.add_argument("--version", action="version", version=f"cuedeck {__version__}")
    commands = top.add_subparsers(title="commands", metavar="COMMAND")
    for command in COMMANDS:
        own = commands.add_parser(command.NAME, help=command.HELP, description=command.HELP)
        command.add_arguments(own)
        own.set_defaults(run=command.run)
    return top


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command line and return its exit code."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="replace")  # a terminal without the signs of a picture still gets the rest
    top = parser()
    options = top.parse_args(arguments)
    if "run" not in options:
        top.print_help(sys.stderr)
        return exits.USAGE
    try:
        code: int = options.run(options)
        sys.stdout.flush()
    except Refusal as refusal:
        say(f"cuedeck: {refusal}")
        return exits.WRONG
    except KeyboardInterrupt:
        say("cuedeck: stopped")
        return exits.STOPPED
    except BrokenPipeError:
        # The reader of a pipe has gone: nothing is left to say, not even at shutdown.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return exits.DONE
    except Exception as error:
        if os.environ.get("CUEDECK_DEBUG"):
            raise
        say(f"cuedeck: internal error, please report it: {type(error).__name__}: {error}")
        say("         CUEDECK_DEBUG=1 in the environment shows where it happened")
        return exits.INTERNAL
    return code


def say(text: str) -> None:
    """Tell the user something that is not data."""
    if sys.stderr is not None:
        print(text, file=sys.stderr)
