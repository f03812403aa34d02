"""What `shoot` shows while a take runs: a live view on a terminal, else plain lines."""

from __future__ import annotations

import math
import sys
from collections.abc import Sequence
from contextlib import suppress
from typing import TYPE_CHECKING, Any, Protocol, Self

from cuedeck.cli.blackout_words import IS_BLACK
from cuedeck.player.states import PlayerState
from cuedeck.player.words import packet_text
from cuedeck.terminal import stream_to_draw_on
from cuedeck.visible import visible, visible_line

if TYPE_CHECKING:
    from cuedeck.output.simulator import Simulator
    from cuedeck.player.channel.events import Snapshot
    from cuedeck.rig.patch import Patch

BAR_COLUMNS = 48


class View(Protocol):
    """Shows a take while it runs."""

    period_s: float
    """How often it wants a snapshot."""

    def __enter__(self) -> Self: ...

    def __exit__(self, *_: object) -> None: ...

    def show(self, snapshot: Snapshot) -> None:
        """Show the state of the take."""

    def show_message(self, text: str) -> None:
        """Show a message."""


def view_of(patch: Patch, fireable: Sequence[str]) -> View:
    """Return the view for this terminal. Enter fires cues where some are `fireable`."""
    from cuedeck.output.simulator import Simulator

    if sys.stderr is not None and sys.stderr.isatty():
        return LiveView(Simulator(patch), bool(fireable))
    return PlainView(bool(fireable))


def status_line(snapshot: Snapshot, *, has_enter: bool) -> str:
    """Return the state of a take in one line."""
    slate, dark = snapshot.slate, " · BLACKOUT" if snapshot.is_blacked_out else ""
    if snapshot.state == PlayerState.COUNTING:
        return f"take {slate} in {math.ceil(snapshot.counting_s)}{dark}"
    if snapshot.state == PlayerState.STANDING_BY:
        return f"take {slate} armed: waiting for the start from the floor{dark}"
    where = f"held at {packet_text(snapshot)}" if snapshot.is_held else packet_text(snapshot)
    cue = snapshot.next_cue
    operator = f" · Enter fires cue {cue}" if cue and has_enter and snapshot.state == PlayerState.ROLLING else ""
    chased = f" · {snapshot.chased}" if snapshot.chased else ""
    log = f" · log: {snapshot.log_problem}" if snapshot.log_problem else ""
    return f"take {slate} {snapshot.state} · {snapshot.time_s:.1f} s · {where}{operator}{chased}{log}{dark}"


class PlainView:
    """A line for each second."""

    period_s = 0.1

    def __init__(self, has_enter: bool) -> None:
        self._has_enter = has_enter
        self._shown: tuple[str, int, str] | None = None

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        pass

    def show(self, snapshot: Snapshot) -> None:
        """Print a line where a new second has begun."""
        is_counting = snapshot.state == PlayerState.COUNTING
        seconds = math.ceil(snapshot.counting_s) if is_counting else int(snapshot.time_s)
        log = snapshot.log_problem.partition(";")[0]
        state = f"{snapshot.chased.partition(' ')[0]} {snapshot.is_held} {snapshot.is_blacked_out} {log}"
        if (snapshot.state, seconds, state) != self._shown:
            self._shown = (snapshot.state, seconds, state)
            self.show_message(status_line(snapshot, has_enter=self._has_enter))

    def show_message(self, text: str) -> None:
        if sys.stderr is not None:
            with suppress(OSError):  # a terminal that was closed must not end the take
                print(text, file=sys.stderr, flush=True)


class LiveView:
    """The lights of the simulator, repainted in place."""

    period_s = 0.08

    def __init__(self, simulator: Simulator, has_enter: bool) -> None:
        from rich.console import Console
        from rich.live import Live

        self._has_enter = has_enter
        self._simulator = simulator
        console = Console(file=stream_to_draw_on(sys.stderr))
        self._live = Live(
            console=console, auto_refresh=False, transient=True, redirect_stdout=False, redirect_stderr=False
        )

    def __enter__(self) -> Self:
        self._live.start()
        return self

    def __exit__(self, *_: object) -> None:
        with suppress(OSError):
            self._live.stop()

    def show(self, snapshot: Snapshot) -> None:
        with suppress(OSError):  # a terminal that was closed must not end the take
            self._live.update(self._painted(snapshot), refresh=True)

    def show_message(self, text: str) -> None:
        """Print a message above the picture."""
        with suppress(OSError):
            self._live.console.print(visible(text), markup=False, highlight=False)

    def _painted(self, snapshot: Snapshot) -> Any:
        from rich.table import Table
        from rich.text import Text

        from cuedeck.player.channel.events import unpacked

        table = Table.grid(padding=(0, 1))
        self._simulator.take(snapshot.universes, unpacked(snapshot.slots))
        if snapshot.is_blacked_out:
            table.add_row(Text(f" {IS_BLACK} ", style="bold white on red"))
        table.add_row(Text(visible_line(status_line(snapshot, has_enter=self._has_enter)), style="bold"))
        done = round(BAR_COLUMNS * min((snapshot.packet + 1) / max(snapshot.packet_count, 1), 1))
        table.add_row(Text("━" * done + "─" * (BAR_COLUMNS - done)))
        for state in self._simulator.states():
            blocks = "█" * round(24 * state.level)
            red, green, blue = (round(255 * part) for part in state.screen_colour)
            kelvin = f" {round(state.kelvin, -1):.0f} K" if state.kelvin else ""
            row = Text(f"{visible_line(state.name[:20]):20} {100 * state.level:5.1f} % ")
            row.append(f"{blocks:24}", style=f"rgb({red},{green},{blue})")
            row.append(kelvin)
            table.add_row(row)
        return table
