"""What `shoot` shows while a take runs: a live view where the terminal can, plain lines where it cannot."""

from __future__ import annotations

import math
import sys
from collections.abc import Sequence
from contextlib import suppress
from types import TracebackType
from typing import TYPE_CHECKING, Any, Protocol, Self

from cuedeck.cli.chase import chased_in_words
from cuedeck.player.take import Phase, TakeProgress

if TYPE_CHECKING:
    from cuedeck.output.base import Output
    from cuedeck.output.simulator import Simulator

BAR_COLUMNS = 48


class View(Protocol):
    """Something that shows a take."""

    period_s: float
    """How often it wants to be told."""

    def __enter__(self) -> Self: ...

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, traceback: TracebackType | None
    ) -> None: ...

    def show(self, progress: TakeProgress) -> None:
        """Show where the take is."""


def view_of(outputs: Sequence[Output], slate: str, fireable: Sequence[str]) -> View:
    """Return the view that this terminal can show; it names the cues that Enter can fire."""
    from cuedeck.output.simulator import Simulator

    simulator = next((output for output in outputs if isinstance(output, Simulator)), None)
    if sys.stderr is not None and sys.stderr.isatty():
        return LiveView(simulator, slate, bool(fireable))
    return PlainView(slate, bool(fireable))


def in_words(progress: TakeProgress, slate: str, *, has_enter: bool) -> str:
    """Return where a take is, in a line."""
    if progress.phase is Phase.COUNTING:
        return f"take {slate} in {math.ceil(progress.counting_s)}"
    if progress.phase is Phase.ARMED:
        return f"take {slate} armed: waiting for the start from the floor"
    is_waiting = progress.packet >= progress.packet_count
    where = "waiting" if is_waiting else f"packet {progress.packet + 1} of {progress.packet_count}"
    where = f"held at {where}" if progress.is_held else where
    cue = progress.next_operator_cue
    operator = f" · Enter fires cue {cue}" if cue and has_enter and progress.phase is Phase.ROLLING else ""
    chased = f" · {chased_in_words(progress.chased)}" if progress.chased else ""
    return f"take {slate} {progress.phase} · {progress.time_s:.1f} s · {where}{operator}{chased}"


class PlainView:
    """A line for each second."""

    period_s = 0.1

    def __init__(self, slate: str, has_enter: bool) -> None:
        self._slate = slate
        self._has_enter = has_enter
        self._shown: tuple[Phase, int, str] | None = None

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        pass

    def show(self, progress: TakeProgress) -> None:
        """Print a line where a new second has begun."""
        is_counting = progress.phase is Phase.COUNTING
        seconds = math.ceil(progress.counting_s) if is_counting else int(progress.time_s)
        state = progress.chased.state if progress.chased else "held" if progress.is_held else ""
        if (progress.phase, seconds, state) != self._shown:
            self._shown = (progress.phase, seconds, state)
            if sys.stderr is not None:
                with suppress(OSError):  # a terminal that was closed must not end the take
                    print(in_words(progress, self._slate, has_enter=self._has_enter), file=sys.stderr, flush=True)


class LiveView:
    """The lights of the simulator, repainted in place."""

    period_s = 0.08

    def __init__(self, simulator: Simulator | None, slate: str, has_enter: bool) -> None:
        from rich.console import Console
        from rich.live import Live

        self._has_enter = has_enter
        self._simulator = simulator
        self._slate = slate
        self._live = Live(console=Console(stderr=True), auto_refresh=False, transient=True)

    def __enter__(self) -> Self:
        self._live.start()
        return self

    def __exit__(self, *_: object) -> None:
        with suppress(OSError):
            self._live.stop()

    def show(self, progress: TakeProgress) -> None:
        """Repaint."""
        with suppress(OSError):  # a terminal that was closed must not end the take
            self._live.update(self._painted(progress), refresh=True)

    def _painted(self, progress: TakeProgress) -> Any:
        from rich.table import Table
        from rich.text import Text

        table = Table.grid(padding=(0, 1))
        table.add_row(Text(in_words(progress, self._slate, has_enter=self._has_enter), style="bold"))
        done = round(BAR_COLUMNS * min((progress.packet + 1) / max(progress.packet_count, 1), 1))
        table.add_row(Text("━" * done + "─" * (BAR_COLUMNS - done)))
        for state in self._simulator.states() if self._simulator else ():
            blocks = "█" * round(24 * state.level)
            red, green, blue = (round(255 * part) for part in state.screen_colour)
            kelvin = f" {round(state.kelvin, -1):.0f} K" if state.kelvin else ""
            row = Text(f"{state.name[:20]:20} {100 * state.level:5.1f} % ")
            row.append(f"{blocks:24}", style=f"rgb({red},{green},{blue})")
            row.append(kelvin)
            table.add_row(row)
        return table
