"""The `cuedeck` command. Heavy imports wait inside the commands, so that help is quick."""

from __future__ import annotations

import argparse
import errno
import io
import os
import sys
from collections.abc import Sequence
from contextlib import suppress

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
    player,
    ports,
    schema,
    sheet,
    shoot,
    step,
    takes,
    timecode,
)
from cuedeck.errors import Refusal
from cuedeck.terminal import visible_output

COMMANDS = (
    new,
    open_show,
    shoot,
    packets,
    step,
    player,
    sheet,
    move,
    check,
    looks,
    patch,
    calibrate,
    fixture,
    takes,
    timecode,
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
    os.environ["PYTHON_COLORS"] = "0"  # from Python 3.14 on, argparse would write colours
    with visible_output():
        try:
            code = _code_of(arguments)
        except SystemExit:  # help was asked for, or the command was not understood
            if _output_is_lost():
                return exits.WRONG
            raise
        return code or exits.WRONG if _output_is_lost() else code


def _code_of(arguments: Sequence[str] | None) -> int:
    """Run the command, and say what stopped it; return its exit code."""
    top = parser()
    options, left = top.parse_known_args(_with_show(sys.argv[1:] if arguments is None else list(arguments)))
    if left := _taken_in(options, left):
        top.error(f"unrecognized arguments: {' '.join(left)}")
    if "run" not in options:
        top.print_help(sys.stderr)
        return exits.USAGE
    try:
        code: int = options.run(options)
    except Refusal as refusal:
        say(f"cuedeck: {refusal}")
        return exits.WRONG
    except KeyboardInterrupt:
        say("cuedeck: stopped")
        return exits.STOPPED
    except BrokenPipeError:
        return exits.DONE  # the reader of a pipe has gone
    except Exception as error:
        if isinstance(error, OSError) and _output_is_lost(error):
            return exits.WRONG
        if os.environ.get("CUEDECK_DEBUG"):
            raise
        say(f"cuedeck: internal error, please report it: {type(error).__name__}: {error}")
        say("         CUEDECK_DEBUG=1 in the environment shows where it happened")
        return exits.INTERNAL
    return code


def _with_show(words: list[str]) -> list[str]:
    """Put the current folder in where `takes` names none: argparse would take its action for the show."""
    if words[:1] == [takes.NAME]:
        first = next((word for word in words[1:] if not word.startswith("-")), takes.EXPORT)
        if first in takes.ACTIONS:
            return [takes.NAME, ".", *words[1:]]
    return words


def _taken_in(options: argparse.Namespace, left: list[str]) -> list[str]:
    """Give words their place that stand behind a flag, and return the others.

    argparse takes an argument that may be left out as left out where a flag comes before it.
    """
    for name in ("shot", "look", "word", "cue"):
        if left and not left[0].startswith("-") and getattr(options, name, "") is None:
            setattr(options, name, left[0])
            left = left[1:]
    return left


def _output_is_lost(raised: OSError | None = None) -> bool:
    """Whether standard output takes nothing more, such as on a full disk: that is told, and no more is tried.

    `raised` is what stopped the command: without buffers, it is all that is ever heard of a print that failed.
    """
    if sys.stdout is None:
        return False
    lost = raised if raised is not None and raised.errno == errno.ENOSPC and raised.filename is None else None
    try:
        sys.stdout.flush()
    except OSError as error:
        # What was not written is tried again at shutdown.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        lost = error
    if lost is None or isinstance(lost, BrokenPipeError):
        return False  # the reader of a pipe that has gone misses nothing
    from cuedeck.folder.durable import reason_and_cure

    say(f"cuedeck: standard output cannot be written: {'; '.join(reason_and_cure(lost))}")
    return True


def say(text: str) -> None:
    """Tell the user something that is not data."""
    if sys.stderr is not None:
        with suppress(OSError):
            print(text, file=sys.stderr)
