"""`cuedeck shoot`: one take, from the countdown to the summary."""

from __future__ import annotations

import argparse
import gc
import os
import signal
import sys
import threading
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, suppress
from typing import TYPE_CHECKING

from cuedeck.cli import exits
from cuedeck.cli.floor_arguments import add_floor
from cuedeck.cli.outputs import add_outputs, tell_of_universes
from cuedeck.cli.shows import add_shot, add_show, add_speed, open_sound
from cuedeck.errors import Refusal
from cuedeck.timeline.choosing import plan_of

if TYPE_CHECKING:
    from cuedeck.cli.view import View
    from cuedeck.output.base import Line, Output
    from cuedeck.player.take import TakeControl, TakeResult, TakeRunner
    from cuedeck.takes.store import Take, TakeStore
    from cuedeck.timeline.plan import ShotPlan

NAME = "shoot"
HELP = "take one take of a shot: count down, run it on the clock, record every packet"
COUNT_S = 3


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of this command."""
    add_show(parser)
    add_shot(parser)
    add_outputs(parser)
    add_speed(parser)
    parser.add_argument("--no-countdown", action="store_true", help="start at once")
    parser.add_argument(
        "--chase",
        metavar="SOURCE",
        help="follow timecode: ltc:FILE.wav, ltc:audio, mtc:FILE.mid or mtc:PORT; no countdown, no waiting for cues",
    )
    add_floor(parser)


def run(options: argparse.Namespace) -> int:
    """Take one take, and say how it went."""
    from cuedeck.cli.floor import floor_of
    from cuedeck.cli.summary import print_summary
    from cuedeck.cli.view import view_of
    from cuedeck.clock import MonotonicClock
    from cuedeck.folder.folder import ShowFolder
    from cuedeck.output.base import line_of
    from cuedeck.output.targets import outputs_for
    from cuedeck.player.chase_source import chaser_of, listening
    from cuedeck.player.chased import ChasedRunner
    from cuedeck.player.take import TakeControl, TakeRunner
    from cuedeck.takes.recorder import Recorder
    from cuedeck.takes.store import TakeStore

    folder = ShowFolder(options.show)
    plan = plan_of(open_sound(folder), options.shot, options.speed)
    clock, control = MonotonicClock(), TakeControl()
    if options.chase and (options.arm or options.axis_from or options.contacts or options.osc):
        raise Refusal(
            "a take that follows timecode is started and run by it: leave out --arm, --contacts, --osc and --axis-from"
        )
    floor = floor_of(options, plan, control, clock)
    plan = floor.plan
    targets = list(dict.fromkeys(options.to or ["simulator"]))
    outputs = outputs_for(targets, plan.patch, clock)
    line = line_of(plan.patch, plan.refresh_hz)
    chaser = chaser_of(plan) if options.chase else None
    with (
        listening(options.chase, clock) as source,
        TakeStore(folder.path, create=True) as store,
        _stopping_on_signals(control),
    ):
        with _open_outputs(outputs, line), floor:
            tell_of_universes(outputs, line)
            take = store.begin(
                plan.name,
                line,
                plan.refresh_hz,
                plan.timeline().packet_count,
                targets,
                options.chase or "",
                plan.speed,
                plan.is_axis_live,
            )
            recorder = Recorder(store, take.id, clock)
            recorder.open(line)
            attended = source is None and _listen_for_enter(plan, control)
            if source is None or chaser is None:
                runner = TakeRunner(
                    plan,
                    outputs,
                    recorder,
                    clock,
                    control,
                    waits_for_operator=attended or floor.fires_cues,
                    waits_for_start=floor.waits_for_start,
                )
            else:
                runner = ChasedRunner(plan, outputs, recorder, clock, control, source=source, chaser=chaser)
            view = view_of(outputs, take.slate, plan.operator_cues if attended else ())
            starts_at_once = source is not None or options.no_countdown or floor.waits_for_start
            result = _take(runner, view, control, 0 if starts_at_once else COUNT_S)
        _close_recorder(recorder, result)
        if result.counting_was_cut:
            store.discard(take)
            for label, text in floor.lines():
                print(f"{label:9} {text}", file=sys.stderr)
            print("stopped before the start: no take was kept", file=sys.stderr)
            return exits.STOPPED
        print_summary(store, _finish(store, take, result), plan, result, floor.lines())
    if result.was_cut:
        return exits.STOPPED
    return exits.DONE if result.is_complete else exits.WRONG


@contextmanager
def _open_outputs(outputs: Sequence[Output], line: Line) -> Iterator[None]:
    try:
        for output in outputs:
            output.open(line)
        yield
    finally:
        for output in outputs:
            output.close()


def _take(runner: TakeRunner, view: View, control: TakeControl, count_s: int) -> TakeResult:
    """Run the take in a thread of its own, while this one shows it."""
    from concurrent.futures import ThreadPoolExecutor, wait

    with (
        _undisturbed(),
        ThreadPoolExecutor(max_workers=1, thread_name_prefix="player") as pool,
        _quiet_keyboard(),
        view,
    ):
        running = pool.submit(runner.run, count_s)
        while not running.done():
            wait([running], timeout=view.period_s)
            if control.progress is not None:
                view.show(control.progress)
        return running.result()


@contextmanager
def _quiet_keyboard() -> Iterator[None]:
    """Keep what is typed during a take off the screen, where the system can do that."""
    try:
        import termios
    except ImportError:
        yield
        return
    keyboard = None if sys.stdin is None or sys.stdin.closed or not sys.stdin.isatty() else sys.stdin.fileno()
    if keyboard is None or not _is_in_front(keyboard):
        yield
        return
    before = termios.tcgetattr(keyboard)
    silent = [*before]
    silent[3] &= ~termios.ECHO
    try:
        termios.tcsetattr(keyboard, termios.TCSADRAIN, silent)
        yield
    finally:
        with suppress(termios.error):
            termios.tcsetattr(keyboard, termios.TCSADRAIN, before)


def _is_in_front(keyboard: int) -> bool:
    """Whether this program may change the terminal: one in the background would be stopped for it."""
    try:
        return os.tcgetpgrp(keyboard) == os.getpgrp()
    except OSError:  # a terminal that controls another session
        return False


def _listen_for_enter(plan: ShotPlan, control: TakeControl) -> bool:
    """Let the Enter key fire the next operator cue; return whether there is a keyboard and such a cue."""
    if not plan.operator_cues or sys.stdin is None or sys.stdin.closed or not sys.stdin.isatty():
        return False
    keyboard = sys.stdin

    def listen() -> None:
        while keyboard.readline():
            control.fire_next()

    threading.Thread(target=listen, name="keyboard", daemon=True).start()
    return True


@contextmanager
def _stopping_on_signals(control: TakeControl) -> Iterator[None]:
    """Let Ctrl-C, a request to terminate and a closed terminal cut the take, rather than kill the program."""
    names = ("SIGINT", "SIGTERM", "SIGHUP")
    numbers = [getattr(signal, name) for name in names if hasattr(signal, name)]
    before = {number: signal.signal(number, lambda *_: control.stop()) for number in numbers}
    try:
        yield
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)


@contextmanager
def _undisturbed() -> Iterator[None]:
    """Keep the interpreter's own work out of the way of packets: collection off, quick thread switches."""
    interval_s = sys.getswitchinterval()
    gc.collect()
    gc.freeze()
    gc.disable()
    sys.setswitchinterval(0.0005)
    try:
        yield
    finally:
        sys.setswitchinterval(interval_s)
        gc.enable()
        gc.unfreeze()


def _close_recorder(recorder: Output, result: TakeResult) -> None:
    from cuedeck.output.base import OutputLost

    try:
        recorder.close()
    except OutputLost as lost:
        result.lost[recorder.name] = str(lost)


def _finish(store: TakeStore, take: Take, result: TakeResult) -> Take:
    from cuedeck.takes.store import Lateness, Status

    status = Status.CUT if result.was_cut else Status.COMPLETE if result.is_complete else Status.INCOMPLETE
    late = Lateness.of(result.late_ns)
    return store.finish(
        take.id, status, result.packets_due, result.packets_sent, result.fired, late, result.carried or ()
    )
