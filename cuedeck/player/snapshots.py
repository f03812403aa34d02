"""What clients are told of the light: snapshots, made right after a packet has left.

A packet is due every few milliseconds, and this is the work that goes on beside it: it is begun when a packet has
just left, so that it is done long before the next.
"""

from __future__ import annotations

import sys
import threading
import time
import traceback
from collections.abc import Callable

from cuedeck.player.channel.events import AnyEvent, OutputState, Snapshot, packed
from cuedeck.player.channel.message import MOST_OUTPUTS
from cuedeck.player.channel.silence import BEAT_S
from cuedeck.player.line.last_look import Route
from cuedeck.player.service import Service
from cuedeck.player.session import Session
from cuedeck.player.take.report import not_there, output_state

LEAST_APART_NS = 36_000_000
"""From one snapshot to the next while light changes."""
AT_REST_S = 1.0
"""The same while it stands: what changes then are the counts of packets."""
LOOK_AT_SHOW_S = 0.5
"""From one look at the files of the show to the next."""


class SnapshotThread:
    """Publishes how everything stands, from a thread of its own, and does the rest of the housekeeping."""

    def __init__(
        self,
        session: Session,
        service: Service,
        publish: Callable[[AnyEvent], None],
        beat: Callable[[], None],
        priority: str,
    ) -> None:
        self._session = session
        self._service = service
        self._publish = publish
        self._beat = beat
        self._priority = priority
        self._last: Snapshot | None = None
        self._said_s = 0.0
        """When something was said last."""
        self._slots: tuple[object, bytes] = (None, b"")
        self._has_ended = False
        self._thread = threading.Thread(target=self._tell, name="snapshots", daemon=True)
        self._watching = threading.Thread(target=self._watch, name="show files", daemon=True)

    def start(self) -> None:
        self._thread.start()
        self._watching.start()

    def end(self) -> None:
        """Say nothing more."""
        self._has_ended = True

    def tell_now(self) -> None:
        """Publish how everything stands, where that is new."""
        snapshot = self.snapshot()
        if snapshot != self._last:
            self._last, self._said_s = snapshot, time.monotonic()
            self._publish(snapshot)

    def snapshot(self) -> Snapshot:
        session, service = self._session, self._service
        running, route = service.running, session.routes.current
        progress = None if running is None else running.control.progress
        chased = None if progress is None else progress.chased
        return Snapshot(
            state=session.machine.state.value,
            is_blacked_out=session.line_out.is_blacked_out,
            controller=service.clients.controller,
            shot="" if running is None else running.plan.name,
            slate="" if running is None else running.slate,
            speed="" if running is None else str(running.plan.speed),
            counting_s=0.0 if progress is None else progress.counting_s,
            packet=0 if progress is None else progress.packet,
            packet_count=0 if progress is None else progress.packet_count,
            time_s=0.0 if progress is None else progress.time_s,
            next_cue="" if progress is None else progress.next_operator_cue or "",
            waits_for="" if progress is None else progress.waits_for,
            is_held=progress is not None and progress.is_held,
            chased="" if chased is None else str(chased),
            fired=() if progress is None else tuple((one.cue, one.packet) for one in progress.fired),
            outputs=self._outputs(route),
            late_ms=0.0 if progress is None else progress.latest_ns / 1e6,
            last_take=service.last_take,
            log_problem="" if running is None or running.recording is None else running.recording.recorder.trouble,
            show_problem=service.show_problem or session.fault or session.line_out.blackout.problem,
            priority=self._priority,
            refresh_hz=0.0 if route is None else route.line.refresh_hz,
            is_lit=session.is_lit and not session.line_out.is_blacked_out,
            universes=() if route is None else route.line.universes,
            slots=self._packed(),
        )

    def _outputs(self, route: Route | None) -> tuple[OutputState, ...]:
        open_ones = () if route is None else tuple(output_state(outlet.tally) for outlet in route.outlets)
        others = (one for one in self._service.missing if route is None or one not in route.targets)
        return (*open_ones, *map(not_there, others))[:MOST_OUTPUTS]

    def _packed(self) -> bytes:
        last = self._session.line_out.last
        if last is None:
            return b""
        if self._slots[0] is not last.slots:
            self._slots = (last.slots, packed(last.slots.tobytes()))
        return self._slots[1]

    def _tell(self) -> None:
        line_out, told_s, told_of = self._session.line_out, 0.0, self._state()
        tell, end_if_alone = Repeated(self.tell_now), Repeated(self._service.end_if_alone)
        while not self._has_ended:  # what is done at the end of the session may take its time
            line_out.has_sent.wait(BEAT_S)
            line_out.has_sent.clear()
            line_out.wakes_from_ns = self._session.clock.now_ns() + LEAST_APART_NS
            self._service.pulse.beat()
            now_s, state = time.monotonic(), self._state()
            if self._light_changes() or state != told_of or now_s - told_s >= AT_REST_S:
                told_s, told_of = now_s, state
                tell()
            if now_s - self._said_s > BEAT_S / 2:  # the next chance may be a whole beat away
                self._said_s = now_s
                self._beat()
            end_if_alone()

    def _state(self) -> tuple[object, ...]:
        """Return what is told at once when it is another, and costs little to look at."""
        session, service = self._session, self._service
        clients = service.clients
        wrong = (session.fault, session.line_out.blackout.problem, service.show_problem, service.missing)
        is_taking = service.running is not None
        seen = (session.line_out.is_blacked_out, clients.controller, len(clients))
        return session.machine.state, is_taking, service.last_take, seen, wrong

    def _light_changes(self) -> bool:
        last = self._session.line_out.last
        return self._service.running is not None or (last is not None and last.slots is not self._slots[0])

    def _watch(self) -> None:
        refresh, look_for_ports = Repeated(self._service.refresh), Repeated(self._service.look_for_ports)
        while not self._session.is_over.wait(LOOK_AT_SHOW_S):
            look_for_ports()
            refresh()


class Repeated:
    """Does something again and again: what fails at it may succeed the next time, and is written down once."""

    def __init__(self, what: Callable[[], None]) -> None:
        self._what = what
        self._failed = ""

    def __call__(self) -> None:
        """Do it."""
        try:
            self._what()
        except Exception as error:
            failed = f"{type(error).__name__}: {error}"
            if failed != self._failed:
                traceback.print_exc(file=sys.stderr)  # the player's log
            self._failed = failed
