"""One take in the log: opened before its first packet, closed when it is over."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import suppress
from dataclasses import replace
from pathlib import Path

from cuedeck.clock import Clock
from cuedeck.errors import Refusal
from cuedeck.output.base import Line
from cuedeck.player.channel.requests import Begin
from cuedeck.player.runtime_directory import log_places
from cuedeck.player.take.result import TakeResult, reason_of
from cuedeck.takes.carried import runs_of
from cuedeck.takes.reading import TAKES_FILE
from cuedeck.takes.recorder import Recorder
from cuedeck.takes.spool import take_in
from cuedeck.takes.store import TakeStore
from cuedeck.takes.take import Lateness, Status, Take
from cuedeck.takes.trouble import ELSEWHERE, TakesUnreadable
from cuedeck.timeline.plan import ShotPlan


def close_left_behind(folder: Path) -> list[str]:
    """Close the takes that a killed player left behind, as broken, and return what is to be told of them.

    Only for the one player of a folder, at its start.
    """
    told = take_in(folder / TAKES_FILE, log_places())
    try:
        with TakeStore(folder) as store:
            is_left = any(take.status is Status.ROLLING for take in store.takes())
        if is_left:
            with TakeStore(folder, create=True) as store:
                store.close_left_behind()
    except TakesUnreadable:
        pass  # the next take says what is wrong with them
    return told


class Recording:
    """A take while it is recorded. Raises Refusal where the log cannot be written."""

    def __init__(
        self, folder: Path, plan: ShotPlan, line: Line, asked: Begin, clock: Clock, tell: Callable[[str], None]
    ) -> None:
        self.path = Path(asked.log) if asked.log else folder / TAKES_FILE
        """The file that the take is in."""
        self._places = log_places()
        self._tell = tell
        for what in take_in(self.path, self._places):
            tell(what)
        try:
            with TakeStore(folder, create=True, file=self.path) as store:
                self.take = store.begin(
                    plan.name,
                    line,
                    plan.refresh_hz,
                    plan.timeline().packet_count,
                    asked.to,
                    asked.chase or "",
                    plan.speed,
                    plan.is_axis_live,
                )
        except TakesUnreadable as unreadable:
            raise Refusal(f"{unreadable}; {ELSEWHERE}") from unreadable
        self.recorder = Recorder(self.path, self.take, clock, self._places)
        self.recorder.open(line)

    def finish(self, result: TakeResult) -> Take | None:
        """Write what is left and close the take; return it, or None for one that never rolled, which is forgotten.

        Raises TakesUnreadable where it could not be closed anywhere.
        """
        self.recorder.close()
        if result.counting_was_cut:
            self._discard()
            return None
        if self.recorder.lost:
            result.lost[self.recorder.name] = self.recorder.story
        status = Status.CUT if result.was_cut else Status.COMPLETE if result.is_complete else Status.INCOMPLETE
        ended = replace(
            self.take,
            status=status,
            packets_due=result.packets_due,
            packets_sent=result.packets_sent,
            fired=tuple(result.fired),
            lateness=Lateness.of(result.late_ns),
            carried=tuple(runs_of(result.carried or ())),
            reason=reason_of(result),
            log=self.recorder.story,
        )
        try:
            return self._finished_in_log(ended)
        except TakesUnreadable as unwritten:
            return self._finished_beside(ended, unwritten)

    def abandon(self) -> None:
        """Forget a take that could not begin."""
        self.recorder.close()
        self._discard()

    def _discard(self) -> None:
        """Forget the take; where the log cannot be written now, the next player closes it as broken."""
        self.recorder.spool.remove()
        with suppress(TakesUnreadable), TakeStore(self.path.parent, create=True, file=self.path) as store:
            store.discard(self.take)

    def _finished_in_log(self, ended: Take) -> Take:
        spool = self.recorder.spool
        if self.recorder.lacks_some:
            spool.close()
            take_in(self.path, self._places)
        with TakeStore(self.path.parent, create=True, file=self.path) as store:
            missing = [block for block in self.recorder.blocks if block.first not in store.firsts(ended.key)]
            number = store.put_in(self.take, missing)
            take = store.finish_as(replace(ended, id=number, number=store.by_id(number).number))
        spool.remove()
        return take

    def _finished_beside(self, ended: Take, unwritten: TakesUnreadable) -> Take:
        """Close the take in the second file, whole, to be taken in when the log can be written."""
        spool = self.recorder.spool
        try:
            spool.put(self.recorder.blocks)
            take, self.path = spool.finish(ended)
        except TakesUnreadable as nowhere:
            raise TakesUnreadable(
                unwritten.path, unwritten.trouble, f"{unwritten.detail}; and {nowhere.in_short}: {ended.slate} is lost"
            ) from nowhere
        finally:
            spool.close()
        self._tell(
            f"{unwritten.in_short}: take {take.slate} is kept in {self.path}, until a take or 'cuedeck takes' can"
            " write it to the log"
        )
        return take
