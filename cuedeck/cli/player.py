"""`cuedeck player`: what the player of a show does, and the few words that can be said to it from a second terminal."""

from __future__ import annotations

import argparse
import time
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

from cuedeck.cli import exits
from cuedeck.cli.arguments import add_show
from cuedeck.cli.blackout_words import NEXT_IS_DARK, in_words, released_in_words
from cuedeck.cli.opening import show_path
from cuedeck.cli.player_client import add_take_over
from cuedeck.errors import Refusal
from cuedeck.visible import visible_line

if TYPE_CHECKING:
    from cuedeck.player.channel.client import PlayerClient
    from cuedeck.player.channel.events import Snapshot
    from cuedeck.player.channel.requests import AnyRequest

WORDS = ("status", "blackout", "release", "hold", "stop", "fire", "start", "reload", "quit", "resume")
LONGEST_WAIT_S = 2.0
TAKES_EFFECT_S = 0.4
"""How long to look on after something was asked: until the packet after it at a low refresh."""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of this command."""
    add_show(parser)
    parser.add_argument("word", metavar="WORD", nargs="?", help=", ".join(WORDS))
    parser.add_argument("cue", metavar="CUE", nargs="?", help="behind fire: which cue; left out, the next one")
    add_take_over(parser)
    parser.epilog = (
        "blackout works whatever else the player does, and stays until release, whoever gives it, also where the"
        " player is killed or the computer switched off; without a player, it is for the next one. release lets go of"
        " the blackout, else of the shot that is held, else of the"
        " look that stands on the line (a lamp that is 'never below' a level stays there, until it is released once"
        " more); reload reads the show again; quit puts the light out and ends the player; resume starts another with"
        " the last look of one that was killed."
    )


def run(options: argparse.Namespace) -> int:
    """Say it to the player, and print what it does then."""
    options.word = options.word or "status"
    if options.word not in WORDS:
        raise Refusal(f"'{options.word}' is no word for the player: write {', '.join(WORDS[:-1])} or {WORDS[-1]}")
    if options.cue is not None and options.word != "fire":
        raise Refusal(f"'{options.word}' takes nothing behind it")
    folder = show_path(options.show)
    if options.word in ("blackout", "release") and _is_about_blackout(folder, options.word):
        return exits.DONE
    from cuedeck.player.channel.requests import Control
    from cuedeck.player.words import status_lines

    client = _resumed(folder) if options.word == "resume" else _found(folder)
    try:
        if options.take_over:
            client.ask(Control())
        if options.word != "resume":
            client.ask(_request(options))
        if options.word == "quit":
            print("the player lets go of the light and ends")
        else:
            for label, text in status_lines(_newest(client, 0 if options.word == "status" else TAKES_EFFECT_S)):
                print(visible_line(f"{label:9} {text}"))
    finally:
        client.close()
    return exits.DONE


def _is_about_blackout(folder: Path, word: str) -> bool:
    """Black out, or lift a blackout; return whether there was one. Raises NoAnswer."""
    from cuedeck.player.line.blackout_client import black_out, release_blackout

    done = black_out(folder) if word == "blackout" else release_blackout(folder)
    if word == "blackout" or done.was_black:
        print(in_words(done, folder) if word == "blackout" else released_in_words(done, folder))
    return word == "blackout" or done.was_black


def _found(folder: Path) -> PlayerClient:
    from cuedeck.player.channel.client import find_player

    client = find_player(folder)
    if client is None:
        raise Refusal(_why_none(folder))
    return client


def _why_none(folder: Path) -> str:
    """Return why no player is found, and what the next one begins with."""
    from cuedeck.player.instance_lock import InstanceLock, PlayerRuns
    from cuedeck.player.line.blackout_client import blackout_of

    instance = InstanceLock.of(folder)
    try:
        with instance.claimed():
            what = f"no player of {folder} runs: 'shoot' and 'open' start one"
            if instance.was_killed:
                what = f"no player of {folder} runs; the last one was killed, or its computer switched off"
            if instance.last_look.exists():
                what += (
                    f", and left a look: 'cuedeck player {folder} resume' sends it on, 'shoot' and 'open' begin"
                    " without it"
                )
    except PlayerRuns as runs:
        return f"{runs} (it may be just beginning: then try again)"
    is_black, odd = blackout_of(folder)
    return f"{what}{NEXT_IS_DARK.format(folder=folder) if is_black else ''}{f'; {odd}' if odd else ''}"


def _resumed(folder: Path) -> PlayerClient:
    from cuedeck.player.channel.client import find_player, start_player
    from cuedeck.player.instance_lock import InstanceLock

    client = find_player(folder)
    if client is not None:
        client.close()
        raise Refusal(f"a player of {folder} runs: there is nothing to resume")
    if not InstanceLock.of(folder).last_look.exists():
        raise Refusal(f"no player of {folder} left a look: there is nothing to resume")
    return start_player(folder, resume=True)


def _request(options: argparse.Namespace) -> AnyRequest:
    from cuedeck.player.channel import requests

    by_word: dict[str, Callable[[], AnyRequest]] = {
        "status": lambda: requests.Expect(to=()),  # asks for nothing, and its answer comes behind a new snapshot
        "release": requests.Release,
        "hold": requests.Hold,
        "stop": requests.Stop,
        "fire": lambda: requests.Fire(cue=options.cue),
        "start": requests.Start,
        "reload": requests.Reload,
        "quit": requests.Quit,
    }
    return by_word[options.word]()


def _newest(client: PlayerClient, later_s: float) -> Snapshot:
    """Return how everything stands some time after what was asked. Raises PlayerGone."""
    if client.snapshot is None:
        client.next(LONGEST_WAIT_S)
    end_s = time.monotonic() + later_s
    while (left_s := end_s - time.monotonic()) > 0:
        client.next(left_s)
    snapshot = client.snapshot
    if client.is_silent:
        raise client.silent
    if snapshot is None:
        raise Refusal("the player says nothing: try again")
    return snapshot
