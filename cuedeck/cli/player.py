"""`cuedeck player`: what the player of a show does, and the few words that can be said to it from a second terminal."""

from __future__ import annotations

import argparse
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING

from cuedeck.cli import exits
from cuedeck.cli.player_client import add_take_over
from cuedeck.cli.shows import add_show
from cuedeck.errors import Refusal

if TYPE_CHECKING:
    from cuedeck.player.client import PlayerClient
    from cuedeck.player.messages import AnyRequest, Snapshot

NAME = "player"
WORDS = ("status", "blackout", "release", "hold", "stop", "fire", "start", "reload", "quit", "resume")
HELP = f"say what the player of a show does, or tell it: {', '.join(WORDS[1:])}"
LONGEST_WAIT_S = 2.0
TAKES_EFFECT_S = 0.4
"""How long to look on after something was asked: until the packet after it at a low refresh."""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of this command."""
    add_show(parser)
    parser.add_argument("word", metavar="WORD", nargs="?", choices=WORDS, default="status", help=", ".join(WORDS))
    parser.add_argument("cue", metavar="CUE", nargs="?", help="behind fire: which cue; left out, the next one")
    add_take_over(parser)
    parser.epilog = (
        "blackout stays until release; release lets go of the blackout, else of the shot that is held, else of the"
        " look that stands on the line (a lamp that is 'never below' a level stays there, until it is released once"
        " more); reload reads the show again; quit puts the light out and ends the player; resume starts another with"
        " the last look of one that was killed."
    )


def run(options: argparse.Namespace) -> int:
    """Say it to the player, and print what it does then."""
    from cuedeck.folder.folder import ShowFolder
    from cuedeck.player.messages import Control

    if options.cue is not None and options.word != "fire":
        raise Refusal(f"'{options.word}' takes nothing behind it")
    folder = ShowFolder(options.show).path
    client = _resumed(folder) if options.word == "resume" else _found(folder)
    try:
        if options.take_over:
            client.ask(Control())
        if options.word not in ("status", "resume"):
            client.ask(_request(options))
        if options.word == "quit":
            print("the player lets go of the light and ends")
        else:
            for label, text in _lines(_newest(client)):
                print(f"{label:9} {text}")
    finally:
        client.close()
    return exits.DONE


def _found(folder: Path) -> PlayerClient:
    from cuedeck.player.client import find_player

    client = find_player(folder)
    if client is None and _left_look(folder):
        raise Refusal(
            f"no player of {folder} runs; one that was killed left a look:"
            f" 'cuedeck player {folder} resume' sends it on, 'shoot' and 'open' begin without it"
        )
    if client is None:
        raise Refusal(f"no player of {folder} runs: 'shoot' and 'open' start one")
    return client


def _left_look(folder: Path) -> bool:
    from cuedeck.player.whereabouts import Whereabouts

    return Whereabouts.of(folder).last_look.exists()


def _resumed(folder: Path) -> PlayerClient:
    from cuedeck.player.client import find_player, start_player

    client = find_player(folder)
    if client is not None:
        client.close()
        raise Refusal(f"a player of {folder} runs: there is nothing to resume")
    if not _left_look(folder):
        raise Refusal(f"no player of {folder} left a look: there is nothing to resume")
    return start_player(folder, resume=True)


def _request(options: argparse.Namespace) -> AnyRequest:
    from cuedeck.player import messages

    requests: dict[str, Callable[[], AnyRequest]] = {
        "blackout": messages.Blackout,
        "release": messages.Release,
        "hold": messages.Hold,
        "stop": messages.Stop,
        "fire": lambda: messages.Fire(cue=options.cue),
        "start": messages.Start,
        "reload": messages.Reload,
        "quit": messages.Quit,
    }
    return requests[options.word]()


def _newest(client: PlayerClient) -> Snapshot:
    """Return how everything stands after what was asked. Raises PlayerLost."""
    if client.snapshot is None:
        client.next(LONGEST_WAIT_S)
    end_s = time.monotonic() + TAKES_EFFECT_S
    while (left_s := end_s - time.monotonic()) > 0:
        client.next(left_s)
    snapshot = client.snapshot
    if client.is_silent:
        raise client.silent
    if snapshot is None:
        raise Refusal("the player says nothing: try again")
    return snapshot


def _lines(snapshot: Snapshot) -> Iterator[tuple[str, str]]:
    take = f", take {snapshot.slate}, packet {snapshot.packet + 1} of {snapshot.packet_count}" if snapshot.slate else ""
    yield "player", f"{snapshot.state}{take}{', BLACKED OUT until release' if snapshot.is_blacked_out else ''}"
    for output in snapshot.outputs:
        how = output.lost or f"{output.refresh_hz:.1f} Hz, {output.sent} packets sent, {output.missed} missed"
        yield "output", f"{output.name}: {how}"
    if snapshot.last_take is not None:
        last = snapshot.last_take
        yield "last take", f"{last.slate} ({last.status}){'' if last.was_watched else ', ended while nobody watched'}"
    if snapshot.show_problem:
        yield "problem", snapshot.show_problem
    if snapshot.controller is not None and not snapshot.has_control:
        yield "control", "another window or command has it; --take-over takes it"
    yield "priority", snapshot.priority
