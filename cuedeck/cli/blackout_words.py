"""What commands say of a blackout, and how the commands that hold light show it and undo it."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING

from cuedeck.errors import Refusal

if TYPE_CHECKING:
    from cuedeck.player.channel.events import Snapshot
    from cuedeck.player.line.blackout_client import BlackoutDone

IS_BLACK = "BLACKOUT: the line is dark until 'release'; what is asked for runs in the dark"
IS_OVER = "BLACKOUT is over: the line has its light again"
RELEASED_FOR_NEXT = "released: no player runs, and the next one begins without the blackout"
NEXT_IS_DARK = "; a BLACKOUT is kept: the next player begins dark, until 'cuedeck player {folder} release'"


def in_words(done: BlackoutDone, folder: Path) -> str:
    """Return what became of a blackout."""
    until = f"BLACKED OUT until 'cuedeck player {folder} release'"
    if not done.has_player:
        what = f"{until}: no player runs, and the next one begins dark"
    elif done.was_black:
        what = f"{until}: it was dark before"
    elif done.packets:
        what = f"{until}: dark since packet {done.packets + 1} of this line"
    else:
        what = f"{until}: nothing was sent, and what is sent from now on is dark"
    kept = (
        f"\n  not written in the show folder ({done.not_kept}): kept while this computer is on, forgotten when it"
        " is switched off"
    )
    return f"{what}{kept if done.not_kept else ''}"


def released_in_words(done: BlackoutDone, folder: Path) -> str:
    """Return what became of the release of a blackout that was there."""
    what = "released: the line has its light again, where there is any" if done.has_player else RELEASED_FOR_NEXT
    kept = f"\n  but the next player begins dark: {done.not_kept}; then give 'cuedeck player {folder} release' again"
    return f"{what}{kept if done.not_kept else ''}"


class BlackoutTold:
    """Says when a blackout begins and ends, whoever gave it, and what it finds at the start."""

    def __init__(self, folder: Path) -> None:
        """Say at once whether the line is, or will be, dark."""
        from cuedeck.player.line.blackout_client import blackout_of

        self._folder = folder
        self._is_black, odd = blackout_of(folder)
        for line in (IS_BLACK if self._is_black else "", odd):
            if line and sys.stderr is not None:
                print(line, file=sys.stderr, flush=True)

    def news(self, snapshot: Snapshot) -> str:
        """Return what is to be said now, or nothing."""
        before, self._is_black = self._is_black, snapshot.is_blacked_out
        return "" if before == self._is_black else IS_BLACK if self._is_black else IS_OVER

    def obeys(self, word: str) -> str:
        """Do what a typed word asks for, where it is about a blackout; return what is to be said then."""
        from cuedeck.player.line.blackout_client import black_out, release_blackout

        try:
            if word == "blackout":
                return in_words(black_out(self._folder), self._folder)
            if word == "release":
                done = release_blackout(self._folder)
                return released_in_words(done, self._folder) if done.was_black else "there is no blackout to release"
        except Refusal as refusal:
            return str(refusal)
        return ""
