"""What is to be on the disk, done in a process of its own so that its system calls can be recorded.

    python -m tests.synced WHAT FOLDER

It prints a line where a person, or another part of the program, is told that something is kept.
"""

from __future__ import annotations

import sys
from fractions import Fraction
from pathlib import Path

import numpy as np

from cuedeck.clock import ManualClock
from cuedeck.draft.cues import lengthen_fade
from cuedeck.draft.draft import Draft, files_of
from cuedeck.folder.calibrations import CalibrationFile
from cuedeck.folder.draft_files import DraftFiles
from cuedeck.folder.folder import ShowFolder
from cuedeck.output.base import Line
from cuedeck.player.instance_lock import InstanceLock
from cuedeck.player.line import blackout_client
from cuedeck.player.line.blackout import Blackout
from cuedeck.player.line.blackout_client import black_out, release_blackout
from cuedeck.player.line.blackout_page import made_page
from cuedeck.player.line.last_look import LastLook, Route
from cuedeck.player.state_folder import StateFolder
from cuedeck.rig.calibration import Calibration, parse_reading
from cuedeck.takes.recorder import Recorder
from cuedeck.takes.rescue import put_in_place, rescue
from cuedeck.takes.store import TakeStore
from cuedeck.takes.take import Status
from tests.output.ports import FULL, packet
from tests.takes.rolled import add_packets, finish


def save_two_files(folder: Path) -> None:
    show = ShowFolder(folder)
    names = ("show.yaml", "looks/common.yaml")
    show.save(dict.fromkeys(names, b"new"), {name: show.read(name) for name in names})


def edit_twice_and_save(folder: Path) -> None:
    """Edit as the screen does; each step in the thread that writes, in the order of the keys."""
    files = DraftFiles(folder)
    draft = Draft(files.open())
    files.begin(lambda _: None)
    for cue in ("2", "3"):
        edit = lengthen_fade(draft.opened, "1", cue, Fraction(1, 10))
        where = files_of(draft.opened, edit.changes)
        step = draft.make(edit)
        files.make(step.number, step.name, where, [])
    files.settle()
    print("edited", flush=True)
    files.save()
    files.settle()
    print("saved", flush=True)
    files.end()


def roll_a_take(folder: Path) -> None:
    """Write two blocks to the log and close it, as the recorder and the player do."""
    with TakeStore(folder, create=True) as store:
        take = store.begin("1", FULL, Fraction(40), 2, ["simulator"])
        print("begun", flush=True)
        for number in range(2):
            add_packets(store, take.id, [number], [0], [0], packet(number).slots[None])
            print(f"block {number}", flush=True)
        finish(store, take.id, Status.COMPLETE, 2, 2, [], None)
        print("ended", flush=True)


def record_a_take(folder: Path) -> None:
    """Record two seconds of packets with both files."""
    (folder / "second").mkdir()
    with TakeStore(folder, create=True) as store:
        take = store.begin("1", FULL, Fraction(40), 80, ["simulator"])
    clock = ManualClock(0)
    recorder = Recorder(folder / "takes.sqlite", take, clock, [folder / "second"])
    print("rolling", flush=True)
    recorder.open(FULL)
    for number in range(80):
        clock.spin_ns(25_000_000)
        recorder.send(packet(number))
    recorder.close()
    assert not recorder.trouble
    print("recorded", flush=True)
    recorder.spool.close()


def rescue_a_log(folder: Path) -> None:
    """Put what can be read of a log in its place."""
    with TakeStore(folder, create=True) as store:
        take = store.begin("1", FULL, Fraction(40), 1, ["simulator"])
        add_packets(store, take.id, [0], [0], [0], packet(0).slots[None])
        finish(store, take.id, Status.COMPLETE, 1, 1, [], None)
    print("damaged", flush=True)
    rescue(store.path, folder / "rescued.sqlite")
    put_in_place(store.path, folder / "rescued.sqlite")
    print("rescued", flush=True)


def keep_a_reading(folder: Path) -> None:
    CalibrationFile(folder, "left").save(
        Calibration((Fraction(1, 2), Fraction(1))).with_reading(parse_reading("800 lux"))
    )
    print("kept", flush=True)


def black_out_with_a_player(folder: Path) -> None:
    """Ask for a blackout and for its release, of a player that has the folder."""
    where = InstanceLock.of(folder)
    where.claim()
    page, _ = made_page(where.blackout_page)
    blackout = Blackout(StateFolder(folder), page)
    blackout.start()
    blackout_client.ANSWERS_IN_S = 60  # however slow the disk is today
    assert not black_out(folder).not_kept
    print("dark", flush=True)
    assert not release_blackout(folder).not_kept
    print("released", flush=True)
    blackout.close()


def keep_a_look(folder: Path) -> None:
    dark = np.zeros((1, 512), np.uint8)
    look = LastLook(folder / "look", Route(("simulator",), Line((1,), 512, 44.0), dark), dark)
    print("lit", flush=True)
    look.sync()
    print("synced", flush=True)


if __name__ == "__main__":
    globals()[sys.argv[1]](Path(sys.argv[2]))
