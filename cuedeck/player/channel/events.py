"""What the player says to its clients."""

from __future__ import annotations

import zlib
from typing import Annotated, ClassVar, get_args

from cuedeck.player.channel.message import (
    LONGEST_EVENT,
    MOST_FIRED,
    MOST_OUTPUTS,
    MOST_TOLD,
    MOST_UNIVERSES,
    NOTHING,
    Count,
    Message,
    Number,
    Universes,
    Whole,
    Words,
    first,
    message_in,
    most,
    unpacked_bytes,
)

LARGEST_SLOTS = MOST_UNIVERSES * 512
FiredCue = tuple[Words, Count]
"""A cue and the packet it was fired with."""


class OutputState(Message):
    """How one output fares."""

    name: Words
    """What the user calls it."""
    is_lost: bool = False
    """Whether nothing reaches it now."""
    why: Words = ""
    """Why it is lost, in words."""
    is_there: bool = True
    """Whether its port is there; known only of what is expected and not open."""
    refresh_hz: Number = 0.0
    """The rate it reached over about the last second."""
    sent: Count = 0
    """Packets that left."""
    missed: Count = 0
    """Packets that did not leave in time."""


class LastTake(Message):
    """How the last take of this player ended."""

    slate: Words
    status: Words
    """As it stands in the log."""
    was_watched: bool
    """Whether a client was there when it ended."""


class Event(Message):
    """What the player says; `event` says what kind it is."""

    KIND: ClassVar = "event"


class Done(Event):
    """A request was carried out."""

    event: ClassVar = "done"
    id: Count


class Refused(Event):
    """A request was not carried out."""

    event: ClassVar = "refused"
    id: Count
    """Of the request; 0 for what was no request at all."""
    what: Words
    """What is wrong and what to do instead."""


class Welcome(Event):
    """The first word to a client that has proved who it is."""

    event: ClassVar = "welcome"
    client: Count
    """The number of the client, from 1, as in `controller` of a snapshot."""
    version: Count
    """Of the messages."""
    beats: bool = False
    """Whether something is said every BEAT_S at the latest, so that a silent player is one that hangs."""


class Snapshot(Event):
    """How everything stands. One that waits for a client is replaced by a newer one."""

    event: ClassVar = "snapshot"
    state: Words
    """What the player is doing, in the words of states.py."""
    is_blacked_out: bool = False
    has_control: bool = False
    """Whether the client that this goes to has control; filled in by the server from `controller`."""
    controller: Count | None = None
    """The number of the client that has control."""
    shot: Words = ""
    slate: Words = ""
    """Of the take; empty for a rehearsal."""
    speed: Words = ""
    """How many times as fast as it is written the shot runs; empty where none does."""
    counting_s: Number = 0.0
    """Seconds that are left to count down; 0 while nothing is counted."""
    packet: Whole = 0
    """The packet that left last, counted from the start of the take."""
    packet_count: Count = 0
    """Packets of the take, if no cue makes it longer."""
    time_s: Number = 0.0
    """Seconds from the start of the take."""
    next_cue: Words = ""
    """The cue that `fire` would fire; empty where there is none."""
    waits_for: Words = ""
    """The cue that the take goes on for, past its length; empty before that."""
    is_held: bool = False
    chased: Words = ""
    """How the timecode stands that the take follows, in words; empty where it follows none."""
    fired: Annotated[tuple[FiredCue, ...], first(MOST_FIRED)] = ()
    """The cues that were fired, with their packets."""
    outputs: Annotated[tuple[OutputState, ...], most(MOST_OUTPUTS)] = ()
    late_ms: Number = 0.0
    """The worst lateness of a packet so far, in milliseconds."""
    last_take: LastTake | None = None
    log_problem: Words = ""
    """Why the log of the take cannot be written now, and what is kept in memory; empty while all is well."""
    show_problem: Words = ""
    """What is wrong with the show as it is on the disk; empty where nothing is."""
    priority: Words = ""
    """With what priority the system runs the player, in words."""
    refresh_hz: Number = 0.0
    """The refresh that every output should reach; 0 where nothing is sent."""
    is_lit: bool = False
    """Whether there is more light on the line than what a blackout leaves."""
    universes: Universes = ()
    """The universes of the slots, in their order."""
    slots: Annotated[bytes, most(LARGEST_SLOTS + 4096)] = b""
    """What is on the line, 512 bytes for each universe, packed with `packed`; empty where nothing is sent."""


class Notice(Event):
    """Something happened that a person should know."""

    event: ClassVar = "told"
    text: Words


class Ended(Event):
    """A take has ended."""

    event: ClassVar = "ended"
    take: Whole
    """Its number in the log."""
    slate: Words
    was_cut: bool = False
    counting_was_cut: bool = False
    """Whether it was cut before it had begun, so that there is no take."""
    missed: Count = 0
    """Packets that did not leave in time."""
    blacked_out: Count = 0
    """Packets that a blackout lay over."""
    lost: Annotated[dict[Words, Words], most(MOST_OUTPUTS)] = NOTHING
    """The outputs that were lost, by name, and why."""
    missed_on: Annotated[dict[Words, Count], most(MOST_OUTPUTS)] = NOTHING
    """Packets that an output was still too busy for, by its name."""
    chase_fault: Words = ""
    """What was missing of the timecode that the take followed."""
    log: Words = ""
    """The file that the take is in."""
    told: Annotated[tuple[Words, ...], first(MOST_TOLD)] = ()
    """What was told during the take."""
    outputs: Annotated[tuple[OutputState, ...], most(MOST_OUTPUTS)] = ()
    """How the outputs fared in this take."""
    handed_over: Annotated[tuple[Words, ...], most(MOST_OUTPUTS)] = ()
    """The outputs that were not put out at the end, because a spare has their lamps."""
    floor: Annotated[tuple[tuple[Words, Words], ...], most(MOST_TOLD)] = ()
    """What came from the floor: labels and texts for a summary."""


AnyEvent = Done | Refused | Welcome | Snapshot | Notice | Ended
_EVENTS: dict[str, type[AnyEvent]] = {kind.event: kind for kind in get_args(AnyEvent)}


def event_in(line: bytes) -> AnyEvent:
    """Return what the player says in a line. Raises BadMessage."""
    return message_in(line, _EVENTS, LONGEST_EVENT)


def packed(slots: bytes) -> bytes:
    """Return slots as a snapshot carries them."""
    return zlib.compress(slots, 1) if slots else b""


def unpacked(slots: bytes) -> bytes:
    """Return the slots that a snapshot carries, 512 bytes for each universe. Raises ValueError."""
    if not slots:
        return b""
    whole = unpacked_bytes(slots, LARGEST_SLOTS)
    if len(whole) % 512:
        raise ValueError("these are no whole universes of slots")
    return whole
