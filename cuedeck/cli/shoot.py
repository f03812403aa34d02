"""`cuedeck shoot`: one take, from the countdown to the summary."""

from __future__ import annotations

import argparse
import gc
import shutil
import signal
import sys
import threading
from collections.abc import Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor, wait
from contextlib import contextmanager
from typing import TYPE_CHECKING

from cuedeck.cli import exits
from cuedeck.cli.shows import add_shot, add_show, open_sound, plan_of

if TYPE_CHECKING:
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
    parser.add_argument(
        "--to",
        metavar="OUTPUT",
        action="append",
        help="where packets go: simulator (default), serial:PORT or serial:PORT,universe=N; may be repeated",
    )
    parser.add_argument("--no-countdown", action="store_true", help="start at once")


def run(options: argparse.Namespace) -> int:
    """Take one take, and say how it went."""
    from cuedeck.clock import MonotonicClock
    from cuedeck.folder.folder import ShowFolder
    from cuedeck.output.targets import outputs_for
    from cuedeck.player.take import TakeControl, TakeRunner, line_of
    from cuedeck.takes.recorder import Recorder
    from cuedeck.takes.store import TakeStore

    folder = ShowFolder(options.show)
    plan = plan_of(open_sound(folder), options.shot)
    clock, control = MonotonicClock(), TakeControl()
    targets = list(dict.fromkeys(options.to or ["simulator"]))
    outputs = outputs_for(targets, plan.patch, clock)
    line = line_of(plan)
    with TakeStore(folder.path, create=True) as store, _stopping_on_signals(control):
        with _open_outputs(outputs, line):
            _tell_of_universes(outputs, line)
            take = store.begin(plan.name, line, plan.refresh_hz, plan.timeline().packet_count, targets)
            recorder = Recorder(store, take.id, clock)
            recorder.open(line)
            attended = _listen_for_enter(plan, control)
            runner = TakeRunner(plan, outputs, recorder, clock, control, waits_for_operator=attended)
            result = _take(runner, plan, outputs, take, control, 0 if options.no_countdown else COUNT_S)
        _close_recorder(recorder, result)
        if result.counting_was_cut:
            store.discard(take)
            print("stopped before the start: no take was kept", file=sys.stderr)
            return exits.STOPPED
        _report(store, _finish(store, take, result), plan, result)
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


def _tell_of_universes(outputs: Sequence[Output], line: Line) -> None:
    """Say which universes of the rig a serial line leaves out."""
    from cuedeck.output.serial_line import SerialLine

    for output in outputs:
        carried = output.universe if isinstance(output, SerialLine) else None
        left_out = [str(universe) for universe in line.universes if universe != carried]
        if carried is not None and left_out:
            print(
                f"{output.name} carries universe {carried}, not {', '.join(left_out)}:"
                f" add --to serial:PORT,universe={left_out[0]} for another interface",
                file=sys.stderr,
            )


def _take(
    runner: TakeRunner, plan: ShotPlan, outputs: list[Output], take: Take, control: TakeControl, count_s: int
) -> TakeResult:
    """Run the take in a thread of its own, while this one shows it and listens to the keyboard."""
    from cuedeck.cli.view import view_of

    with (
        _undisturbed(),
        ThreadPoolExecutor(max_workers=1, thread_name_prefix="player") as pool,
        view_of(plan, outputs, take.slate) as view,
    ):
        running = pool.submit(runner.run, count_s)
        while not running.done():
            wait([running], timeout=view.period_s)
            if control.progress is not None:
                view.show(control.progress)
        return running.result()


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
    """Let Ctrl-C and a request to terminate cut the take, rather than kill the program."""
    before = {number: signal.signal(number, lambda *_: control.stop()) for number in (signal.SIGINT, signal.SIGTERM)}
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
    return store.finish(take.id, status, result.packets_due, result.packets_sent, result.fired, late)


def _report(store: TakeStore, take: Take, plan: ShotPlan, result: TakeResult) -> None:
    """Print the summary of a take and the picture of its light."""
    from cuedeck.report.picture import print_picture, shot_picture

    title = f" {plan.shot.title}" if plan.shot.title else ""
    length_s = float(result.timeline.length_s)
    print(f"slate     {take.slate}  ({take.status})")
    print(f"shot      {plan.name}{title}, {length_s:g} s at {float(plan.refresh_hz):g} Hz to {', '.join(take.outputs)}")
    print(f"packets   {take.packets_sent} of {take.packets_due} sent" + _missed(result))
    print(f"lateness  {take.lateness}")
    for problem in result.lost.values():
        print(f"lost      {problem}")
    if result.is_complete:
        print(f"repeat    {_repeat(store, take, result)}")
    print(f"kept in   {store.path}")
    print()
    labels = max(len(row.label) for row in shot_picture(plan, result.timeline, 1))
    width = min(max(shutil.get_terminal_size((100, 24)).columns, 60), 160) - labels - 2
    print(print_picture(shot_picture(plan, result.timeline, width, move_lines=3)))


def _missed(result: TakeResult) -> str:
    if not result.missed:
        return ""
    return f"; {result.missed} missed: the line is slower than the refresh, write a lower 'refresh:' or fewer 'slots:'"


def _repeat(store: TakeStore, take: Take, result: TakeResult) -> str:
    """Say which takes have the same bytes, after comparing this one with the shot rendered offline."""
    from cuedeck.takes.store import digest

    if take.sha256 != digest(slots for _, slots in result.timeline.blocks()):
        return "NOT the bytes that the shot renders to: keep this take and report it"
    same = [one.slate for one in store.takes() if one.sha256 == take.sha256 and one.id != take.id]
    others = f" and as {', '.join(same[-5:])}" if same else ""
    return f"byte for byte as rendered offline{others}  (sha256 {take.sha256[:12]})"
