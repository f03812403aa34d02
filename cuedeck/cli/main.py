"""The `cuedeck` command. A command is imported when it is asked for, and for help not even argparse is."""

from __future__ import annotations

import errno
import io
import os
import sys
from collections.abc import Sequence
from contextlib import suppress
from importlib import import_module

from cuedeck import __version__
from cuedeck.cli import exits
from cuedeck.errors import Refusal, internal_error
from cuedeck.terminal import visible_output

COMMANDS: dict[str, str] = {
    "new": "make a show folder that runs at once, from flags or from questions",
    "open": "open a show in the terminal: build and rehearse its shots, dial in light, take them",
    "shoot": "take one take of a shot: count down, run it on the clock, record every packet",
    "packets": "render a shot offline to a .npz or .csv file of packets",
    "step": "hold the light of each camera frame in turn, for stop-motion: Enter, a timer or a word goes on",
    "player": "say what the player of a show does, or tell it: blackout, release, hold, stop, fire, start, reload,"
    " quit, resume",
    "sheet": "print the cues of a shot: time on set and on the screen, frame, timecode, axes, look and fade",
    "move": "print what the move of a shot is like: sample rate, gaps, peak speed and acceleration, noisy places",
    "check": "say what is wrong in a show: where, what, and what to write instead",
    "looks": "print what each look makes of each light: control value, stops, colour and Duv",
    "patch": "print the patch sheet: addresses, DIP switches, spare slots; or address the lights",
    "calibrate": "read a light with a meter, level by level, and write its dimmer curve into the show",
    "fixture": "show what is in a GDTF file, or import its fixture type into a show",
    "takes": "list the takes of a show, circle or reject one, write a note to it, export its packets; check or"
    " rescue the file",
    "timecode": "make timecode as sound (LTC) or as a MIDI file, or read it from one",
    "schema": "print the JSON Schema of show.yaml: with it an editor completes keys and marks mistakes",
    "migrate": "bring a show written by an older cuedeck to the newest version; the file as it was is kept beside it",
    "ports": "list the serial ports of this machine",
    "bench": "measure this machine and the player on it, beside their peers",
}
"""The help line of each. Its module is loaded when it is the one that was asked for."""


USAGE = "usage: cuedeck [-h] [--version] COMMAND ..."


HELP = f"""{USAGE}

Lighting cues timed to a camera move and rendered to DMX-512 the same way every time.

options:
    -h, --help  show this help; behind a command, that of the command
    --version   show the version of cuedeck

commands:
"""
COLUMNS = 78


def help_text() -> str:
    """Return what there is to ask for. Broken into lines here: what does that in the library loads half as long."""
    lines = []
    for name, text in COMMANDS.items():
        lines.append(f"    {name:9}")
        for word in text.split():
            if len(lines[-1]) + len(word) > COLUMNS:
                lines.append(" " * 13)
            lines[-1] += f" {word}"
    return HELP + "\n".join(lines)


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
    try:
        code = _run(sys.argv[1:] if arguments is None else list(arguments))
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
        say(f"cuedeck: {internal_error(error)}")
        say("         CUEDECK_DEBUG=1 in the environment shows where it happened")
        return exits.INTERNAL
    return code


def _run(words: list[str]) -> int:
    """Do what the words ask for; return the exit code."""
    name = words[0] if words else ""
    if name in ("-h", "--help", "--version"):
        print(f"cuedeck {__version__}" if name == "--version" else help_text())
        return exits.DONE
    if name not in COMMANDS:
        wrong = f"{USAGE}\ncuedeck: error: there is no command '{name}': write one of {', '.join(COMMANDS)}"
        say(wrong if words else help_text())
        return exits.USAGE
    import argparse

    command = import_module(f"cuedeck.cli.{'open_show' if name == 'open' else name}")
    parser = argparse.ArgumentParser(prog=f"cuedeck {name}", description=COMMANDS[name])
    command.add_arguments(parser)
    options, left = parser.parse_known_args(_with_show(name, words[1:]))
    if left := _taken_in(options, left):
        parser.error(f"unrecognized arguments: {' '.join(left)}")
    code: int = command.run(options)
    return code


def _with_show(name: str, words: list[str]) -> list[str]:
    """Put the current folder in where `takes` names none: argparse would take its action for the show."""
    if name == "takes":
        from cuedeck.cli.takes import ACTIONS, EXPORT

        if next((word for word in words if not word.startswith("-")), EXPORT) in ACTIONS:
            return [".", *words]
    return words


def _taken_in(options: object, left: list[str]) -> list[str]:
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
