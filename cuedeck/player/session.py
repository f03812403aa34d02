"""What the player does: takes and looks, one after the other, without a gap on the line between them.

Three kinds of threads meet here. The one that calls `run` sends packets and does nothing else: what it is to do
next comes to it as a job. Clients ask in threads of the channel; what may take its time (opening ports, reading
the show) is done there, before the job. What is left to do after a take is done in a thread of its own.
"""

from __future__ import annotations

import math
import queue
import threading
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from cuedeck.arrays import Slots
from cuedeck.clock import Clock
from cuedeck.errors import Refusal, internal_error
from cuedeck.player.line.blackout import Blackout
from cuedeck.player.line.last_look import Route
from cuedeck.player.line.line_out import OUT_PACKETS, LineOut
from cuedeck.player.line.routes import Routes
from cuedeck.player.states import Machine, NotNow, PlayerState, Transition

if TYPE_CHECKING:
    from cuedeck.player.take.control import TakeControl  # only named: light that is resumed must not wait for the show

Job = Callable[[], None]
LONGEST_WAIT_S = 30.0
"""For a job to be begun: none takes longer than the end of a take that is cut."""
LOOKS_AGAIN_S = 0.1
"""How often whoever waits for a job looks whether it can still be done."""
CALM_HZ = 25.0
"""How fast the last packets go out: none may take the place of another on a line that is slower than the refresh."""
GIVEN_UP = "nobody waits for it any more, so it is not done"
BREATH_S = 0.02
"""Before what has failed at once is tried again."""


@dataclass
class AwaitedJob:
    """A job that somebody waits for."""

    done: threading.Event = field(default_factory=threading.Event)
    problem: Refusal | None = None
    _claimed: threading.Lock = field(default_factory=threading.Lock)

    def claim(self) -> bool:
        """Begin it or give it up: only the first who calls this may. What was given up is never done later."""
        return self._claimed.acquire(blocking=False)


def _always() -> bool:
    return True


class Session:
    """The light of one player, from its start to its end."""

    def __init__(
        self, clock: Clock, last_look: Path, tell: Callable[[str], None], blackout: Blackout | None = None
    ) -> None:
        self.clock = clock
        self.machine = Machine()
        self.line_out = LineOut(blackout=blackout, before_out=self._hand_over)
        self.routes = Routes(self.line_out, clock, last_look, tell)
        self.after = ThreadPoolExecutor(max_workers=1, thread_name_prefix="after")
        """For what is done after a take, and out of the way of packets."""
        self.after.submit(lambda: None)  # its thread begins here, and not with the priority of the one that sends
        self.control: TakeControl | None = None
        """The take that is on the line, while there is one."""
        self.fault = ""
        """What broke."""
        self.is_over = threading.Event()
        self._has_ended = threading.Event()
        self._tell = tell
        self._jobs: queue.SimpleQueue[Job] = queue.SimpleQueue()
        self._still: Slots | None = None

    @property
    def is_lit(self) -> bool:
        """Whether there is more on the line than what a blackout leaves."""
        route, look = self.routes.current, self.line_out.look
        return route is not None and look is not None and not np.array_equal(look, route.dark)

    @property
    def is_needed(self) -> bool:
        """Whether packets are needed on the line: for light, or for a lamp that must not go out."""
        route = self.routes.current
        return self.is_lit or (route is not None and route.stays_lit)

    def run(self) -> None:
        """Do job after job, and hold what they left on the line, until it is over."""
        while not self.is_over.is_set():
            try:
                self._next_job()()
            except Exception as error:
                self._broke(error)
        self._has_ended.set()

    def resume(self, route: Route, slots: Slots) -> None:
        """Begin with the look that another player left; to be called before `run`, in its thread."""
        self._stand(self.routes.ready_again(route, replace(route.line, is_resumed=True)), slots)

    def do(self, job: Job, *, waits: bool = True, is_wanted: Callable[[], bool] = _always) -> None:
        """Have a job done by the thread that sends, and wait until it is; only if it is wanted when its turn comes.

        Raises what is wrong with it.
        """
        awaited = AwaitedJob()

        # Who waits may give up while the job is still queued. `claim` decides: begun or given up, never both.
        def told() -> None:
            try:
                if not is_wanted():
                    raise NotNow(GIVEN_UP)
                if awaited.claim():
                    job()
            except Refusal as refused:
                awaited.problem = refused
            except Exception as error:
                awaited.problem = Refusal(internal_error(error))
                raise  # who asked hears of it, and `run` holds the light
            finally:
                awaited.done.set()

        self._jobs.put(told)
        if waits and not self._is_done(awaited, LONGEST_WAIT_S):
            if awaited.claim():
                raise Refusal("the player is busy: try again")
            self._is_done(awaited, math.inf)  # it has just begun after all
        if awaited.problem is not None:
            raise awaited.problem

    def show(self, route: Route, slots: Slots, *, waits: bool = True, is_wanted: Callable[[], bool] = _always) -> None:
        """Put a look on the line, shape (universes, 512), and wait for its first packet. Raises NotNow."""
        self.do(lambda: self._stand(route, slots), waits=waits, is_wanted=is_wanted)

    def take(
        self, route: Route, control: TakeControl, run: Callable[[], None], *, is_wanted: Callable[[], bool] = _always
    ) -> None:
        """Run a take: `run` is called in the thread that sends, and returns at the end of it.

        Raises Refusal where it could not begin; the player does then what it did before.
        """
        begun = AwaitedJob()
        self.control = control

        def job() -> None:
            before = self.machine.state
            try:
                if not is_wanted():
                    raise NotNow(GIVEN_UP)
                self.machine.happened(Transition.STOOD_BY)
                self.routes.take_up(route)
            except Exception as error:
                self.machine.state, self.control = before, None
                begun.problem = error if isinstance(error, Refusal) else Refusal(internal_error(error))
                return
            finally:
                begun.done.set()  # the client is answered when the take begins, not when it ends
            try:
                run()
            finally:
                self._still = self.line_out.look  # what is not dark under a blackout: its release shows it again
                self.control = None
                self.after.submit(self.routes.let_go_of_unused)

        self._jobs.put(job)
        self._is_done(begun, math.inf)
        if begun.problem is not None:
            raise begun.problem

    def let_go(self, *, waits: bool = True, is_wanted: Callable[[], bool] = _always) -> None:
        """Put the light out and send no more, unless a take is under way. Raises NotNow."""
        self.do(self._let_go, waits=waits, is_wanted=is_wanted)

    def end(self) -> None:
        """End the session, with the light as it is: a take is cut first. From any thread."""
        if self.control is not None:
            self.control.stop()
        self.is_over.set()
        self._jobs.put(lambda: None)  # `run` waits for a job where nothing is held

    def close(self, *, has_failed: bool = False) -> None:
        """Close everything, and leave the last look for the next player where this one failed; safe to call twice."""
        self.after.shutdown()
        self.routes.close(keeps_look=has_failed)

    def _is_done(self, awaited: AwaitedJob, within_s: float) -> bool:
        """Wait for a job, and return whether it was begun. Raises NotNow where the session ended before."""
        waited_s = 0.0
        while not awaited.done.wait(LOOKS_AGAIN_S):
            waited_s += LOOKS_AGAIN_S
            if self._has_ended.is_set() and not awaited.done.is_set():
                raise NotNow("the player is just ending: try again")
            if waited_s >= within_s:
                return False
        return True

    def _next_job(self) -> Job:
        # A held look is sent until a job is there, and the line then has no gap: the job's first packet is next.
        route, still = self.routes.current, self._still
        if route is not None and still is not None:
            self.line_out.hold(self.clock, route.line.refresh_hz, still, lambda: not self._jobs.empty())
        return self._jobs.get()

    def _stand(self, route: Route, slots: Slots) -> None:
        self.machine.happened(Transition.SHOWN)  # first: where it is refused, nothing was changed
        self.routes.take_up(route)
        self._still = slots
        self.line_out.hold(self.clock, route.line.refresh_hz, slots, lambda: False, most=1)
        # Only now, when the new look is on the line: closing a port and a disk may both take long.
        self.after.submit(self.routes.let_go_of_unused)
        self.after.submit(self.routes.sync)

    def _let_go(self) -> None:
        self.machine.happened(Transition.LET_GO)
        self._hand_over()  # before `current` is read: it takes outputs out of it
        route = self.routes.current
        if route is not None:
            calm_hz = min(route.line.refresh_hz, CALM_HZ)
            self.line_out.hold(self.clock, calm_hz, route.dark, lambda: False, most=OUT_PACKETS)
        self._still = None
        self.routes.let_go()
        self.after.submit(self.routes.let_go_of_unused)

    def _hand_over(self) -> tuple[str, ...]:
        """End the streams that have a spare before anything dark is sent on them; not where all is to be dark."""
        names = () if self.line_out.is_blacked_out else self.routes.leave_to_spare()
        if names:
            self.after.submit(self.routes.let_go_of_unused)
            left = f"{', '.join(names)} ended with its last look: the lights follow the second computer now"
            self.after.submit(self._tell, left)
        return names

    def _broke(self, error: Exception) -> None:
        """Hold what is on the line, whatever went wrong, and say so; once, where it goes wrong again and again."""
        before, self.fault = self.fault, f"{type(error).__name__}: {error}"
        is_told = before == self.fault and self.machine.state is PlayerState.FAULTED
        self.machine.happened(Transition.BROKE)
        self._still = self.line_out.look
        if is_told:
            self.is_over.wait(BREATH_S)  # what fails at once would take all of the processor
        else:
            self._tell(f"{internal_error(error)}; the light is held as it was")
