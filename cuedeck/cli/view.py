"""What `shoot` shows while a take runs: a live view where the terminal can, plain lines where it cannot."""

from __future__ import annotations

import math
import sys
from collections.abc import Sequence
from types import TracebackType
from typing import TYPE_CHECKING, Any, Protocol, Self

from cuedeck.player.take import Phase, TakeProgress

if TYPE_CHECKING:
    from cuedeck.output.base import Output
    from cuedeck.output.simulator import Simulator
    from cuedeck.timeline.plan import ShotPlan


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


def view_of(plan: ShotPlan, outputs: Sequence[Output], slate: str) -> View:
    """Return the view that this terminal can show."""
    from cuedeck.output.simulator import Simulator

    simulator = next((output for output in outputs if isinstance(output, Simulator)), None)
    if sys.stderr is not None and sys.stderr.isatty():
        return LiveView(plan, simulator, slate)
    return PlainView(slate)


def in_words(progress: TakeProgress, slate: str) -> str:
    """Return where a take is, in a line."""
    if progress.phase is Phase.COUNTING:
        return f"take {slate} in {math.ceil(progress.counting_s)}"
    where = f"packet {progress.packet + 1} of {progress.packet_count}"
    operator = f" · Enter fires cue {progress.next_operator_cue}" if progress.next_operator_cue else ""
    return f"take {slate} {progress.phase} · {progress.time_s:.1f} s · {where}{operator}"


class PlainView:
    """A line for each second."""

    period_s = 0.1

    def __init__(self, slate: str) -> None:
        self._slate = slate
        self._shown: tuple[Phase, int] | None = None

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        pass

    def show(self, progress: TakeProgress) -> None:
        """Print a line where a new second has begun."""
        is_counting = progress.phase is Phase.COUNTING
        seconds = math.ceil(progress.counting_s) if is_counting else int(progress.time_s)
        if (progress.phase, seconds) != self._shown:
            self._shown = (progress.phase, seconds)
            if sys.stderr is not None:
                print(in_words(progress, self._slate), file=sys.stderr, flush=True)


class LiveView:
    """The lights of the simulator, repainted in place."""

    period_s = 0.08

    def __init__(self, plan: ShotPlan, simulator: Simulator | None, slate: str) -> None:
        from rich.console import Console
        from rich.live import Live

        self._plan = plan
        self._simulator = simulator
        self._slate = slate
        self._live = Live(console=Console(stderr=True), auto_refresh=False, transient=True)

    def __enter__(self) -> Self:
        self._live.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._live.stop()

    def show(self, progress: TakeProgress) -> None:
        """Repaint."""
        self._live.update(self._painted(progress), refresh=True)

    def _painted(self, progress: TakeProgress) -> Any:
        from rich.table import Table
        from rich.text import Text

        table = Table.grid(padding=(0, 1))
        table.add_row(Text(in_words(progress, self._slate), style="bold"))
        share = (progress.packet + 1) / max(progress.packet_count, 1)
        table.add_row(Text("━" * round(48 * share) + "─" * (48 - round(48 * share))))
        for state in self._simulator.states() if self._simulator else ():
            blocks = "█" * round(24 * state.level)
            red, green, blue = (round(255 * part) for part in state.screen_colour)
            kelvin = f" {state.kelvin:.0f} K" if state.kelvin else ""
            row = Text(f"{state.name[:20]:20} {100 * state.level:5.1f} % ")
            row.append(f"{blocks:24}", style=f"rgb({red},{green},{blue})")
            row.append(kelvin)
            table.add_row(row)
        return table
