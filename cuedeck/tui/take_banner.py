"""The state of a take in letters that can be read from across the room; each state has words and a frame of its own."""

from __future__ import annotations

from dataclasses import dataclass

from textual.content import Content
from textual.widgets import Static

from cuedeck.player.messages import Ended, Snapshot
from cuedeck.player.states import State
from cuedeck.tui.big_letters import big_text

HIGH_SCREEN = 36
ENDED_S = 6.0
"""How long the end of a take is said."""
_FRAMES = {"rolling": "█", "counting": "▒", "standing": "░", "held": "▚", "ended": "─", "blackout": "▓"}
"""What the band is edged with: told apart without colours."""


@dataclass(frozen=True)
class Banner:
    """What is said of a take."""

    text: str
    kind: str
    """One of the frames: rolling, counting, standing, held, ended, blackout."""
    small: str = ""
    """What stands below in plain letters."""


def banner_of(snapshot: Snapshot | None, ended: Ended | None, ended_ago_s: float) -> Banner | None:
    """Return what is to be said; None while nothing is. Rehearsals are no takes and say nothing."""
    if snapshot is not None and snapshot.is_blacked_out:
        return Banner("BLACKOUT", "blackout", "r lets the light back")
    if snapshot is not None and snapshot.slate and snapshot.shot:
        return _running(snapshot)
    if ended is not None and ended.slate and not ended.counting_was_cut and ended_ago_s < ENDED_S:
        is_bad = bool(ended.lost or ended.missed or ended.missed_on)
        word = "CUT" if ended.was_cut else "BAD" if is_bad else "DONE"
        what = "cut" if ended.was_cut else "incomplete: packets are missing" if is_bad else "complete"
        return Banner(f"{word} {ended.slate}", "ended", f"take {ended.slate} is {what} · o circles it, x rejects it")
    return None


def _running(snapshot: Snapshot) -> Banner:
    slate = f"take {snapshot.slate}"
    match snapshot.state:
        case State.COUNTING:
            return Banner(f"{max(int(snapshot.counting_s + 0.999), 1)}", "counting", f"{slate} starts · s stops it")
        case State.STANDING_BY:
            return Banner("STAND BY", "standing", f"{slate} waits for its start")
        case State.HOLDING:
            return Banner(f"HELD {snapshot.slate}", "held", f"at {snapshot.time_s:.1f} s · h goes on")
    next_cue = f" · ENTER fires cue {snapshot.next_cue}" if snapshot.next_cue else ""
    return Banner(f"ROLLING {snapshot.slate}", "rolling", f"{snapshot.time_s:.1f} s{next_cue}")


class TakeBanner(Static):
    """A band across the screen while there is something to say of a take."""

    DEFAULT_CSS = """
    TakeBanner { display: none; height: auto; content-align: center middle; text-align: center; background: $panel; }
    TakeBanner.-saying { display: block; }
    TakeBanner.-rolling { background: $error 30%; color: $foreground; text-style: bold; }
    TakeBanner.-counting { background: $warning 30%; }
    TakeBanner.-blackout { background: $background; color: $error; text-style: bold; }
    """

    said: Banner | None = None
    """What it says."""
    _drawn: tuple[Banner | None, int, int] = (None, 0, 0)

    def show(self, banner: Banner | None, width: int, height: int) -> int:
        """Say something on a screen of some size; return how many lines that takes."""
        if (banner, width, height) != self._drawn:
            self._drawn, self.said = (banner, width, height), banner
            self.set_class(banner is not None, "-saying")
            for kind in _FRAMES:
                self.set_class(banner is not None and banner.kind == kind, f"-{kind}")
            lines = [] if banner is None else banner_lines(banner, width, height)
            self.update(Content("\n".join(lines)))
            self.styles.height = len(lines)
        return 0 if banner is None else len(banner_lines(banner, width, height))


def banner_lines(banner: Banner, width: int, height: int) -> list[str]:
    """Return the lines of a banner on a screen of some size: an edge at either side in the pattern of its state."""
    rows = 5 if height >= HIGH_SCREEN else 3
    edge = _FRAMES[banner.kind] * 3
    room = max(width - 2 * len(edge) - 2, 1)
    lines = [line.center(room) for line in (*big_text(banner.text, room, rows=rows), banner.small[:room])]
    return [f"{edge} {line} {edge}" for line in lines]
