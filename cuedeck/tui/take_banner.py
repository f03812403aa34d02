"""The state of a take in letters that can be read from across the room.

Each state has a word and a pattern of its own, so that none is told by its colour alone; nothing blinks, since
flashes of a screen are a danger to some and a nuisance on a set.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from rich.cells import cell_len
from textual.content import Content
from textual.widgets import Static

from cuedeck.player.channel.events import Ended, Snapshot
from cuedeck.player.channel.silence import Silence
from cuedeck.player.states import PlayerState
from cuedeck.player.take.result import reason_of
from cuedeck.player.words import ended_text
from cuedeck.tui.big_letters import big_text
from cuedeck.tui.words import clipped

HIGH_SCREEN = 36
ENDED_S = 6.0
"""How long the end of a take is said."""
PATTERNS = {
    "rolling": "█", "counting": "▒", "held": "╌", "done": "·", "bad": "╳", "blackout": "▚", "broke": "!", "silent": "?",
}  # fmt: skip
"""What fills the room beside the letters; a shot that stands by is outlined."""
OUTLINED = "standing"
LEAST_SIDE = 3
"""Cells of the pattern at either side, at least."""


@dataclass(frozen=True)
class Banner:
    """What is said of a take."""

    text: str
    kind: str
    """The pattern that goes with it, or OUTLINED."""
    small: str = ""
    """What stands below in plain letters: what always holds."""
    keys: str = ""
    """What can be done about it, behind that; a window that looks on leaves it out."""
    short: str = ""
    """What is said large instead where the text has no room."""


def banner_of(
    snapshot: Snapshot | None, ended: Ended | None, ended_ago_s: float, silence: Silence | None = None
) -> Banner | None:
    """Return what is to be said; None while nothing is. Rehearsals are no takes and say nothing."""
    if silence is not None:
        lasted = f"for {silence.lasted_s:.0f} s: " if silence.lasted_s >= 1 else ""
        return Banner("NO ANSWER", "silent", f"{lasted}the player hangs, and sends nothing", short="HANGS")
    running = None if snapshot is None or not snapshot.slate else _running(snapshot)
    if snapshot is not None and snapshot.is_blacked_out:
        beneath = "" if running is None else f"over take {snapshot.slate}: {running.short.lower()}"
        beneath = f"{beneath} · " if beneath else ""
        return Banner("BLACKOUT", "blackout", f"{beneath}r lets the light back", short="BLACK")
    if running is not None:
        return running
    is_new = ended is not None and ended_ago_s < ENDED_S and not ended.counting_was_cut
    return _over(ended) if ended is not None and ended.slate and is_new else None


def _running(snapshot: Snapshot) -> Banner | None:
    """Return what a take does; None while it is only being prepared, or written down after its end."""
    slate, take = snapshot.slate, f"take {snapshot.slate}"
    match snapshot.state:
        case PlayerState.COUNTING:
            left = f"{max(math.ceil(snapshot.counting_s), 1)}"
            return Banner(left, "counting", f"{take} starts", "s stops it", left)
        case PlayerState.STANDING_BY:
            return Banner("STAND BY", OUTLINED, f"{take} waits for its start", "s stops it", "READY")
        case PlayerState.ROLLING:
            fires = f"ENTER fires cue {snapshot.next_cue}" if snapshot.next_cue else ""
            waits = f" · waits for cue {snapshot.waits_for}" if snapshot.waits_for else ""
            small = f"{take} · {snapshot.time_s:.1f} s{waits}"
            return Banner(f"ROLLING {slate}", "rolling", small, fires, "ROLLING")
        case PlayerState.HOLDING if snapshot.is_held:
            return Banner(f"HELD {slate}", "held", f"{take} · at {snapshot.time_s:.1f} s", "h goes on", "HELD")
        case PlayerState.FAULTED:
            return Banner(f"BROKE {slate}", "broke", f"{take}: the player broke, the light is held", "", "BROKE")
    return None


def _over(ended: Ended) -> Banner:
    is_bad = bool(reason_of(ended))
    word = "CUT" if ended.was_cut else "INCOMPLETE" if is_bad else "DONE"
    kind = "bad" if is_bad else "done"
    return Banner(f"{word} {ended.slate}", kind, ended_text(ended), "o circles it, x rejects it, y notes", word)


class TakeBanner(Static):
    """A band across the screen while there is something to say of a take."""

    DEFAULT_CSS = """
    TakeBanner { display: none; height: auto; background: $panel; color: $foreground; text-style: bold; }
    TakeBanner.-saying { display: block; }
    TakeBanner.-bad, TakeBanner.-broke, TakeBanner.-blackout, TakeBanner.-silent { color: $error; }
    """

    said: Banner | None = None
    """What it says."""
    _lines: tuple[str, ...] = ()

    def show(self, banner: Banner | None, width: int, height: int, *, is_watching: bool = False) -> int:
        """Say something on a screen of some size; return how many lines that takes."""
        lines = () if banner is None else tuple(banner_lines(banner, width, height, is_watching=is_watching))
        if banner != self.said or lines != self._lines:
            self.said, self._lines = banner, lines
            self.set_class(banner is not None, "-saying")
            for kind in (*PATTERNS, OUTLINED):
                self.set_class(banner is not None and banner.kind == kind, f"-{kind}")
            self.update(Content("\n".join(lines)))
            self.styles.height = len(lines)
        return len(lines)


def banner_lines(banner: Banner, width: int, height: int, *, is_watching: bool = False) -> list[str]:
    """Return the lines of a banner on a screen of some size, each as wide as that."""
    rows = 5 if height >= HIGH_SCREEN else 3
    room = max(width - 2 * (LEAST_SIDE + 1), 1)
    large = big_text(banner.text, room, rows=rows)
    if len(large) == 1 and banner.short:
        large = big_text(banner.short, room, rows=rows)
    small = " · ".join(part for part in (banner.small, "" if is_watching else banner.keys) if part)
    band = [_line(line, width, banner.kind, row, len(large)) for row, line in enumerate(large)]
    return [*band, clipped(small, width)]


def _line(text: str, width: int, kind: str, row: int, rows: int) -> str:
    """Return a row of letters in the middle of its pattern."""
    spare = max(width - cell_len(text) - 2, 0)
    left, right = spare // 2, spare - spare // 2
    if kind != OUTLINED:
        return clipped(f"{PATTERNS[kind] * left} {text} {PATTERNS[kind] * right}", width)
    ends = "──" if rows == 1 else "┌┐" if row == 0 else "└┘" if row == rows - 1 else "││"
    rule = "─" if row in (0, rows - 1) else " "
    return clipped(f"{f'{ends[0]}{rule * left}'[:left]} {text} {f'{rule * right}{ends[1]}'[-right:]}", width)
