"""What commands that are clients of the player have in common."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

from cuedeck.cli import exits

if TYPE_CHECKING:
    from cuedeck.player.channel.client import PlayerClient, PlayerGone
    from cuedeck.player.channel.requests import AnyRequest

MOST_TRIES = 3


def add_take_over(parser: argparse.ArgumentParser) -> None:
    """Add the argument that takes control from another client."""
    parser.add_argument(
        "--take-over", action="store_true", help="take control of the player from another window that has it"
    )


@contextmanager
def with_player(folder: Path, first: AnyRequest, *, take_over: bool) -> Iterator[PlayerClient]:
    """Start the player where none runs, and ask for something. Raises PlayerRefused and PlayerGone."""
    client = _asked(folder, first, take_over=take_over)
    try:
        yield client
    finally:
        client.close()


def _asked(folder: Path, first: AnyRequest, *, take_over: bool) -> PlayerClient:
    from cuedeck.player.channel.client import PlayerGone, PlayerSilent, start_player
    from cuedeck.player.channel.requests import Control

    for tries_left in range(MOST_TRIES, 0, -1):
        client = start_player(folder)
        try:
            if take_over:
                client.ask(Control())
            client.ask(first)
        except PlayerSilent:  # what was asked may be done yet: asked again, it would be done twice
            client.close()
            raise
        except PlayerGone:  # it was just ending: nothing has begun
            client.close()
            if tries_left == 1:
                raise
        except BaseException:
            client.close()
            raise
        else:
            return client
    raise AssertionError("every try either returns or raises")


def resumed(folder: Path, gone: PlayerGone, targets: Sequence[str]) -> int:
    """Say that the player is gone in a take, and start another that goes on with its last look."""
    from cuedeck.output.sacn import RESUMED_IS_LOWER
    from cuedeck.output.targets import kind_of
    from cuedeck.player.channel.client import start_player

    print(f"{gone}", file=sys.stderr, flush=True)
    with_light = start_player(folder, resume=True)
    print(
        f"a new player (process {with_light.pid}) holds the last look; the take is over, and kept as broken:"
        f" 'cuedeck takes {folder}' lists it, 'cuedeck player {folder} release' lets go of the light",
        file=sys.stderr,
    )
    if any(kind_of(target) == "sacn" for target in targets):
        print(
            f"over sacn it is sent with a priority that is {RESUMED_IS_LOWER} lower, until something else is asked for:"
            " a second machine in the same take goes before it",
            file=sys.stderr,
        )
    with_light.close(leave=False)
    return exits.WRONG
