"""One take in the log: opened before its first packet, closed when it is over."""

from __future__ import annotations

from pathlib import Path

from cuedeck.clock import Clock
from cuedeck.output.base import Line, OutputLost
from cuedeck.player.floor import Asked
from cuedeck.player.take_result import TakeResult, reason_of
from cuedeck.takes.recorder import Recorder
from cuedeck.takes.store import Lateness, Status, Take, TakeStore, TakesUnreadable
from cuedeck.timeline.plan import ShotPlan


def close_left_behind(folder: Path) -> None:
    """Close the takes that a killed player left behind, as lost. Only for the one player of a folder, at its start."""
    try:
        with TakeStore(folder) as store:
            is_left = any(take.status is Status.ROLLING for take in store.takes())
        if is_left:
            with TakeStore(folder, create=True) as store:
                store.close_left_behind()
    except TakesUnreadable:
        return  # the next take says what is wrong with them


class Recording:
    """A take while it is recorded. Raises TakesUnreadable where the log cannot be written."""

    def __init__(self, folder: Path, plan: ShotPlan, line: Line, asked: Asked, clock: Clock) -> None:
        self._store = TakeStore(folder, create=True)
        try:
            self.take = self._store.begin(
                plan.name,
                line,
                plan.refresh_hz,
                plan.timeline().packet_count,
                asked.to,
                asked.chase or "",
                plan.speed,
                plan.is_axis_live,
            )
        except BaseException:
            self._store.close()
            raise
        self.recorder = Recorder(self._store, self.take.id, clock)
        self.recorder.open(line)

    def __repr__(self) -> str:
        return f"<Recording of {self.take.slate}>"

    def finish(self, result: TakeResult) -> Take | None:
        """Write what is left and close the take; return it, or None for one that never rolled, which is forgotten.

        Raises TakesUnreadable.
        """
        try:
            self._close_recorder(result)
            if not self._store.path.exists():
                away = "the folder of the show was moved or deleted during the take, and its log with it"
                result.lost[self.recorder.name] = f"{self._store.path} is gone: {away}"
            if result.counting_was_cut:
                self._store.discard(self.take)
                return None
            status = Status.CUT if result.was_cut else Status.COMPLETE if result.is_complete else Status.INCOMPLETE
            late, carried = Lateness.of(result.late_ns), result.carried or ()
            return self._store.finish(
                self.take.id,
                status,
                result.packets_due,
                result.packets_sent,
                result.fired,
                late,
                carried,
                reason_of(result),
            )
        finally:
            self._store.close()

    def abandon(self) -> None:
        """Forget a take that could not begin."""
        self.recorder.close()
        self._store.discard(self.take)
        self._store.close()

    def _close_recorder(self, result: TakeResult) -> None:
        try:
            self.recorder.close()
        except OutputLost as lost:
            result.lost[self.recorder.name] = str(lost)
