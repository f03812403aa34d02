"""The player as its clients see it: who may ask for what, takes, looks, and the show behind them.

One client has control: the first that asks for something, until it goes or another takes it over. A blackout and its
release are open to all. When the client in control is lost during a take, the take plays to its end and its last
look stays.
"""

from __future__ import annotations

import gc
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from fractions import Fraction

import numpy as np

from cuedeck.errors import Refusal, internal_error
from cuedeck.folder.folder import ShowFolder
from cuedeck.output.base import line_of
from cuedeck.output.targets import missing
from cuedeck.player.channel import requests
from cuedeck.player.channel.control import Clients
from cuedeck.player.channel.events import AnyEvent, LastTake, Notice
from cuedeck.player.channel.requests import AnyRequest
from cuedeck.player.channel.silence import Pulse, now_ms
from cuedeck.player.session import GIVEN_UP, Session
from cuedeck.player.show_keeper import ShowKeeper
from cuedeck.player.states import NotNow, Transition
from cuedeck.player.take.preparing import Prepared, TakePreparation
from cuedeck.player.take.report import ended, stretch
from cuedeck.player.take.result import TakeResult
from cuedeck.show.units import FULL_UNIVERSE
from cuedeck.timeline.choosing import sound_plan_of
from cuedeck.timeline.opening import OpenedShow
from cuedeck.timeline.plan import FiredCue, refresh_of


@dataclass(frozen=True)
class StandingPacket:
    """The packet of a shot that stands on the line after a take, so that an edit can be seen in it."""

    shot: str
    speed: Fraction
    fired: tuple[FiredCue, ...]
    packet: int
    is_dark: bool


class Service:
    """Carries out what clients ask."""

    def __init__(
        self,
        session: Session,
        keeper: ShowKeeper,
        publish: Callable[[AnyEvent], None],
        on_answer: Callable[[], None] = lambda: None,
    ) -> None:
        """`on_answer` is called when something that was asked for is done, before the client is told so."""
        self._session = session
        self._keeper = keeper
        self._publish = publish
        self._on_answer = on_answer
        self._preparation = TakePreparation(
            keeper.path,
            session.clock,
            session.machine,
            session.line_out,
            session.routes,
            self.tell,
            self._count_outputs,
        )
        self._slow = threading.Lock()
        """Held while something is prepared that may take its time."""
        self.clients = Clients()
        self.pulse = Pulse()
        self._standing: StandingPacket | None = None
        self._begun = 0
        """How many takes were about to begin."""
        self.running: Prepared | None = None
        """The take that is under way, until it is in the log."""
        self.last_take: LastTake | None = None
        self._expected: dict[int, tuple[str, ...]] = {}
        """Where the packets of each client will go."""
        self.missing: tuple[str, ...] = ()
        """The outputs of these whose port is not there."""
        self.show_problem = ""
        """What is wrong with the show as it is on the disk."""

    # What the channel hands over.

    def came(self, client: int) -> None:
        self.clients.came(client)

    def left(self, client: int, on_purpose: bool) -> None:
        """Count a client out; what it left running goes on."""
        self._expected.pop(client, None)
        had_control, running = self.clients.left(client), self.running
        if had_control and running is not None and not (on_purpose and self.clients):
            running.control.keeps_light = True
        if on_purpose and self._is_done_with:
            self._session.end()

    def answer(self, client: int, request: AnyRequest) -> None:
        """Carry out a request. Raises Refusal."""
        line_out = self._session.line_out
        if not self._is_timely(request):
            raise NotNow(GIVEN_UP)
        if isinstance(request, requests.StartBlackout):
            line_out.is_blacked_out = True
        elif isinstance(request, requests.Release) and line_out.is_blacked_out and not request.keeps_blackout:
            line_out.is_blacked_out = False  # whoever may black out may undo it
        elif isinstance(request, requests.Control):
            self.clients.controller = client
        elif isinstance(request, requests.Expect):
            self._expected[client] = request.to
            self.look_for_ports()
        else:
            self.clients.grant(client)
            self._carry_out(client, request)
        self._on_answer()

    def _is_timely(self, asked: AnyRequest) -> bool:
        """Whether it is not too late: its time has not passed, and the player did not stand still since."""
        is_in_time = asked.until_ms is None or now_ms() <= asked.until_ms
        return is_in_time and not self.pulse.has_missed_since(asked.asked_ms)

    def _carry_out(self, client: int, request: AnyRequest) -> None:
        match request:
            case requests.Begin():
                self._begin(client, request)
            case requests.ShowLook():
                self._show(client, request)
            case requests.Reload():
                self.refresh()
            case requests.Quit():
                self._quit()
            case requests.Release():
                self._release(request)
            case requests.Start():
                self._take().control.start()
            case requests.Fire(cue=cue):
                self._take().fire(cue)
            case requests.Hold(is_held=is_held):
                self._take().control.hold(is_held)
            case requests.Stop():
                self._take().control.stop()

    # What may be asked at any time.

    def look_for_ports(self) -> None:
        """See which of the outputs that are expected are not there."""
        targets = [target for targets in tuple(self._expected.values()) for target in targets]
        self.missing = missing(tuple(dict.fromkeys(targets)))

    def tell(self, what: str) -> None:
        """Tell every client what a person should know."""
        self._publish(Notice(text=what))

    def refresh(self) -> None:
        """Take up the show where it was changed; while a take is under way, that waits for its end.

        The look of a shot that is held is rendered anew; the line has no gap meanwhile.
        """
        if self.running is not None:  # without the lock, which is held for long while a take is prepared
            return
        with self._slow:
            if self.running is not None:  # it was being prepared: the look from before it is no longer the one to show
                return
            opened, standing = self._keeper.refreshed(), self._standing
            problem = self._keeper.problem or self.show_problem
            if opened is not None:
                errors = () if standing is None else opened.errors_of(standing.shot)
                problem = "\n".join(str(error) for error in errors)
            if problem != self.show_problem:
                self.show_problem = problem
                if problem:
                    self.tell(f"the show was changed and cannot run; the light stays as it was:\n{problem}")
            if opened is not None and standing is not None and not problem:
                with suppress(Refusal):  # the shot is gone: what stands on the line stays
                    self._render_anew(opened, standing)

    def end_if_alone(self) -> None:
        """End the session where nobody has been there for some seconds, and there is no light to keep."""
        if self.clients.are_given_up and self._is_done_with:
            self._session.end()

    # What is done.

    @property
    def _is_done_with(self) -> bool:
        """Whether nobody is there, and nothing that anybody would miss."""
        is_free = not self.clients and self.running is None and not self._slow.locked()
        return is_free and not self._session.is_needed and not self._session.line_out.is_blacked_out

    def _take(self) -> Prepared:
        if self.running is None:
            raise NotNow("no take is under way")
        return self.running

    def _require_free(self) -> None:
        if self._session.is_over.is_set():
            raise NotNow("the player is just ending: try again")
        if self.running is not None:
            what = f"take {self.running.slate}" if self.running.slate else "a rehearsal"
            raise NotNow(f"{what} is under way: stop it first")

    @contextmanager
    def _preparing(self) -> Iterator[None]:
        """Have something prepared while nothing else is; where that fails, what is on the line is as it was."""
        with self._slow:
            self._require_free()
            try:
                yield
            except BaseException:
                self._put_back()
                raise

    def _put_back(self) -> None:
        """Let go of outputs that are not wanted after all, and open again what was closed to make room for them."""
        session = self._session
        lacks_one = session.routes.forget()
        current, look = session.routes.current, session.line_out.look
        if lacks_one and current is not None and look is not None:
            with suppress(Refusal):
                route = session.routes.ready_again(current, current.line)
                session.show(route, look)
        with suppress(RuntimeError):  # the session has ended, and lets go of everything itself
            session.after.submit(session.routes.let_go_of_unused)

    def _begin(self, client: int, asked: requests.Begin) -> None:
        with self._preparing():
            prepared = self._preparation.prepare(asked, self._show_for(asked))
            self.running = prepared  # before the session has it: a refresh that runs beside must find it
            self._begun += 1
            try:
                self._session.take(
                    prepared.route,
                    prepared.control,
                    lambda: self._run(prepared),
                    is_wanted=lambda: self._is_wanted(client, asked),
                )
            except BaseException:
                self.running = None
                prepared.abandon()
                raise

    def _show_for(self, asked: requests.Begin) -> OpenedShow:
        """Return the show as it is on the disk, or where it is rehearsed unsaved, as it is edited. Raises Refusal."""
        if not asked.texts:
            return self._keeper.opened()
        try:
            return ShowFolder(self._keeper.path, requests.unpacked_texts(asked.texts)).open()
        except ValueError as error:
            raise Refusal(str(error)) from error

    def _count_outputs(self, what: Transition) -> None:
        """Note what the outputs had sent when the shot started, and what came to it when it ended."""
        prepared = self.running
        if prepared is None:
            return
        tallies = tuple(outlet.tally for outlet in prepared.route.outlets)
        if what is Transition.STARTED:
            prepared.tallies_before = tallies
        elif what is Transition.ENDED:
            prepared.was_watched = bool(self.clients)
            prepared.tallies = tuple(map(stretch, prepared.tallies_before, tallies))

    def _run(self, prepared: Prepared) -> None:
        """Run a take, in the thread that sends."""
        try:
            prepared.runner.run(prepared.count_s)
        except BaseException:
            prepared.runner.result.was_cut = True
            raise
        finally:
            self._session.after.submit(self._finish, prepared, prepared.runner.result)

    def _finish(self, prepared: Prepared, result: TakeResult) -> None:
        """Log a take and tell of it. Whatever fails at that, the take is over."""
        for tally in prepared.tallies:
            if tally.incidents:
                result.lost[tally.name] = "; ".join(tally.incidents)
            elif tally.missed:
                result.missed_on[tally.name] = tally.missed
        self._see_to("floor", prepared.inputs.close, result)
        self._see_to("recorder", lambda: self._log(prepared, result), result)
        self._standing = self._stands(prepared, result)
        self.running = None  # before it is told: who hears of the end may ask for the next take at once
        try:
            self._publish(ended(prepared, result))
        finally:
            prepared.is_over.set()
        self._session.routes.sync()
        gc.collect()  # now, between takes: in the next one it would keep the sending thread waiting
        gc.freeze()

    def _log(self, prepared: Prepared, result: TakeResult) -> None:
        take = None if prepared.recording is None else prepared.recording.finish(result)
        if take is not None:
            self.last_take = LastTake(slate=take.slate, status=take.status, was_watched=prepared.was_watched)
            self.clients.have_missed = not (prepared.was_watched or self.clients)

    def _see_to(self, name: str, what: Callable[[], None], result: TakeResult) -> None:
        """Do what is left to do after a take; where it fails, tell, and let the take be incomplete."""
        try:
            what()
        except Exception as error:
            words = str(error) if isinstance(error, Refusal) else internal_error(error)
            result.lost[name] = words
            self.tell(words)

    def _stands(self, prepared: Prepared, result: TakeResult) -> StandingPacket:
        last = result.carried[-1] if result.carried else prepared.asked.from_packet + result.packets_sent - 1
        plan = prepared.plan
        return StandingPacket(plan.name, plan.speed, tuple(result.fired), max(last, 0), not self._session.is_lit)

    def _render_anew(self, opened: OpenedShow, standing: StandingPacket) -> None:
        current = self._session.routes.current
        if current is None:
            return
        plan = sound_plan_of(opened, standing.shot, str(standing.speed))
        patch = plan.patch
        line = line_of(patch, plan.refresh_hz, is_rehearsal=current.line.is_rehearsal)
        route = self._session.routes.ready(current.targets, patch, line, patch.dark)
        slots = patch.dark if standing.is_dark else plan.timeline(standing.fired).slots([standing.packet])[0]
        self._session.show(route, slots)

    def _is_wanted(self, client: int, asked: AnyRequest) -> bool:
        """Whether whoever asked is still there and waits for it: what was given up is never done later, unasked."""
        return client in self.clients and self._is_timely(asked)

    def _show(self, client: int, asked: requests.ShowLook) -> None:
        with self._preparing():
            opened = self._keeper.last_sound()  # a look can be held, whatever is being written
            patch = opened.patch
            if asked.universes != patch.universes:
                raise Refusal("the show has other universes now: give the command again")
            line = line_of(patch, refresh_of(opened.show, patch), is_rehearsal=asked.is_rehearsal)
            route = self._session.routes.ready(asked.to, patch, line, patch.dark)
            slots = np.frombuffer(asked.slots, np.uint8).reshape(-1, FULL_UNIVERSE)
            self._session.show(route, slots, is_wanted=lambda: self._is_wanted(client, asked))
            self._standing = None

    def _release(self, asked: requests.Release) -> None:
        """Undo the last of: a hold, a look that stands on the line. A blackout is released before.

        A lamp that must not go out keeps its level, until it is released once more.
        """
        running, route, begun = self.running, self._session.routes.current, self._begun

        def is_wanted() -> bool:
            return self._begun == begun and self._is_timely(asked)  # what a take has taken the place of is gone

        if running is not None and running.control.is_held:
            running.control.hold(False)
        elif running is not None:
            raise NotNow("nothing is held and there is no blackout: to cut the take, stop it")
        elif self._session.is_lit and route is not None and route.stays_lit:
            self._standing = None
            self._session.show(route, route.dark, waits=False, is_wanted=is_wanted)
        else:
            self._standing = None
            self._session.let_go(waits=False, is_wanted=is_wanted)

    def _quit(self) -> None:
        """Cut the take that is under way or about to be, put the light out, and end."""
        while True:
            with self._slow:
                running = self.running
                if running is None:
                    self._session.let_go()
                    self._session.end()
                    return
                running.control.stop()
            running.is_over.wait()
