"""What a client asks of the player.

An immediate request is answered at once, whatever else goes on; a slow one waits for its turn behind the slow
ones of the same client.
"""

from __future__ import annotations

import posixpath
import zlib
from collections.abc import Mapping
from typing import Annotated, ClassVar, get_args

from cuedeck.player.channel.message import (
    MOST_FIRED,
    MOST_UNIVERSES,
    NOTHING,
    Argument,
    Arguments,
    BadMessage,
    Count,
    Message,
    Name,
    Universes,
    between,
    message_in,
    most,
    unpacked_bytes,
)

SLOTS = 512
LONGEST_COUNT_S = 3600
MOST_TEXTS = 1_000
LONGEST_TEXT = 16_000_000
"""Bytes of one text; no file of a show is longer."""
LONGEST_TEXTS = 8 * 1024 * 1024
"""Bytes of all the texts of one request, packed."""


def _inside(name: str) -> str:
    if posixpath.normpath(name.replace("\\", "/")).startswith(("/", "..")):
        raise BadMessage("this leads out of the show folder")
    return name


FileName = Annotated[str, most(4096), _inside]
"""Of a file in the show folder, from there, as the show writes it."""


class Request(Message):
    """What a client asks. It is answered with `done` or `refused` of the same id."""

    KIND: ClassVar = "ask"
    ask: ClassVar[str]
    is_immediate: ClassVar[bool] = True
    longest: ClassVar[int] = 64 * 1024
    """Bytes of its line, with the new line at its end."""
    id: Count = 0
    """Counted by the client, so that it knows the answer; `PlayerClient.ask` fills it in, and the next two."""
    asked_ms: Count | None = None
    """When it was asked, by the monotonic clock that all programs of a computer share. A player that stood still since
    does not do it any more: its client has given it up. Without a time it is never too late."""
    until_ms: Count | None = None
    """Until when it is wanted, by the same clock: later it is not done any more."""


class Begin(Request):
    """Get a take of a shot ready, and count down to it or wait for `start`."""

    is_immediate: ClassVar = False
    longest: ClassVar = 16 * 1024 * 1024
    ask: ClassVar = "begin"
    shot: Name
    """The number of the shot."""
    to: Arguments
    """Where packets go, as written behind --to."""
    speed: Annotated[str, most(40)] = "1"
    """How fast the shot goes, as written."""
    count_s: Annotated[int, between(0, LONGEST_COUNT_S)] = 0
    """Seconds that are counted down before the take."""
    attended: bool = False
    """Whether someone is there to fire cues, so that the take waits for them past its length."""
    is_rehearsal: bool = False
    """Whether the take is to be looked at only, and is not logged."""
    from_packet: Count = 0
    """The packet that the take begins with."""
    fired: Annotated[tuple[tuple[Name, Count], ...], most(MOST_FIRED)] = ()
    """The cues that count as fired before that packet, with their packets."""
    chase: Argument | None = None
    """The timecode that the take follows, as written."""
    contacts: Argument | None = None
    """The serial port with the contacts, as written."""
    osc: bool = False
    """Whether the take listens to OSC."""
    arm: bool = False
    """Whether the take waits for `start` or a contact instead of counting down."""
    axis_from: Argument | None = None
    """Where the positions of the axis come from, as written."""
    log: Argument | None = None
    """The file that the take is logged in, as a whole path; the show's own, where none is named."""
    texts: Annotated[dict[FileName, bytes], most(MOST_TEXTS)] = NOTHING
    """The files that are edited and not saved, packed with `packed_texts`; for a rehearsal only."""

    def check_whole(self) -> None:
        """Check that no take is of what is not saved, and that a rehearsal can be sent. Raises BadMessage."""
        if self.texts and not self.is_rehearsal:
            raise BadMessage("a take is of the show as it is saved")
        if sum(map(len, self.texts.values())) > LONGEST_TEXTS:
            raise BadMessage("more was edited than can be sent to the player: save it, and run it then")


class Start(Request):
    """Start the take that is armed."""

    ask: ClassVar = "start"


class Fire(Request):
    """Fire a cue of the operator's."""

    ask: ClassVar = "fire"
    cue: Name | None = None
    """Which; the next one, where none is named."""


class Hold(Request):
    """Hold the take where it is, or let it go on."""

    ask: ClassVar = "hold"
    is_held: bool | None = None
    """Whether it is to be held; the other of what it is, where nothing is said."""


class Stop(Request):
    """Cut the take or the count."""

    ask: ClassVar = "stop"


class Release(Request):
    """Undo the last of: a blackout, the hold of a take, the look that stands on the line."""

    ask: ClassVar = "release"
    keeps_blackout: bool = False
    """Whether a blackout stays: for whoever lets go of his own look, and not of what someone else made dark."""


class StartBlackout(Request):
    """Black with the next packet, or back from it."""

    ask: ClassVar = "blackout"


class Control(Request):
    """Take over control from whoever has it."""

    ask: ClassVar = "control"


class Expect(Request):
    """Say where packets are to go later, so that an output that is not there is told of before. Asks for no light."""

    ask: ClassVar = "expect"
    to: Arguments
    """Where packets will go, as written behind --to."""


class ShowLook(Request):
    """Hold these slots on the line."""

    is_immediate: ClassVar = False
    longest: ClassVar = 1024 * 1024
    ask: ClassVar = "show"
    to: Arguments
    """Where packets go, as written behind --to."""
    universes: Universes
    """The universes, in the order of the slots."""
    slots: Annotated[bytes, most(MOST_UNIVERSES * SLOTS)]
    """512 bytes for each universe, in JSON as base64."""
    is_rehearsal: bool = False
    """Whether the slots are to be looked at only, and not to be acted upon."""

    def check_whole(self) -> None:
        """Check that there are slots for each universe. Raises BadMessage."""
        if len(set(self.universes)) != len(self.universes):
            raise BadMessage("a universe is named twice")
        if len(self.slots) != SLOTS * len(self.universes):
            raise BadMessage(f"{len(self.slots)} slots for {len(self.universes)} universes of {SLOTS}")


class Reload(Request):
    """Read the show again."""

    is_immediate: ClassVar = False
    ask: ClassVar = "reload"


class Leave(Request):
    """A farewell: this client goes on purpose. The server answers it itself and ends the connection."""

    ask: ClassVar = "leave"


class Quit(Request):
    """End the player."""

    is_immediate: ClassVar = False
    ask: ClassVar = "quit"


AnyRequest = (
    Begin | Start | Fire | Hold | Stop | Release | StartBlackout | Control | Expect | ShowLook | Reload | Leave | Quit
)
_REQUESTS: dict[str, type[AnyRequest]] = {kind.ask: kind for kind in get_args(AnyRequest)}


def request_in(line: bytes) -> AnyRequest:
    """Return what a client asks in a line. Raises BadMessage."""
    return message_in(line, _REQUESTS, longest_of(line))


def longest_of(beginning: bytes | bytearray) -> int:
    """Return how long a request may be that begins like this."""
    kind = beginning[:40].removeprefix(b'{"ask":"').partition(b'"')[0].decode(errors="replace")
    return _REQUESTS.get(kind, Request).longest


def packed_texts(texts: Mapping[str, str]) -> dict[str, bytes]:
    """Return texts as a request carries them."""
    return {name: zlib.compress(text.encode(), 1) for name, text in texts.items()}


def unpacked_texts(texts: Mapping[str, bytes]) -> dict[str, bytes]:
    """Return the texts that a request carries, in UTF-8. Raises ValueError."""
    return {name: unpacked_bytes(packed, LONGEST_TEXT) for name, packed in texts.items()}
