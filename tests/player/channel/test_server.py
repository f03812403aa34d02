"""The channel with real sockets and real processes: asked, told, lost, killed, and pestered."""

from __future__ import annotations

import os
import queue
import random
import signal
import socket
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from concurrent.futures import FIRST_COMPLETED, ThreadPoolExecutor, wait
from contextlib import ExitStack, suppress
from pathlib import Path

import pytest

from cuedeck.bench.fuzz_inputs import fuzzed_line
from cuedeck.errors import Refusal
from cuedeck.player.channel.client import (
    PlayerClient,
    PlayerGone,
    PlayerRefused,
    PlayerSilent,
    find_player,
    start_player,
)
from cuedeck.player.channel.connect import connect
from cuedeck.player.channel.connection import MOST_NONSENSE, MOST_WAITING
from cuedeck.player.channel.events import AnyEvent, Ended, Notice, Snapshot
from cuedeck.player.channel.requests import (
    AnyRequest,
    Begin,
    Fire,
    Hold,
    Leave,
    Quit,
    Reload,
    ShowLook,
    Start,
    StartBlackout,
    Stop,
)
from cuedeck.player.channel.server import MOST_CLIENTS, ChannelFailed, ControlServer
from cuedeck.player.channel.socket_lines import Lines
from cuedeck.player.instance_lock import VERSION, Announcement, InstanceLock
from tests.waiting import wait_until

ROOT = Path(__file__).parents[3]
LONG_S = 20
"""Longer than anything here takes; nothing waits so long unless it fails."""
BEGIN = Begin(shot="1", to=("simulator",))


class Desk:
    """A handler that notes what happens; a slow request takes until it may go on."""

    def __init__(self, instance: InstanceLock) -> None:
        self.server = ControlServer(instance, self)
        self.notes: queue.Queue[tuple[object, ...]] = queue.Queue()
        self.may_go_on = threading.Event()
        self.does: Callable[[int, AnyRequest], None] | None = None

    def came(self, client: int) -> None:
        self.notes.put(("came", client))

    def left(self, client: int, on_purpose: bool) -> None:
        self.notes.put(("left", client, on_purpose))

    def answer(self, client: int, request: AnyRequest) -> None:
        self.notes.put((request.ask, client, threading.current_thread().name))
        if isinstance(request, Begin):
            assert self.may_go_on.wait(LONG_S)
        if self.does is not None:
            self.does(client, request)

    def noted(self) -> tuple[object, ...]:
        return self.notes.get(timeout=LONG_S)


@pytest.fixture(params=["unix", "tcp"])
def desk(
    request: pytest.FixtureRequest, runtime: Path, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> Iterator[Desk]:
    if request.param == "tcp":
        deep = runtime / ("x" * 90)
        deep.mkdir(mode=0o700)
        monkeypatch.setenv("XDG_RUNTIME_DIR", str(deep))
    instance = InstanceLock.of(folder)
    instance.claim()
    desk = Desk(instance)
    desk.server.start()
    assert found_of(folder).address.startswith(request.param)
    yield desk
    desk.may_go_on.set()
    desk.server.close()


@pytest.fixture
def client(desk: Desk, folder: Path) -> Iterator[PlayerClient]:
    with found(folder) as client:
        assert desk.noted() == ("came", 1)
        yield client


@pytest.fixture
def small(monkeypatch: pytest.MonkeyPatch, runtime: Path) -> str:
    assert runtime
    monkeypatch.setenv("PYTHONPATH", str(ROOT))
    return "tests.player.small_player"


def found(folder: Path) -> PlayerClient:
    client = find_player(folder)
    assert client is not None
    return client


def found_of(folder: Path) -> Announcement:
    announcement = InstanceLock.of(folder).found()
    assert announcement is not None
    return announcement


def raw(folder: Path) -> socket.socket:
    kind, _, instance = found_of(folder).address.partition(":")
    if kind == "tcp":
        return socket.create_connection(("127.0.0.1", int(instance)), LONG_S)
    connected = socket.socket(socket.AF_UNIX)
    connected.settimeout(LONG_S)
    connected.connect(instance)
    return connected


def is_ended(connected: socket.socket) -> bool:
    """Wait for the end of a connection."""
    with suppress(ConnectionError):
        while connected.recv(65536):
            pass
    return True


def known(folder: Path) -> Lines:
    """Return a connection that has been let in, to say anything on it."""
    reached = connect(found_of(folder))
    assert reached is not None
    return reached[0]


def told(client: PlayerClient) -> AnyEvent:
    event = client.next(LONG_S)
    assert event is not None
    return event


def state_of(process: int) -> str:
    """Return the letter of a state of a process, T where it is stopped; where no system says it, T at once."""
    file = Path(f"/proc/{process}/stat")
    return file.read_text().rpartition(")")[2].split()[0] if file.exists() else "T"


def quit_player(client: PlayerClient) -> None:
    """Have a player end; it may be gone before its answer is read."""
    with suppress(PlayerGone):
        client.ask(Quit())
    with pytest.raises(PlayerGone):
        hear_out(client)


def hear_out(client: PlayerClient) -> None:
    """Listen until the player is lost."""
    while client.next(LONG_S):
        pass


def test_what_is_asked_is_handed_on_and_answered(desk: Desk, client: PlayerClient) -> None:
    desk.may_go_on.set()
    client.ask(BEGIN)
    client.ask(Start())
    client.ask(Fire(cue="4"))
    client.ask(ShowLook(to=(), universes=tuple(range(1, 1001)), slots=os.urandom(512_000)))
    notes = [desk.noted() for _ in range(4)]
    assert [note[:2] for note in notes] == [("begin", 1), ("start", 1), ("fire", 1), ("show", 1)]
    assert [note[2] for note in notes] == ["control client 1", "control", "control", "control client 1"]


def test_the_client_knows_the_process_and_its_own_number(client: PlayerClient) -> None:
    assert (client.pid, client.number, client.gone) == (os.getpid(), 1, None)


def test_a_refusal_comes_with_its_words(desk: Desk, client: PlayerClient) -> None:
    def refuse(client: int, _: AnyRequest) -> None:
        raise Refusal(f"client {client} has no control; ask for it first")

    desk.does = refuse
    for request in (Stop(), Reload()):
        with pytest.raises(PlayerRefused, match="client 1 has no control; ask for it first"):
            client.ask(request)


@pytest.mark.parametrize("error", [ZeroDivisionError("by zero"), SystemExit("now")])
def test_a_failure_of_the_player_is_told_in_a_sentence_and_stops_nothing(
    desk: Desk, client: PlayerClient, error: BaseException, capsys: pytest.CaptureFixture[str]
) -> None:
    def fail(_client: int, _request: AnyRequest) -> None:
        raise error

    desk.does = fail
    for request in (Stop(), Reload()):
        with pytest.raises(PlayerRefused, match=f"cuedeck itself failed at this: {type(error).__name__}: {error}"):
            client.ask(request)
    desk.does = None
    client.ask(Stop())
    client.ask(Reload())
    assert "Traceback" in capsys.readouterr().err


def test_a_blackout_waits_for_no_slow_request_of_the_same_client(desk: Desk, client: PlayerClient) -> None:
    with ThreadPoolExecutor() as pool:
        begun = pool.submit(client.ask, BEGIN)
        assert desk.noted()[0] == "begin"
        reloaded = pool.submit(client.ask, Reload())
        client.ask(StartBlackout())
        assert not begun.done()
        assert not reloaded.done()
        desk.may_go_on.set()
        begun.result(LONG_S)
        reloaded.result(LONG_S)
    assert [desk.noted()[0] for _ in range(2)] == ["blackout", "reload"]


def test_the_slow_requests_of_one_client_do_not_wait_for_those_of_another(
    desk: Desk, client: PlayerClient, folder: Path
) -> None:
    with ThreadPoolExecutor() as pool, found(folder) as other:
        begun = pool.submit(client.ask, BEGIN)
        other.ask(Reload())
        assert not begun.done()
        desk.may_go_on.set()
        begun.result(LONG_S)


def test_a_client_can_not_pile_up_slow_requests_without_end(desk: Desk, client: PlayerClient) -> None:
    with ThreadPoolExecutor(40) as pool:
        asked = [pool.submit(client.ask, BEGIN) for _ in range(40)]
        with pytest.raises(PlayerRefused, match="too much waits already"):
            next(iter(wait(asked, LONG_S, FIRST_COMPLETED).done)).result()
        desk.may_go_on.set()


def test_every_client_is_told_and_only_the_one_with_control_has_it(
    desk: Desk, client: PlayerClient, folder: Path
) -> None:
    with found(folder) as other:
        assert desk.noted() == ("came", 2)
        desk.server.publish(Snapshot(state="running", controller=2))
        desk.server.publish(Notice(text="the serial line is back"))
        for one, has_control in ((client, False), (other, True)):
            snapshot = told(one)
            assert isinstance(snapshot, Snapshot)
            assert (snapshot.state, snapshot.controller, snapshot.has_control) == ("running", 2, has_control)
            assert one.snapshot == snapshot
            assert told(one) == Notice(text="the serial line is back")
        desk.server.publish(Notice(text="for you"), to=2)
        desk.server.publish(Notice(text="for all"))
        assert told(client) == Notice(text="for all")
        assert told(other) == Notice(text="for you")


def test_who_comes_later_gets_the_last_snapshot_first(desk: Desk, folder: Path) -> None:
    desk.server.publish(Snapshot(state="counting"))
    desk.server.publish(Snapshot(state="holding"))
    with found(folder) as client:
        assert told(client) == Snapshot(state="holding")


def test_an_answer_comes_after_what_was_published_on_the_way_to_it(desk: Desk, client: PlayerClient) -> None:
    for request in (Hold(), Reload()) * 20:
        desk.does = lambda _, request: desk.server.publish(Snapshot(state=str(request.id)))
        client.ask(request)
        assert client.snapshot is not None
        assert client.snapshot.state == str(client._asked)


def test_of_many_snapshots_the_newest_waits(desk: Desk, client: PlayerClient) -> None:
    for number in range(500):
        desk.server.publish(Snapshot(state="running", packet=number))
    desk.server.publish(Ended(take=1, slate="1-A"))
    client.ask(Hold())
    assert told(client) == Snapshot(state="running", packet=499)
    assert told(client) == Ended(take=1, slate="1-A")
    assert client.next(0) is None


def test_a_beat_is_no_message_and_breaks_none(desk: Desk, client: PlayerClient) -> None:
    for number in range(50):
        desk.server.beat()
        desk.server.publish(Notice(text=f"{number}"))
        desk.server.beat()
    assert [told(client) for _ in range(50)] == [Notice(text=f"{number}") for number in range(50)]
    client.ask(Hold())
    assert client.next(0) is None


def test_what_happens_can_be_heard_in_a_callback(desk: Desk, folder: Path) -> None:
    heard: queue.Queue[object] = queue.Queue()

    def hear(event: AnyEvent) -> None:
        heard.put(event)
        raise RuntimeError("the screen is gone")

    client = find_player(folder, on_event=hear, on_gone=heard.put)
    assert client is not None
    desk.server.publish(Notice(text="one"))
    desk.server.publish(Notice(text="two"))
    assert [heard.get(timeout=LONG_S) for _ in range(2)] == [Notice(text="one"), Notice(text="two")]
    assert client.next(0) is None
    desk.server.close()
    assert isinstance(heard.get(timeout=LONG_S), PlayerGone)
    client.close()


@pytest.mark.parametrize("leave", [True, False])
def test_a_client_goes_on_purpose_or_is_lost(desk: Desk, client: PlayerClient, leave: bool) -> None:
    client.close(leave=leave)
    client.close()
    assert desk.noted() == ("left", 1, leave)
    with pytest.raises(PlayerGone, match="this client has left the player"):
        client.ask(Stop())


def test_a_client_that_takes_nothing_holds_up_nobody_and_is_dropped(
    desk: Desk, client: PlayerClient, folder: Path
) -> None:
    lines = known(folder)
    assert desk.noted() == ("came", 2)
    snapshot = Snapshot(state="running", universes=(1,), slots=os.urandom(100_000))
    for _ in range(100):
        desk.server.publish(snapshot)
    client.ask(Hold())
    assert desk.noted()[0] == "hold"
    desk.server.publish(Notice(text="x"))
    client.ask(Hold())  # snapshots alone drop nobody
    assert desk.noted()[0] == "hold"
    note: tuple[object, ...] = ("",)
    end_s = time.monotonic() + LONG_S
    while note[0] != "left":  # the system has room for some
        assert time.monotonic() < end_s, "it is never dropped"
        for _ in range(MOST_WAITING):
            desk.server.publish(Notice(text="x" * 2000), to=2)
        client.ask(Stop())
        note = desk.noted()
    assert note == ("left", 2, False)
    client.ask(Hold())
    lines.close()


def test_only_so_many_clients_are_taken(desk: Desk, folder: Path) -> None:
    with ExitStack() as stack:
        clients = [stack.enter_context(found(folder)) for _ in range(MOST_CLIENTS)]
        with pytest.raises(PlayerRefused, match=f"{MOST_CLIENTS} clients are there already; close one"):
            find_player(folder)
        clients[0].close()
        assert ("left", 1, True) in [desk.noted() for _ in range(MOST_CLIENTS + 1)]
        stack.enter_context(found(folder))


@pytest.mark.parametrize("said", [b"", b"GET / HTTP/1.1\r\n", Quit().to_line() + b" " * 200, b"\0" * 5000])
def test_a_stranger_is_dropped_and_never_heard(
    desk: Desk, folder: Path, said: bytes, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("cuedeck.player.channel.server.PLAYER_WAITS_S", 0.1)
    with raw(folder) as stranger:
        stranger.sendall(said)  # one that says too little is dropped after its time
        assert is_ended(stranger)
    assert desk.notes.empty()


@pytest.mark.usefixtures("desk")
def test_who_does_not_know_the_secret_finds_no_player(folder: Path) -> None:
    instance = InstanceLock.of(folder)
    address = found_of(folder).address
    instance.announce(address, "0" * 64)
    assert find_player(folder) is None


@pytest.mark.usefixtures("runtime")
def test_a_client_tells_its_secret_to_no_false_player(folder: Path) -> None:
    with socket.create_server(("127.0.0.1", 0)) as impostor:
        InstanceLock.of(folder).announce(f"tcp:{impostor.getsockname()[1]}", "5ec2e7" * 10)
        heard = []

        def pose() -> None:
            connected, _ = impostor.accept()
            with connected:
                connected.sendall(f"cuedeck {VERSION:04d} {'0' * 64}\n".encode())
                heard.append(connected.recv(1000))
                connected.sendall(b"0" * 64 + b"\n")

        posing = threading.Thread(target=pose)
        posing.start()
        assert find_player(folder) is None
        posing.join(LONG_S)
    assert len(heard[0]) == 130
    assert b"5ec2e7" not in heard[0]


@pytest.mark.usefixtures("runtime")
def test_a_player_that_says_nothing_is_told_from_none(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("cuedeck.player.channel.connect.CLIENT_WAITS_S", 0.05)
    monkeypatch.setattr("cuedeck.player.channel.socket_lines.CLIENT_WAITS_S", 0.05)
    with socket.create_server(("127.0.0.1", 0)) as silent:
        InstanceLock.of(folder).announce(f"tcp:{silent.getsockname()[1]}", "00ff")
        with pytest.raises(PlayerSilent, match=rf"process {os.getpid()}\) does not answer"):
            find_player(folder)
    assert find_player(folder) is None


def test_a_player_of_another_version_is_not_talked_to(
    desk: Desk, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("cuedeck.player.channel.connect.VERSION", VERSION + 1)
    with pytest.raises(PlayerRefused, match="started by another version of cuedeck"):
        find_player(folder)
    assert desk.notes.empty()


def test_a_client_that_talks_nonsense_is_told_so_and_dropped_in_the_end(desk: Desk, folder: Path) -> None:
    lines = known(folder)
    assert desk.noted() == ("came", 1)
    for _ in range(MOST_NONSENSE):
        lines.write(b"{}\n")
        assert lines.read().startswith(b'{"event":"refused","id":0,"what":"this is no message')
    with pytest.raises((EOFError, ConnectionError)):
        lines.read()
    lines.close()
    assert desk.noted() == ("left", 1, False)


def test_a_line_without_end_drops_the_client(desk: Desk, folder: Path) -> None:
    lines = known(folder)
    assert desk.noted() == ("came", 1)
    with suppress(ConnectionError):
        lines.write(b"x" * 4_000_000)
    assert desk.noted() == ("left", 1, False)
    lines.close()


def test_thousands_of_spoilt_messages_leave_the_server_with_an_ear_for_a_good_client(
    desk: Desk, client: PlayerClient, folder: Path
) -> None:
    chance = random.Random(3)  # noqa: S311 - no secret
    desk.may_go_on.set()
    for _ in range(40):
        with suppress(OSError), raw(folder) as stranger:
            for _ in range(10):
                stranger.sendall(fuzzed_line(chance))
        lines = known(folder)
        with suppress(OSError):
            for _ in range(60):
                lines.write(fuzzed_line(chance))
        client.ask(Hold(), LONG_S)
        lines.close()
    assert client.gone is None


def test_closing_says_what_is_still_to_be_said_and_takes_the_announcement_back(
    desk: Desk, client: PlayerClient, folder: Path
) -> None:
    for number in range(50):
        desk.server.publish(Notice(text=str(number)))
    desk.server.close()
    desk.server.close()
    desk.server.publish(Notice(text="nobody hears this"))
    assert [told(client) for _ in range(50)] == [Notice(text=str(number)) for number in range(50)]
    with pytest.raises(PlayerGone, match=rf"the player \(process {os.getpid()}\) is gone"):
        client.next(LONG_S)
    assert find_player(folder) is None
    assert desk.notes.empty()  # nobody left: the player did


def test_a_channel_that_cannot_be_opened_says_why(folder: Path, runtime: Path) -> None:
    instance = InstanceLock.of(folder)
    (instance.log.parent / f"{instance.log.stem}.json").mkdir()
    server = ControlServer(instance, Desk(instance))
    with pytest.raises(ChannelFailed, match=r"the channel for clients cannot be opened: .* cannot be written"):
        server.start()
    server.close()
    assert runtime.exists()


def test_a_player_is_started_once_and_found_again(folder: Path, small: str) -> None:
    client = start_player(folder, resume=True, timeout_s=LONG_S, module=small)
    assert client.pid != os.getpid()
    with start_player(folder, timeout_s=LONG_S, module=small) as other:
        assert other.pid == client.pid
        assert Notice(text="2 came; --resume") in [told(other) for _ in range(2)]
    assert os.getsid(client.pid) == client.pid  # no Ctrl-C of this terminal reaches it
    quit_player(client)
    client.close()


def test_of_several_that_start_a_player_at_once_all_get_the_same(folder: Path, small: str) -> None:
    with ThreadPoolExecutor(4) as pool:
        clients = list(pool.map(lambda _: start_player(folder, timeout_s=LONG_S, module=small), range(4)))
    assert len({client.pid for client in clients}) == 1
    quit_player(clients[0])
    for client in clients:
        client.close()
    for thread in threading.enumerate():
        if thread.name.startswith("end of player"):
            thread.join(LONG_S)  # of those that were too late, none comes to life now
            assert not thread.is_alive()


def test_where_a_player_is_just_ending_another_is_started_after_it(folder: Path, small: str) -> None:
    """The first that is started finds the place taken, and ends; when the other has ended, the next one is tried."""
    claim = "import sys; from pathlib import Path; from cuedeck.player.instance_lock import InstanceLock; "
    claim += "InstanceLock.of(Path(sys.argv[1])).claim(); print(flush=True); sys.stdin.read()"
    with subprocess.Popen(
        [sys.executable, "-c", claim, str(folder)], stdin=subprocess.PIPE, stdout=subprocess.PIPE
    ) as ending:
        assert ending.stdout is not None
        ending.stdout.readline()
        clients: list[PlayerClient] = []
        starting = threading.Thread(target=lambda: clients.append(start_player(folder, module=small)))
        starting.start()
        log = InstanceLock.of(folder).log
        wait_until(lambda: log.exists() and "runs already" in log.read_text(encoding="utf-8"))
        ending.communicate(timeout=LONG_S)
        starting.join(LONG_S)
    (client,) = clients
    quit_player(client)
    client.close()


def test_a_player_that_does_not_start_says_why(folder: Path, small: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("SMALL_PLAYER_SAYS", "show.yaml, line 3: there is no look 'egdes'")
    with pytest.raises(PlayerGone, match=r"the player did not start: show\.yaml, line 3: there is no look 'egdes'"):
        start_player(folder, timeout_s=LONG_S, module=small)


def test_a_killed_player_is_noticed_at_once_by_who_asks_who_waits_and_who_listens(folder: Path, small: str) -> None:
    lost: queue.Queue[PlayerGone] = queue.Queue()
    client = start_player(folder, timeout_s=LONG_S, module=small)
    listener = find_player(folder, on_event=lambda _: None, on_gone=lost.put)
    os.kill(client.pid, signal.SIGSTOP)
    with ThreadPoolExecutor() as pool:
        asked = pool.submit(client.ask, Hold())
        os.kill(client.pid, signal.SIGKILL)
        with pytest.raises(PlayerGone, match=f"process {client.pid}"):
            asked.result(LONG_S)
    with pytest.raises(PlayerGone, match=f"process {client.pid}"):
        hear_out(client)
    assert f"process {client.pid}" in str(lost.get(timeout=LONG_S))
    assert find_player(folder) is None
    assert listener is not None
    with start_player(folder, timeout_s=LONG_S, module=small) as new:
        assert new.pid != client.pid
        quit_player(new)
    client.close()
    listener.close()


def test_a_player_that_does_not_answer_is_not_waited_for_without_end(folder: Path, small: str) -> None:
    client = start_player(folder, timeout_s=LONG_S, module=small)
    os.kill(client.pid, signal.SIGSTOP)
    wait_until(lambda: state_of(client.pid) == "T", "the stop")
    with pytest.raises(PlayerSilent, match=f"process {client.pid}.* did not answer within 0.1 s"):
        client.ask(Hold(), 0.1)
    os.kill(client.pid, signal.SIGCONT)
    quit_player(client)  # the late answer is nobody's
    client.close()


def test_a_client_that_is_killed_is_lost_and_not_gone_on_purpose(desk: Desk, folder: Path) -> None:
    program = (
        "import sys; from pathlib import Path; from cuedeck.player.channel.client import find_player;"
        "client = find_player(Path(sys.argv[1])); print(client, flush=True); sys.stdin.read()"
    )
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    command = [sys.executable, "-c", program, str(folder)]
    with subprocess.Popen(command, env=environment, stdin=subprocess.PIPE, stdout=subprocess.PIPE) as process:
        assert process.stdout is not None
        assert b"PlayerClient 1" in process.stdout.readline()
        process.kill()
    assert desk.noted() == ("came", 1)
    assert desk.noted() == ("left", 1, False)


def test_a_farewell_is_answered_and_ends_the_connection(desk: Desk, folder: Path) -> None:
    lines = known(folder)
    lines.write(Leave(id=5).to_line())
    assert lines.read() == b'{"event":"done","id":5}\n'
    with pytest.raises(EOFError):
        lines.read()
    lines.close()
    assert [desk.noted() for _ in range(2)] == [("came", 1), ("left", 1, True)]
