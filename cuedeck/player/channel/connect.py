"""Getting through to a player: from what it announced to its welcome."""

from __future__ import annotations

import socket

from cuedeck.errors import Refusal
from cuedeck.player.channel.events import Refused, Welcome, event_in
from cuedeck.player.channel.handshake import CLIENT_WAITS_S, GREETING_LENGTH, PROOF_LENGTH, ClientProof, Stranger
from cuedeck.player.channel.message import BadMessage
from cuedeck.player.channel.silence import silent_text
from cuedeck.player.channel.socket_lines import Lines
from cuedeck.player.instance_lock import VERSION, Announcement


class PlayerGone(Refusal):
    """The player ended, or cannot be reached any more."""


class PlayerSilent(PlayerGone):
    """The player is there and does not answer."""


class PlayerRefused(Refusal):
    """The player does not do what was asked."""


def connect(announcement: Announcement) -> tuple[Lines, Welcome] | None:
    """Return a connection on which both sides know each other, and the player's welcome.

    None where no player is there. Raises PlayerSilent, and PlayerRefused where it takes nobody like this.
    """
    try:
        lines = Lines(_connected(announcement.address))
    except (TimeoutError, BlockingIOError) as error:  # nobody takes up who waits there already
        raise PlayerSilent(silent_text(announcement.pid)) from error
    except (OSError, ValueError):
        return None
    try:
        _check_version(announcement)
        _prove(lines, announcement.secret)
        return lines, _welcome(lines)
    except BaseException as error:
        lines.close()
        if isinstance(error, TimeoutError):
            raise PlayerSilent(silent_text(announcement.pid)) from error
        if isinstance(error, OSError | EOFError | Stranger | BadMessage):
            return None
        raise


def _check_version(announcement: Announcement) -> None:
    if announcement.version != VERSION:
        raise PlayerRefused(
            f"the player (process {announcement.pid}) was started by another version of cuedeck; "
            "end it with that version, or end the process"
        )


def _prove(lines: Lines, secret: str) -> None:
    side = ClientProof(secret)
    lines.write(side.answer_to(lines.read(GREETING_LENGTH, wait_s=CLIENT_WAITS_S)))
    side.check(lines.read(PROOF_LENGTH, wait_s=CLIENT_WAITS_S))


def _welcome(lines: Lines) -> Welcome:
    """Return the player's welcome. Raises PlayerRefused, BadMessage, EOFError, OSError."""
    event = event_in(lines.read(wait_s=CLIENT_WAITS_S))
    if isinstance(event, Welcome):
        return event
    raise PlayerRefused(event.what if isinstance(event, Refused) else "the player does not speak as expected")


def _connected(address: str) -> socket.socket:
    """Return a socket that is connected to an address of an announcement. Raises OSError, ValueError."""
    kind, _, where = address.partition(":")
    if kind == "tcp":
        return socket.create_connection(("127.0.0.1", int(where)), CLIENT_WAITS_S)
    if kind != "unix" or not hasattr(socket, "AF_UNIX"):
        raise ValueError(f"'{kind}' is no kind of address")
    connected = socket.socket(socket.AF_UNIX)
    try:
        connected.settimeout(CLIENT_WAITS_S)
        connected.connect(where)
    except BaseException:
        connected.close()
        raise
    return connected
