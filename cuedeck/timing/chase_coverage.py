"""Whether a timecode that was followed ran through a whole shot, and what was missing where it did not.

A take that follows timecode is complete where one run of it, locked and forwards, goes from before the start of
the shot to its end. A run ends where the timecode jumps or stops; what came before the last run does not count,
since the rig and the camera began anew with it.
"""

from __future__ import annotations

from dataclasses import dataclass

from cuedeck.timing.chase import Chased, ChaseState
from cuedeck.timing.timecode import Timecode

LOCKING_S = 1 / 6
"""Four frames of 24. It takes two labels in a row to lock, and MIDI tells of itself only every other frame: a shot
whose timecode starts with it is a whole one, held at its first packet until then."""


@dataclass
class _Run:
    """The timecode from one jump to the next."""

    first: Chased
    last: Chased
    """Where it was locked last."""
    is_inside: bool = False
    """Whether a packet of it lay between the first of the shot and the last."""
    is_at_end: bool = False
    """Whether it was locked at the last packet of the shot."""


class ChaseCoverage:
    """Looks on while a shot follows timecode."""

    def __init__(self, origin: Timecode, end: Timecode, last_packet: int, period_s: float) -> None:
        self._origin = origin
        self._end = end
        self._last_packet = last_packet
        self._latest_start_s = LOCKING_S + period_s
        self._run: _Run | None = None
        self._broken: _Run | None = None
        """The run that was inside the shot when another one began."""
        self._latest: Chased | None = None

    def take(self, chased: Chased, packet: int) -> None:
        """Take where the timecode is at a packet time, and the packet of the shot that is sent for it."""
        before, self._latest = self._latest, chased
        if chased.state is ChaseState.STOPPED:
            return
        if self._run is None or before is None or chased.jumps != before.jumps:
            if self._run is not None and self._run.is_inside and not self._run.is_at_end:
                self._broken = self._run
            self._run = _Run(chased, chased)
        is_locked = chased.state is ChaseState.LOCKED
        self._run.last = chased if is_locked else self._run.last
        self._run.is_inside |= 0 < packet < self._last_packet
        self._run.is_at_end |= is_locked and packet == self._last_packet

    def fault(self, foreign: Timecode | None, *, was_cut: bool) -> str:
        """Return what was missing, in words; nothing where the timecode ran through the whole shot.

        `foreign` is a label that was passed over since it is counted differently. Of a take that was cut only what
        was wrong until then is said.
        """
        run = self._run
        if run is None:
            return self._never_locked(foreign)
        return self._wrong_place(run) or self._wrong_start(run) or ("" if was_cut else self._wrong_end(run, foreign))

    def _never_locked(self, foreign: Timecode | None) -> str:
        if foreign is not None:
            return f"the timecode was never locked: {self._counted(foreign)}"
        if self._latest is not None and self._latest.label is not None:
            return f"the timecode never ran: it stood at {self._latest.label}"
        return "no timecode came: see that it is sent, and that its level is not too low"

    def _counted(self, foreign: Timecode) -> str:
        rate = self._origin.rate
        return (
            f"it counts {foreign.rate}, and the camera {rate}; write 'fps:' and 'timecode:' of the camera as the"
            f" timecode is, or send {rate}"
        )

    def _wrong_place(self, run: _Run) -> str:
        ran = f"the timecode ran from {run.first.label} to {run.last.label}"
        if run.first.speed < 0:
            return f"{ran}, backwards"
        if run.is_inside:
            return ""
        if self._is_late(run):
            return f"{ran}, and the shot ends at {self._end}: see 'starts at'"
        return "" if run.is_at_end else f"{ran}, and the shot begins at {self._origin}: see 'starts at'"

    def _is_late(self, run: _Run) -> bool:
        return run.first.position_s is not None and run.first.position_s > self._latest_start_s

    def _wrong_start(self, run: _Run) -> str:
        if not self._is_late(run):
            return ""
        if self._broken is not None:
            return f"the timecode broke off at {self._broken.last.label}, and went on at {run.first.label}"
        return f"the timecode began at {run.first.label}, and the shot at {self._origin}"

    def _wrong_end(self, run: _Run, foreign: Timecode | None) -> str:
        if run.is_at_end:
            return ""
        after = f"; after that {self._counted(foreign)}" if foreign is not None else ""
        return f"the timecode broke off at {run.last.label}, and the shot ends at {self._end}{after}"
