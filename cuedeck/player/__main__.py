"""The player process: `python -m cuedeck.player FOLDER`. Its clients start it, and `cuedeck player` talks to it.

With `--resume`, the last look of a player that was killed is on the line before anything else is loaded; and what
that needs is loaded before every other program.
"""

from __future__ import annotations

import argparse
import gc
import signal
import sys
import threading
import traceback
from pathlib import Path
from typing import TYPE_CHECKING

from cuedeck.clock import MonotonicClock
from cuedeck.errors import Refusal
from cuedeck.player.priority import give_way, go_first, send_first
from cuedeck.terminal import visible_output

if TYPE_CHECKING:
    from cuedeck.player.channel.events import AnyEvent
    from cuedeck.player.channel.server import ControlServer
    from cuedeck.player.instance_lock import InstanceLock
    from cuedeck.player.line.blackout import Blackout
    from cuedeck.player.session import Session
    from cuedeck.player.snapshots import SnapshotThread

SWITCH_S = 0.0005
"""How long a thread may keep others from running: as long as the clock spins before a packet, which is never cut."""


def main() -> int:
    """Play until it is over; return an exit code."""
    options = _options()
    if options.resume:
        go_first()
    from cuedeck.player.instance_lock import ALREADY_RUNS_EXIT, InstanceLock, PlayerRuns

    with visible_output():  # its log is read in terminals
        instance = InstanceLock.of(options.folder)
        try:
            instance.claim()
        except PlayerRuns as runs:
            print(runs, file=sys.stderr)
            return ALREADY_RUNS_EXIT
        return _play(instance, is_resumed=options.resume)


def _options() -> argparse.Namespace:
    parser = argparse.ArgumentParser(prog="python -m cuedeck.player")
    parser.add_argument("folder", type=Path)
    parser.add_argument("--resume", action="store_true", help="begin with the look that a killed player left")
    return parser.parse_args()


def _play(instance: InstanceLock, *, is_resumed: bool) -> int:
    from cuedeck.player.session import Session

    gc.disable()
    sys.setswitchinterval(SWITCH_S)
    priority = go_first()
    channel = ClientAccess(instance, priority)
    blackout = _blackout(instance, channel)
    session = Session(MonotonicClock(), instance.last_look, channel.tell, blackout)
    _end_on_signals(session)
    if is_resumed:
        _resume(session, instance)
    opening = threading.Thread(target=channel.open, args=(session,), name="opening")
    opening.start()
    blackout.start()
    send_first()
    session.run()
    opening.join()
    session.close(has_failed=channel.exit_code != 0)
    blackout.close()
    channel.close()
    if channel.exit_code == 0:
        instance.ended()
    return channel.exit_code


def _blackout(instance: InstanceLock, channel: ClientAccess) -> Blackout:
    """Return the blackout as it was left; before anything else, as the first packet asks for it."""
    from cuedeck.player.line.blackout import Blackout
    from cuedeck.player.line.blackout_page import Word, made_page, page_at
    from cuedeck.player.state_folder import StateFolder

    elsewhere = type(instance).used_by_player(instance.folder)  # the last player may have had its files there
    before = page_at(elsewhere.blackout_page)
    try:
        page, is_damaged = made_page(instance.blackout_page)
        page.words[Word.IS_BLACK] |= before is not None and before.is_black
    except OSError as error:
        channel.tell(
            f"{instance.blackout_page} cannot be made, so a blackout comes by the channel only: {error.strerror}"
        )
        return Blackout(StateFolder(instance.folder), None, channel.tell, channel.tell_state)
    if is_damaged:
        channel.tell(f"{instance.blackout_page} was damaged, so the line is dark until 'release'")
    return Blackout(StateFolder(instance.folder), page, channel.tell, channel.tell_state)


def _resume(session: Session, instance: InstanceLock) -> None:
    """Begin with the look that a killed player left; where it cannot be shown, say so and begin without."""
    from cuedeck.player.line.last_look import read_last_look

    kept = read_last_look(instance.last_look)
    try:
        if kept is not None:
            session.resume(*kept)
    except Refusal as refused:
        print(f"{instance.last_look} cannot be resumed: {refused}", file=sys.stderr, flush=True)


class ClientAccess:
    """The way to the clients. It is opened when light is on the line, as loading it takes its time."""

    def __init__(self, instance: InstanceLock, priority: str) -> None:
        self.exit_code = 0
        self._instance = instance
        self._priority = priority
        self._server: ControlServer | None = None
        self._snapshots: SnapshotThread | None = None

    def tell(self, what: str) -> None:
        """Tell clients what a person should know; without a channel, the log."""
        if self._server is None:
            print(what, file=sys.stderr, flush=True)
            return
        from cuedeck.player.channel.events import Notice

        self.tell_state()  # so that nobody hears of a loss who does not see it
        self._server.publish(Notice(text=what))

    def tell_state(self) -> None:
        """Tell clients how everything stands, where that is new."""
        if self._snapshots is not None:
            self._snapshots.tell_now()

    def open(self, session: Session) -> None:
        """Load the show and serve clients; where that cannot be, say so and end."""
        try:
            self._open(session)
        except Refusal as refused:
            print(refused, file=sys.stderr, flush=True)
            self.exit_code = 1
            session.end()
        except Exception:
            traceback.print_exc(file=sys.stderr)  # a player that nobody can reach must not keep the show's lock
            self.exit_code = 1
            session.end()
        gc.freeze()  # and no collection: it would keep the light of a resumed look waiting

    def _open(self, session: Session) -> None:
        if not session.is_lit:
            give_way()  # nothing is on the line that loading could keep waiting, but maybe on that of another player
        from cuedeck.player.channel.server import ControlServer
        from cuedeck.player.service import Service
        from cuedeck.player.show_keeper import ShowKeeper
        from cuedeck.player.snapshots import SnapshotThread
        from cuedeck.player.take.recording import close_left_behind

        close_left_behind(self._instance.folder)
        go_first()
        # Light that was resumed stays, whatever has become of the show.
        keeper = ShowKeeper(self._instance.folder, must_exist=not session.is_lit)
        service = Service(session, keeper, self._publish, self.tell_state)
        self._server = ControlServer(self._instance, service, beats=True)
        self._server.start()
        self._snapshots = SnapshotThread(session, service, self._publish, self._server.beat, self._priority)
        self._snapshots.start()

    def _publish(self, event: AnyEvent) -> None:
        if self._server is not None:
            self._server.publish(event)

    def close(self) -> None:
        if self._snapshots is not None:
            self._snapshots.end()
        if self._server is not None:
            self._server.close()


def _end_on_signals(session: Session) -> None:
    for name in ("SIGINT", "SIGTERM"):
        signal.signal(getattr(signal, name), lambda *_: session.end())
    if hasattr(signal, "SIGHUP"):
        signal.signal(signal.SIGHUP, signal.SIG_IGN)


if __name__ == "__main__":
    sys.exit(main())
