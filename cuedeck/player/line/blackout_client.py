"""Asking for a blackout, or its release, whatever else the player does: through the page, and on the disk.

Needs neither a connection nor an answer of the channel. Where no player runs, it is for the next one.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from cuedeck.errors import Refusal
from cuedeck.player.instance_lock import InstanceLock, PlayerRuns
from cuedeck.player.line.blackout import FILE, keep_in, kept_in
from cuedeck.player.line.blackout_page import BlackoutPage, Word, made_page, page_at
from cuedeck.player.state_folder import StateFolder

ANSWERS_IN_S = 0.8
_LOOKS_AGAIN_S = 0.004


class NoAnswer(Refusal):
    """The player runs and has not taken up what was asked."""


@dataclass(frozen=True)
class BlackoutDone:
    """What became of a blackout or a release that was asked for."""

    has_player: bool
    """Whether a player runs, and has taken it up."""
    was_black: bool
    """Whether a blackout was there before."""
    packets: int = 0
    """How many packets had left when the line went dark; 0 where nothing is sent."""
    not_kept: str = ""
    """Why it is not on the disk; empty where it is."""


def black_out(folder: Path) -> BlackoutDone:
    """Make the line dark, or see to it that the next player begins dark. Raises NoAnswer within about a second."""
    instance = InstanceLock.used_by_player(folder)
    if (done := _settled(instance, is_black=True)) is not None:
        return done
    page = _page_of(instance)
    if page is not None:
        words, was_black = page.words, page.is_black
        page.ask(Word.BLACKOUT_ASKED)
        # Where another has asked since, that one was taken up after this one was asked.
        if _comes(lambda: words[Word.BLACKOUT_TAKEN] == words[Word.BLACKOUT_ASKED]):
            is_kept = _comes(lambda: words[Word.ON_DISK] == words[Word.BLACKOUT_TAKEN] or not page.is_black)
            not_kept = "" if is_kept else _kept_here(instance.folder)
            return BlackoutDone(True, was_black, words[Word.PACKETS], not_kept)
    if (done := _settled(instance, is_black=True)) is not None:  # another client had the folder, or it ended
        return done
    not_kept = _kept_here(instance.folder)
    kept = f"it could not be written ({not_kept})" if not_kept else "it is written on the disk"
    raise NoAnswer(
        f"the player{_process(instance)} does not answer. The blackout comes first when it goes on, and {kept}:"
        " the next player begins dark. If lamps must go out now, cut the power at the rig's own switch"
    )


def release_blackout(folder: Path) -> BlackoutDone:
    """Lift a blackout and nothing else; nothing is done where there is none.

    Raises NoAnswer within about a second; it is not done later then.
    """
    instance = InstanceLock.used_by_player(folder)
    if (done := _settled(instance, is_black=False)) is not None:
        return done
    page = _page_of(instance)
    if page is not None:
        words = page.words
        if not page.is_black:
            return BlackoutDone(True, was_black=False)
        asked = page.ask(Word.RELEASE_ASKED)
        is_taken = _comes(lambda: words[Word.RELEASE_TAKEN] == words[Word.RELEASE_ASKED])
        if not is_taken and words[Word.RELEASE_ASKED] == asked:
            words[Word.RELEASE_ASKED] = 0  # given up: it must not come later, unasked
        if words[Word.RELEASE_TAKEN] == asked or not page.is_black:
            is_kept = _comes(lambda: words[Word.ON_DISK] == words[Word.RELEASE_TAKEN] or page.is_black)
            return BlackoutDone(True, True, not_kept="" if is_kept else _why_still_there(instance.folder))
    if (done := _settled(instance, is_black=False)) is not None:
        return done
    raise NoAnswer(f"the player{_process(instance)} does not answer: nothing is released, now or later")


def blackout_of(folder: Path) -> tuple[bool, str]:
    """Return whether the line of a folder is dark, or would be, and what is odd about what is kept of that."""
    instance = InstanceLock.used_by_player(folder)
    is_kept, odd = kept_in(StateFolder(instance.folder))
    page = page_at(instance.blackout_page)
    if page is None:
        return is_kept, odd
    try:
        with instance.claimed():
            return is_kept or page.is_black, odd
    except PlayerRuns:  # what the disk says may be on its way
        return page.is_black, odd


def blackouts_now(folder: Path) -> tuple[bool, int]:
    """Return whether the player that runs keeps its line dark, and how often it has made it so."""
    page = page_at(InstanceLock.used_by_player(folder).blackout_page)
    return (False, 0) if page is None else (page.is_black, page.words[Word.BLACKOUTS])


def _settled(instance: InstanceLock, *, is_black: bool) -> BlackoutDone | None:
    """Write it for the next player; None where one runs."""
    own, folder = InstanceLock.of(instance.folder), StateFolder(instance.folder)
    try:
        with instance.claimed():
            was_black, _ = kept_in(folder)
            for path in {own.blackout_page, instance.blackout_page}:
                with suppress(OSError):
                    page, _ = made_page(path)
                    was_black = was_black or page.is_black
                    page.settle(is_black)
            return BlackoutDone(False, was_black, not_kept=_kept_here(instance.folder, is_black=is_black))
    except PlayerRuns:
        return None


def _page_of(instance: InstanceLock) -> BlackoutPage | None:
    """Return the page of a player that runs, or is just beginning."""
    _comes(instance.blackout_page.exists)
    return page_at(instance.blackout_page)


def _kept_here(folder: Path, *, is_black: bool = True) -> str:
    """Write a blackout or its release, as no player has; return why that cannot be."""
    try:
        keep_in(StateFolder(folder), is_black=is_black)
    except OSError as error:
        return error.strerror or str(error)
    return ""


def _why_still_there(folder: Path) -> str:
    is_kept, _ = kept_in(StateFolder(folder))
    return f"{StateFolder(folder).path / FILE} cannot be removed" if is_kept else ""


def _process(instance: InstanceLock) -> str:
    found = instance.found()
    return "" if found is None else f" (process {found.pid})"


def _comes(is_so: Callable[[], bool]) -> bool:
    """Wait until something is so; return whether it came in time."""
    until_s = time.monotonic() + ANSWERS_IN_S
    while not is_so():
        if time.monotonic() > until_s:
            return False
        time.sleep(_LOOKS_AGAIN_S)
    return True
