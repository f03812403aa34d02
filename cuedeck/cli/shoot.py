"""`cuedeck shoot`: one take, from the countdown to the summary. The player runs it; this command is its client."""

from __future__ import annotations

import argparse
import os
import stat
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import TYPE_CHECKING, TextIO

from cuedeck.cli import exits
from cuedeck.cli.arguments import add_floor, add_log, add_outputs, add_shot, add_show, add_speed
from cuedeck.cli.blackout_words import BlackoutTold
from cuedeck.cli.exits import stop_on_signals
from cuedeck.cli.log_file import log_to_use
from cuedeck.cli.opening import open_shot, print_left_out_universes
from cuedeck.cli.player_client import add_take_over, resumed, with_player
from cuedeck.cli.printing import say
from cuedeck.errors import Refusal
from cuedeck.show.units import shorten

if TYPE_CHECKING:
    from cuedeck.cli.view import View
    from cuedeck.player.channel.client import PlayerClient
    from cuedeck.player.channel.events import Ended
    from cuedeck.player.channel.requests import Begin
    from cuedeck.timeline.plan import ShotPlan

COUNT_S = 3
WORDS = "write blackout or release; Enter alone fires the next operator cue"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    add_show(parser)
    add_shot(parser)
    add_outputs(parser)
    add_speed(parser)
    parser.add_argument("--no-countdown", action="store_true", help="start at once")
    parser.add_argument(
        "--chase",
        metavar="SOURCE",
        help="follow timecode: ltc:FILE.wav, ltc:audio, mtc:FILE.mid or mtc:PORT, with ,channel=2 behind sound"
        " for another channel than the first; no countdown, no waiting for cues",
    )
    add_floor(parser)
    add_log(parser)
    add_take_over(parser)
    parser.epilog = "While the take runs, 'blackout' and 'release' may be typed, and Enter fires the next operator cue."


def run(options: argparse.Namespace) -> int:
    from cuedeck.cli.summary import print_summary
    from cuedeck.cli.view import view_of
    from cuedeck.folder.folder import ShowFolder
    from cuedeck.player.channel.client import PlayerGone, PlayerSilent
    from cuedeck.takes.store import TakeStore

    folder = ShowFolder(options.show)
    plan = open_shot(folder, options.shot, options.speed)
    targets = list(dict.fromkeys(options.to or ["simulator"]))
    print_left_out_universes(targets, plan.patch)
    log = log_to_use(folder.path, options.log)
    told = BlackoutTold(folder.path)
    attended = not options.chase and _has_keyboard(plan)
    view = view_of(plan.patch, plan.operator_cues if attended else ())
    begin = _begin(options, plan, targets, attended=attended).changed(log=log)
    with stop_on_signals() as stop, with_player(folder.path, begin, take_over=options.take_over) as client:
        _listen(client, view, told, fires_cues=attended)
        try:
            with _no_echo(), view:
                ended = _follow(client, view, told, stop)
        except PlayerSilent:  # it still has the line, and may go on with the take
            raise
        except PlayerGone as gone:
            return resumed(folder.path, gone, targets)
        if ended.counting_was_cut:
            for label, text in ended.floor:
                say(f"{label:9} {text}")
            say("stopped before the start: no take was kept")
            return exits.STOPPED
        with TakeStore(folder.path, file=Path(ended.log)) as store:
            result = print_summary(store, ended, plan, axes_live=options.axis_from is not None)
        _print_lamps_left_on(plan, options.show)
    if ended.was_cut:
        return exits.STOPPED
    return exits.DONE if result.is_complete else exits.WRONG


def _begin(options: argparse.Namespace, plan: ShotPlan, targets: list[str], *, attended: bool) -> Begin:
    from cuedeck.player.channel.requests import Begin

    if options.wait and (options.chase or not plan.operator_cues):
        why = "a take that follows timecode ends with it" if options.chase else f"shot {plan.name} has no operator cue"
        raise Refusal(f"nothing could be waited for: {why}; leave --wait out")
    return Begin(
        shot=plan.name,
        to=tuple(targets),
        speed=options.speed,
        count_s=0 if options.no_countdown else COUNT_S,
        attended=attended or options.wait,
        chase=_with_absolute_path(options.chase),
        contacts=options.contacts,
        osc=options.osc,
        arm=options.arm,
        axis_from=options.axis_from,
    )


def _with_absolute_path(source: str | None) -> str | None:
    """Return a source of timecode with the absolute path of its file: the player has another working directory."""
    kind, _, rest = (source or "").partition(":")
    file, channel, number = rest.rpartition(",channel=")
    file = file or rest
    return f"{kind}:{Path(file).resolve()}{channel}{number if channel else ''}" if Path(file).is_file() else source


def _follow(client: PlayerClient, view: View, told: BlackoutTold, stop: threading.Event) -> Ended:
    """Show the take until it has ended. Raises PlayerGone."""
    from cuedeck.player.channel.events import Ended, Notice, Snapshot
    from cuedeck.player.channel.silence import Silence

    has_stopped = False
    while True:
        if stop.is_set() and not has_stopped:
            has_stopped = True
            stop_take(client)
        event = client.next(view.period_s)
        if isinstance(event, Snapshot) and (news := told.news(event)):
            view.show_message(news)
        if isinstance(event, Snapshot) and event.packet_count:
            view.show(event)
        elif isinstance(event, Notice):
            view.show_message(event.text)
        elif isinstance(event, Silence):
            view.show_message(f"{event}" if event.is_over or event.lasted_s >= 1 else f"{client.silent}")
        elif isinstance(event, Ended):
            return event


def stop_take(client: PlayerClient) -> None:
    """Stop the take. Does nothing where it has just ended. Raises PlayerRefused."""
    from cuedeck.player.channel.client import PlayerRefused
    from cuedeck.player.channel.requests import Stop

    try:
        client.ask(Stop())
    except PlayerRefused:
        if client.snapshot is None or not client.snapshot.has_control:
            raise


def _print_lamps_left_on(plan: ShotPlan, show: str) -> None:
    """Print which lamps the player keeps at their levels after the take."""
    lamps = ", ".join(f"'{light.name}'" for light in plan.patch.lights if light.stays_lit)
    if lamps:
        say(f"{lamps} 'never below': the player goes on sending; 'cuedeck player {show} release' lets go of the line")


def _has_keyboard(plan: ShotPlan) -> bool:
    """Whether there is a keyboard, and an operator cue that it could fire."""
    return bool(plan.operator_cues) and sys.stdin is not None and not sys.stdin.closed and sys.stdin.isatty()


def _listen(client: PlayerClient, view: View, told: BlackoutTold, *, fires_cues: bool) -> None:
    """Let `blackout` and `release` be typed, and the Enter key fire the next operator cue."""
    from cuedeck.player.channel.requests import Fire

    if not (fires_cues or _can_be_read(sys.stdin)):
        return
    keyboard = sys.stdin

    def listen() -> None:
        with suppress(OSError, ValueError):  # the terminal is gone
            while line := keyboard.readline():
                word = line.strip()
                if word:
                    view.show_message(told.obeys(word) or f"'{shorten(word)}' is no word here: {WORDS}")
                elif fires_cues:
                    with suppress(Refusal):  # the take is over
                        client.ask(Fire())

    threading.Thread(target=listen, name="keyboard", daemon=True).start()


def _can_be_read(words: TextIO | None) -> bool:
    """Whether to read the input: from a terminal in whose foreground this program is, or from a pipe."""
    try:
        if words is None or words.closed:
            return False
        if words.isatty():
            return not hasattr(os, "tcgetpgrp") or _is_in_foreground(words.fileno())
        return stat.S_ISFIFO(os.fstat(words.fileno()).st_mode)
    except (OSError, ValueError):
        return False


@contextmanager
def _no_echo() -> Iterator[None]:
    """Keep what is typed during a take off the screen, where the system can do that."""
    try:
        import termios
    except ImportError:
        yield
        return
    keyboard = None if sys.stdin is None or sys.stdin.closed or not sys.stdin.isatty() else sys.stdin.fileno()
    if keyboard is None or not _is_in_foreground(keyboard):
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


def _is_in_foreground(keyboard: int) -> bool:
    """Whether this program may change the terminal: one in the background would be stopped for it."""
    try:
        return os.tcgetpgrp(keyboard) == os.getpgrp()
    except OSError:  # a terminal that controls another session
        return False
