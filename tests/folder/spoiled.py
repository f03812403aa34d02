"""Show folders that somebody spoilt, by accident or on purpose: what lies in them is foreign, whatever its name.

`python -m tests.folder.spoiled` gives each to every command in a terminal of its own, and prints what came of it.
"""

from __future__ import annotations

import fcntl
import gc
import json
import os
import pty
import re
import select
import shutil
import signal
import sqlite3
import struct
import sys
import tempfile
import termios
import time
import traceback
from collections.abc import Callable, Iterator
from contextlib import suppress
from fractions import Fraction
from pathlib import Path
from typing import NoReturn

import numpy as np

import cuedeck.tui.app  # noqa: F401 - loaded once, for all that are forked
from cuedeck.cli.main import main as command_line
from cuedeck.draft.splices import Splice
from cuedeck.folder.journal import Journal, Record
from cuedeck.output.base import Line
from cuedeck.takes.store import TakeStore
from cuedeck.takes.take import Status
from tests.takes.rolled import add_packets, finish
from tests.tui.shows import RIG, SHOTS

C0 = "".join(chr(code) for code in range(1, 32) if chr(code) not in "\t\n")
HIDING = "\u200b\u200d\u200e\u200f\u202a\u202e\u2066\u2069\u061c\u2028\u2029\u00ad\ufeff\ue000\U000e0041"
COMMANDING = f"\x1b]52;c;aGFja2Vk\x07\x1b[7777m\x1bP+q\x1b\\\x9b7777m\x9d52;c;aGk=\x9c{C0}\x7f"
HOSTILE = COMMANDING + "".join(chr(code) for code in range(0x80, 0xA0)) + HIDING
"""Writes the clipboard and more, in seven and in eight bits; and every control character but those of lines."""
NAME = COMMANDING.replace("/", "") + HIDING
"""The same in the name of a file."""

SHOW = RIG.replace("left:", "key:", 1).replace("edges: {left", "edges: {key") + SHOTS.replace(
    "    length: 2 s", "    move: moves/slide.csv\n    cues:\n      - {cue: 1, at: 0 s, look: black}"
)
MOVE = "time s,slide mm\n" + "".join(f"{n / 10},{n}\n" for n in range(21))

Spoil = Callable[[Path, Path], object]
"""Spoils a folder; beside it is one that belongs to somebody else."""


def quoted(text: str) -> str:
    """Return a text as a quoted scalar of YAML, which may hold any character."""
    return json.dumps(text)


def whole(folder: Path) -> None:
    """Make a folder with all that a show may have, sound."""
    (folder / "moves").mkdir(parents=True)
    (folder / "show.yaml").write_text(SHOW, encoding="utf-8")
    (folder / "moves" / "slide.csv").write_text(MOVE, encoding="utf-8")
    with TakeStore(folder, create=True) as store:
        take = store.begin("2", Line((1,), 512, 40.0), Fraction(40), 2, ["simulator"])
        add_packets(store, take.id, [0, 1], [0, 25], [0, 25], np.zeros((2, 1, 512), dtype=np.uint8))
        finish(store, take.id, Status.COMPLETE, 2, 2, [], None)


def _in_show(old: str, new: str) -> Spoil:
    def spoil(folder: Path, _: Path) -> None:
        text = (folder / "show.yaml").read_text(encoding="utf-8")
        assert old in text, old
        (folder / "show.yaml").write_text(text.replace(old, new), encoding="utf-8")

    return spoil


def _bytes(name: str, content: bytes) -> Spoil:
    def spoil(folder: Path, _: Path) -> None:
        _taken_away(folder / name)
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_bytes(content)

    return spoil


def _taken_away(path: Path) -> None:
    if path.is_dir() and not path.is_symlink():
        shutil.rmtree(path)
    else:
        path.unlink(missing_ok=True)


def _pipe(name: str) -> Spoil:
    def spoil(folder: Path, _: Path) -> None:
        _taken_away(folder / name)
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        os.mkfifo(folder / name)

    return spoil


def _folder(name: str) -> Spoil:
    def spoil(folder: Path, _: Path) -> None:
        _taken_away(folder / name)
        (folder / name).mkdir(parents=True)

    return spoil


def _link(name: str, target: str) -> Spoil:
    """Make a link to what stands in the other folder, or, with '/' before it, on this machine."""

    def spoil(folder: Path, other: Path) -> None:
        _taken_away(folder / name)
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).symlink_to(other / target)

    return spoil


def _sparse(name: str, size: int) -> Spoil:
    def spoil(folder: Path, _: Path) -> None:
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        with (folder / name).open("wb") as file:
            file.truncate(size)

    return spoil


def _sql(*statements: str) -> Spoil:
    def spoil(folder: Path, _: Path) -> None:
        database = sqlite3.connect(folder / "takes.sqlite", isolation_level=None)
        for statement in statements:
            database.execute(statement, (HOSTILE,) * statement.count("?"))
        database.close()

    return spoil


def _journal(folder: Path, _: Path) -> None:
    """Leave a journal of somebody else's, with names that command a terminal."""
    journal = Journal(folder, {"show.yaml": SHOW})
    at = SHOW.index("reveal")
    journal.add(Record(HOSTILE, (Splice("show.yaml", at, "reveal", f"re{HOSTILE}veal"),), [[HOSTILE, HOSTILE, {}]]))
    journal.close()
    head, rest = journal.path.read_text(encoding="utf-8").split("\n", 1)
    data = json.loads(head)
    data["origin"] = data.get("origin", {}) | {"user": HOSTILE, "computer": HOSTILE, "folder": HOSTILE}
    journal.path.write_text(f"{json.dumps(data)}\n{rest}", encoding="utf-8")
    journal.path.rename(journal.path.with_name(f"{NAME}.journal"))


def _versions(folder: Path, _: Path) -> None:
    place = folder / ".versions" / "show.yaml"
    place.mkdir(parents=True)
    for stamp in ("2026-13-45T99-99-99.000000Z", "0000-01-01T00-00-00.000000Z", "9999-12-31T23-59-59.999999Z", NAME):
        (place / f"{stamp}.yaml").write_text("theirs", encoding="utf-8")


def _raw_name(folder: Path, _: Path) -> None:
    with suppress(OSError):  # a disk that takes no such names
        Path(os.fsdecode(os.fsencode(folder) + b"/moves/\x9b7777m\xff.csv")).write_text(MOVE, encoding="utf-8")
    (folder / "types").mkdir()
    (folder / "types" / f"{NAME}.yaml").write_text("types: {}\n", encoding="utf-8")


ENDLESS = (
    "create view take as with recursive n(i) as (select 1 union all select i + 1 from n) select i id, i shot,"
    " i number, '' started_utc, '40' refresh, '[1]' universes, 0 packets_due, 0 packets_sent, '[]' outputs, '[]' fired,"
    " 'complete' status, '' sha256, '' lateness_ms, '' chase, '' carried, '1' speed, 0 axes_live, '' mark,"
    " '' note from n"
)
SPOILED: dict[str, Spoil] = {
    "sound": lambda *_: None,
    "title of the show": _in_show("a small set", quoted(HOSTILE)),
    "title of a shot": _in_show("title: reveal", f"title: {quoted(HOSTILE)}"),
    "name of a shot": _in_show("  macro:", f"  {quoted(HOSTILE)}:"),
    "name of a light": _in_show("  wall: {type", f"  {quoted(HOSTILE)}: {{type"),
    "name of a look": _in_show("  dusk: ", f"  {quoted(HOSTILE)}: "),
    "name of a cue": _in_show("cue: go", f"cue: {quoted(HOSTILE)}"),
    "name of a type": _in_show("  wash:", f"  {quoted(HOSTILE)}:"),
    "type of a light": _in_show("type: wash", f"type: {quoted(HOSTILE)}"),
    "an unknown key": _in_show("refresh: 40 Hz", f"refresh: 40 Hz\n{quoted(HOSTILE)}: {quoted(HOSTILE)}"),
    "a bad value": _in_show("refresh: 40 Hz", f"refresh: {quoted(HOSTILE)}"),
    "markup in titles": _in_show("title: reveal", 'title: "[bold red on white blink]x[/] [link=x]y"'),
    "markup that does not end": _in_show("title: by hand", 'title: "[/] [@click=app.quit] [[["'),
    "raw control characters": _in_show("title: a small set", f"title: {HOSTILE}"),
    "an included file that is not there": _in_show("rig:\n", f"include: {quoted(HOSTILE)}\nrig:\n"),
    "a move that is not there": _in_show("moves/slide.csv", quoted(f"moves/{NAME}.csv")),
    "a move out of the folder": _in_show("moves/slide.csv", "../outside/secret.csv"),
    "an old version": _in_show("cuedeck: 1", "cuedeck: 1   # old"),
    "no YAML": _bytes("show.yaml", HOSTILE.encode()),
    "no text": _bytes("show.yaml", bytes(range(256)) * 10),
    "nothing": _bytes("show.yaml", b""),
    "very deep YAML": _bytes("show.yaml", b"[" * 50_000),
    "show.yaml is a pipe": _pipe("show.yaml"),
    "show.yaml is a folder": _folder("show.yaml"),
    "show.yaml is a device": _link("show.yaml", "/dev/zero"),
    "show.yaml leads out": _link("show.yaml", "secret.yaml"),
    "show.yaml leads to itself": _link("show.yaml", "../show/show.yaml"),
    "show.yaml is very long": _sparse("show.yaml", 10**12),
    "headings of a move": _bytes("moves/slide.csv", f"time s,{HOSTILE}\n0,0\n1,1\n".encode()),
    "numbers of a move": _bytes("moves/slide.csv", f"time s,slide mm\n0,{HOSTILE}\n".encode()),
    "a move is a pipe": _pipe("moves/slide.csv"),
    "a move is a device": _link("moves/slide.csv", "/dev/zero"),
    "a move leads out": _link("moves/slide.csv", "secret.csv"),
    "moves lead out": _link("moves", "."),
    "a journal of somebody else": _journal,
    "a journal of nonsense": _bytes(".draft/x.journal", b"[" * 100_000),
    "a journal of control characters": _bytes(f".draft/{NAME}.journal", HOSTILE.encode()),
    "a journal is a pipe": _pipe(f".draft/{NAME}.journal"),
    "a journal leads out": _link(".draft/x.journal", "secret.journal"),
    "a journal is a folder": _folder(".draft/x.journal"),
    "a journal is very long": _sparse(".draft/x.journal", 10**12),
    "journals lead out": _link(".draft", "."),
    "journals are a file": _bytes(".draft", b""),
    "journals are a pipe": _pipe(".draft"),
    "versions of no time": _versions,
    "versions lead out": _link(".versions", "."),
    "versions of the show lead out": _link(".versions/show.yaml", "."),
    "versions are a file": _bytes(".versions", b""),
    "versions are a pipe": _pipe(".versions/show.yaml"),
    "a kept old version leads out": _link("show.yaml.version-1", "secret.yaml"),
    "a kept old version is a pipe": _pipe("show.yaml.version-1"),
    "texts of a take": _sql("update take set shot = ?, started_utc = ?, chase = ?, note = ?, sha256 = ?"),
    "status of a take": _sql("update take set status = ?, mark = ?"),
    "what was fired in a take": _sql("update take set fired = json_array(json_array(?, 1))"),
    "outputs of a take": _sql("update take set outputs = json_array(?)"),
    "no numbers in a take": _sql("update take set number = ?, packets_due = ?, refresh = ?"),
    "takes of nothing": _bytes("takes.sqlite", b""),
    "takes of control characters": _bytes("takes.sqlite", HOSTILE.encode() * 50),
    "tables of something else": _sql("drop table packets", "drop table take", "create table x (y)"),
    "takes without end": _sql("drop table packets", "drop table take", ENDLESS),
    "takes of a newer cuedeck": _sql("pragma user_version = 99"),
    "takes are a pipe": _pipe("takes.sqlite"),
    "takes are a folder": _folder("takes.sqlite"),
    "takes lead out": _link("takes.sqlite", "secret.sqlite"),
    "takes lead to nothing outside": _link("takes.sqlite", "made.sqlite"),
    "the log of the takes leads out": _link("takes.sqlite-wal", "secret.sqlite"),
    "the log of the takes is a pipe": _pipe("takes.sqlite-wal"),
    "readings of control characters": _bytes(".calibration/key.yaml", HOSTILE.encode()),
    "readings lead out": _link(".calibration", "."),
    "readings are a pipe": _pipe(".calibration/key.yaml"),
    "odd names": _raw_name,
}
"""What was done to a folder, by what it is called."""

COMMANDS: dict[str, list[str]] = {
    "check": ["check", "show"],
    "check --json": ["check", "show", "--json"],
    "takes": ["takes", "show"],
    "takes --json": ["takes", "show", "--json"],
    "takes note": ["takes", "show", "note", "2-A", "good"],
    "takes export": ["takes", "show", "export", "2-A", "--out", "take.csv"],
    "patch": ["patch", "show"],
    "looks": ["looks", "show"],
    "sheet": ["sheet", "show", "macro"],
    "move": ["move", "show", "macro"],
    "packets": ["packets", "show", "macro", "--out", "packets.csv"],
    "migrate": ["migrate", "show"],
    "calibrate": ["calibrate", "show", "key"],
    "player": ["player", "show"],
    "shoot": ["shoot", "show", "macro", "--to", "simulator", "--no-countdown"],
    "open": ["open", "show"],
}
"""Every command that is given a show, run beside it."""
PROGRAMS = ("open", "shoot", "calibrate", "player")
"""Those that start other processes or have the terminal for themselves."""


def outside(base: Path) -> Path:
    """Make the folder of somebody else, beside the show."""
    other = base / "outside"
    other.mkdir()
    (other / "secret.yaml").write_text(SHOW, encoding="utf-8")
    (other / "secret.csv").write_text(MOVE, encoding="utf-8")
    (other / "secret.journal").write_text('{"cuedeck draft": 1, "base": {}}\n', encoding="utf-8")
    sqlite3.connect(other / "secret.sqlite").close()
    return other


def contents(folder: Path) -> dict[str, bytes]:
    """Return what lies in a folder."""
    return {str(path.relative_to(folder)): path.read_bytes() for path in sorted(folder.rglob("*")) if path.is_file()}


_OWN = re.compile(
    r"\x1b(?:\[[0-9;:?<>=!$ ]*[@-~]"  # a control sequence, of Textual, of Rich
    r"|[78=>]"
    r"|\]22;[a-z-]*\x07)"  # the shape of the mouse's pointer
    r"|\r"
)
"""What cuedeck itself writes to a terminal. [ECMA-48, 5.4]"""


def commanding(drawn: bytes) -> list[str]:
    """Return what came to a terminal that commands it or hides something, and is not of cuedeck."""
    text = drawn.decode("utf-8", "surrogateescape")
    found = re.findall(r"\x1b\[[^@-~]*7777.", text)
    rest = _OWN.sub("", text)
    return found + sorted({repr(one) for one in rest if not (one.isprintable() or one in "\n\t")})


class Terminal:
    """A command in a terminal of its own, which is read away: a fork, so that nothing is loaded again."""

    def __init__(self, words: list[str], folder: Path) -> None:
        self.drawn = b""
        self._pid, self._near = pty.fork()
        if self._pid == 0:
            _run_here(words, folder)

    def run(self, answers: list[tuple[bytes, bytes]], within_s: float) -> int | None:
        """Answer what is asked, and return how it ended; None where it did not in time."""
        fcntl.ioctl(self._near, termios.TIOCSWINSZ, struct.pack("HHHH", 30, 100, 0, 0))
        until = time.monotonic() + within_s
        seen = 0
        while time.monotonic() < until:
            if select.select([self._near], [], [], 0.2)[0]:
                try:
                    self.drawn += os.read(self._near, 65536)
                except OSError:
                    break
            for asked, answer in answers:
                if asked in self.drawn[seen:]:
                    seen = len(self.drawn)
                    os.write(self._near, answer)
                    break
        while time.monotonic() < until:
            pid, status = os.waitpid(self._pid, os.WNOHANG)
            if pid:
                self._pid = 0
                return os.waitstatus_to_exitcode(status)
            time.sleep(0.01)
        return None

    def end(self) -> None:
        if self._pid:
            os.kill(self._pid, signal.SIGKILL)
            os.waitpid(self._pid, 0)
        os.close(self._near)


def _run_here(words: list[str], folder: Path) -> NoReturn:
    """Be the command, in the child."""
    code = 99
    try:
        os.chdir(folder)
        os.environ.update(TERM="xterm-256color", COLUMNS="100", LINES="30", HOME=str(folder))
        os.environ["XDG_RUNTIME_DIR"] = str(folder)
        sys.stdin = sys.__stdin__ = open(0, encoding="utf-8")  # type: ignore[misc]  # noqa: SIM115
        sys.stdout = sys.__stdout__ = open(1, "w", encoding="utf-8")  # type: ignore[misc]  # noqa: SIM115
        sys.stderr = sys.__stderr__ = open(2, "w", encoding="utf-8")  # type: ignore[misc]  # noqa: SIM115
        code = command_line(words)
    except SystemExit as left:
        code = int(left.code or 0)
    except BaseException:
        traceback.print_exc()
    finally:
        for stream in (sys.stdout, sys.stderr):
            stream.flush()
        os._exit(code)


ANSWERS = [(b"y or n", b"n\n"), (b"reading?", b"stop\n"), (b"? keys", b"q"), (b"quit", b"q"), (b"Enter", b"\n")]


def _end_players(base: Path) -> None:
    for announced in (base / "cuedeck").glob("*.json"):
        with suppress(ProcessLookupError):
            os.kill(json.loads(announced.read_text(encoding="utf-8"))["pid"], signal.SIGKILL)


def tried(spoil: Spoil, words: list[str], base: Path, within_s: float) -> Iterator[str]:
    """Give a spoiled folder to a command, and yield what is wrong about what came of it."""
    whole(base / "show")
    other = outside(base)
    spoil(base / "show", other)
    before = contents(other)
    terminal = Terminal(words, base)
    code = terminal.run(ANSWERS, within_s)
    terminal.end()
    _end_players(base)
    if code is None:
        yield "hangs"
    if spoil is SPOILED["sound"] and code and words[0] not in ("player", "calibrate"):
        yield f"refused: {terminal.drawn[-200:]!r}"  # what is sound has to get so far that the others are tried
    if code == 70:
        yield "internal error"
    if code is not None and code < 0:
        yield f"died of signal {-code}"
    if b"Traceback" in terminal.drawn:
        yield "traceback"
    yield from commanding(terminal.drawn)
    if contents(other) != before:
        yield "wrote outside"


def main() -> None:
    """Give every folder to every command, and print a table of what is wrong."""
    wanted = sys.argv[1:]
    gc.freeze()
    wrong = total = 0
    for name, spoil in SPOILED.items():
        for command, words in COMMANDS.items():
            if wanted and command not in wanted and name not in wanted:
                continue
            with tempfile.TemporaryDirectory() as base:
                found = list(tried(spoil, words, Path(base), 60))
            total += 1
            wrong += bool(found)
            if found:
                print(f"{name:40} {command:14} {', '.join(found)}", flush=True)
    print(f"{len(SPOILED)} folders, {len(COMMANDS)} commands, {total} tried, {wrong} wrong")


if __name__ == "__main__":
    main()
