"""What others may ask of a running take and see of it, from any thread."""

from __future__ import annotations

import queue
import threading
from collections.abc import Callable
from dataclasses import dataclass

from cuedeck.player.states import Machine, PlayerState, Transition
from cuedeck.timeline.plan import FiredCue
from cuedeck.timing.chase import Chased


@dataclass(frozen=True)
class TakeProgress:
    """Where a take is, for screens."""

    state: PlayerState
    counting_s: float
    """Seconds to the start while counting."""
    packet: int
    packet_count: int
    time_s: float
    next_operator_cue: str | None
    chased: Chased | None = None
    """Where the timecode is that the take follows."""
    is_held: bool = False
    """Whether the shot is held where it is."""
    fired: tuple[FiredCue, ...] = ()
    """What was fired so far."""
    latest_ns: int = 0
    """How late the latest of the packets left so far."""
    waits_for: str = ""
    """The cue that the take goes on for, past its length; nothing before that."""


class TakeControl:
    """What others may ask of a running take, from any thread."""

    def __init__(
        self,
        machine: Machine | None = None,
        on_transition: Callable[[Transition], None] = lambda _: None,
        *,
        keeps_light: bool = False,
    ) -> None:
        """`on_transition` is told of every step of the take, in the thread that sends."""
        self._machine = Machine(PlayerState.STANDING_BY) if machine is None else machine
        self._stop = threading.Event()
        self._start = threading.Event()
        self._go: queue.SimpleQueue[str | None] = queue.SimpleQueue()
        self._held = threading.Event()
        self.progress: TakeProgress | None = None
        """Where the take is; replaced, never changed."""
        self._on_transition = on_transition
        self.keeps_light = keeps_light
        """Whether the last look is to stand when the take is over, whatever the show says."""

    @property
    def state(self) -> PlayerState:
        """What the player does with the take."""
        return self._machine.state

    def happened(self, what: Transition) -> None:
        """Go on to the next state; only the thread that sends calls it."""
        self._machine.happened(what)
        self._on_transition(what)

    def stop(self) -> None:
        """Cut the take with the next packet."""
        self._stop.set()

    def fire_next(self) -> None:
        """Fire the next operator cue with the next packet."""
        self._go.put(None)

    def fire(self, cue: str) -> None:
        """Fire a cue by name with the next packet; one that does not wait to be fired is let pass."""
        self._go.put(cue)

    def start(self) -> None:
        self._start.set()

    def hold(self, is_held: bool | None = None) -> None:
        """Hold the shot where it is from the next packet on, or let it go on; without a word, the other of the two."""
        if not self._held.is_set() if is_held is None else is_held:
            self._held.set()
        else:
            self._held.clear()

    @property
    def is_held(self) -> bool:
        return self._held.is_set()

    @property
    def is_started(self) -> bool:
        return self._start.is_set()

    @property
    def is_rolling(self) -> bool:
        """Whether packets of the shot are leaving, be it held or not."""
        progress = self.progress
        return progress is not None and (progress.state is PlayerState.ROLLING or progress.is_held)

    @property
    def is_stopped(self) -> bool:
        return self._stop.is_set()

    def take_fired(self) -> list[str | None]:
        """Return what was fired since the last call and forget it: names, up to the first press for the next cue."""
        fired: list[str | None] = []
        while None not in fired:
            try:
                fired.append(self._go.get_nowait())
            except queue.Empty:
                break
        return fired
