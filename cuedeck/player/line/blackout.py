"""The blackout of a player: in the process, in the page through which it is asked for, and on the disk.

The invariant owned here: the line goes dark first, and the disk is tried after it, again and again; only a release
lifts it. The thread that sends looks at the page with each packet; where nothing is sent, the thread "blackout"
does so, which also does what may wait for a disk.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable

from cuedeck.player.line.blackout_page import BlackoutPage, Word
from cuedeck.player.state_folder import StateFolder

FILE = "blackout"
_CONTENT = b"cuedeck: the line is dark until 'release'\n"
LOOKS_AGAIN_S = 0.25
"""How often the thread looks at the page; whoever sends does so with each packet, and the player with each beat."""
TRIES_AGAIN_S = 0.5
"""How often a disk is tried that did not take it."""
ENDS_IN_S = 2.0
"""How long the end of a player waits for the disk."""
_NOT_KEPT = "the line is dark, but the blackout would be forgotten when this computer is switched off"
_NOT_LIFTED = "the blackout is released, but the next player begins dark"
DAMAGED = "is damaged, so it counts as a blackout: 'release' lifts it"


def kept_in(folder: StateFolder) -> tuple[bool, str]:
    """Return whether a show folder holds a blackout, and what is odd about that: what cannot be read counts as one."""
    try:
        found = folder.read(FILE)
    except OSError as error:
        reason = error.strerror or str(error)
        return True, f"{folder.path / FILE} cannot be read ({reason}), so it counts as a blackout: 'release' lifts it"
    return found is not None, "" if found in (None, _CONTENT) else f"{folder.path / FILE} {DAMAGED}"


def keep_in(folder: StateFolder, *, is_black: bool) -> None:
    """Write it into a show folder, or take it out. Raises OSError."""
    if is_black:
        folder.write(FILE, _CONTENT)
    else:
        folder.remove(FILE)


class Blackout:
    """Whether the line of one player is kept dark."""

    def __init__(
        self,
        folder: StateFolder | None = None,
        page: BlackoutPage | None = None,
        tell: Callable[[str], None] = lambda _: None,
        on_change: Callable[[], None] = lambda: None,
    ) -> None:
        """Without a folder and a page it lives as long as the process.

        `on_change` is called in the thread "blackout" when the line went dark, or was released.
        """
        self._folder = folder
        self._words = None if page is None else page.words
        self._tell = tell
        self._on_change = on_change
        self._taking = threading.Lock()
        self._changed = threading.Event()
        self._is_ending = False
        self._tried_s = 0.0
        self._newest = 0
        """The request that was taken up last."""
        self.packets = 0
        """How many packets have left on the line as it is; counted by who sends."""
        is_kept, self.problem = (False, "") if folder is None else kept_in(folder)
        """The second: what is wrong with what is kept; nothing while all is well."""
        self._is_on = is_kept
        if page is not None:
            was_left = page.settle()
            self._is_on = is_kept or was_left
            page.words[Word.IS_BLACK] = self._is_on
            self._newest = page.words[Word.BLACKOUT_TAKEN]
        self._told_on = self._is_on
        self._is_on_disk = is_kept
        self._thread = threading.Thread(target=self._run, name="blackout", daemon=True)

    def start(self) -> None:
        """Look at the page and see to the disk from now on."""
        self._thread.start()

    def close(self) -> None:
        """Bring to the disk what is not there yet, for two seconds at most; safe to call twice."""
        self._is_ending = True
        self._changed.set()
        if self._thread.is_alive():
            self._thread.join(ENDS_IN_S)

    @property
    def is_on(self) -> bool:
        """Whether the line is dark, by what was asked until now."""
        words = self._words
        if words is not None and (
            words[Word.BLACKOUT_ASKED] != words[Word.BLACKOUT_TAKEN]
            or words[Word.RELEASE_ASKED] != words[Word.RELEASE_TAKEN]
        ):
            self._take_up(words)
        return self._is_on

    def set(self, is_on: bool) -> None:
        """Make the line dark, or release it. From any thread; waits for nothing."""
        with self._taking:
            self._set(is_on)

    def _set(self, is_on: bool) -> None:
        # The page first: a player that is killed between the two leaves the newer word behind.
        if self._words is not None:
            self._words[Word.IS_BLACK] = is_on
            self._words[Word.BLACKOUTS] += is_on and not self._is_on
        self._is_on = is_on
        self._changed.set()

    def _take_up(self, words: memoryview) -> None:
        """Do what the page asks for; a blackout last, so that it wins."""
        with self._taking:
            # Read once: whoever asks may write while this runs, and what comes later is for the next look.
            released, asked = words[Word.RELEASE_ASKED], words[Word.BLACKOUT_ASKED]
            if released not in (0, words[Word.RELEASE_TAKEN]):
                self._set(False)
                self._newest = released
            words[Word.RELEASE_TAKEN] = released
            if asked != words[Word.BLACKOUT_TAKEN]:
                self._set(True)
                words[Word.PACKETS] = self.packets
                # The answer is written last: whoever sees it finds the rest in place.
                words[Word.BLACKOUT_TAKEN] = self._newest = asked

    def _run(self) -> None:
        while not self._is_ending:
            self._changed.wait(LOOKS_AGAIN_S)
            self._changed.clear()
            self._see_to_it()
        self._tried_s = 0.0
        self._see_to_it()

    def _see_to_it(self) -> None:
        _ = self.is_on  # takes up what was asked
        with self._taking:
            is_on, newest = self._is_on, self._newest
        if is_on != self._told_on:
            self._told_on = is_on
            self._on_change()
        if self._is_on_disk != is_on and self._folder is not None and time.monotonic() - self._tried_s > TRIES_AGAIN_S:
            self._bring_to_disk(self._folder, is_on)
        if self._words is not None and self._is_on_disk == is_on:
            self._words[Word.ON_DISK] = newest

    def _bring_to_disk(self, folder: StateFolder, is_on: bool) -> None:
        try:
            keep_in(folder, is_black=is_on)
        except OSError as error:
            self._tried_s = time.monotonic()
            problem = f"{folder.path / FILE} cannot be {'written' if is_on else 'removed'}: {error.strerror or error}"
            if problem != self.problem:
                self._tell(f"{problem}; {_NOT_KEPT if is_on else _NOT_LIFTED}; it is tried again")
            self.problem = problem
        else:
            self._is_on_disk, self._tried_s = is_on, 0.0
            if self.problem:
                self._tell(f"the blackout is {'kept' if is_on else 'lifted'} on the disk now")
            self.problem = ""
