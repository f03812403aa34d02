"""How player and client prove to each other that they know the secret, without saying it.

Each sends a random number used once; each answers with a keyed hash of both numbers and of its own part, so
that no answer can be sent back as one's own. Bytes in, bytes out: sockets are elsewhere. Every line has a
fixed length, so that nobody is listened to for longer than that before he has proved who he is.
"""

from __future__ import annotations

import hmac
import re
import secrets

from cuedeck.errors import Refusal
from cuedeck.player.instance_lock import VERSION

_DIGITS = 64
"""Hexadecimal digits of 256 bits: of a number used once, and of a hash."""
_GREETING = re.compile(rb"cuedeck ([0-9]{4}) ([0-9a-f]{64})\n", re.ASCII)
_ANSWER = re.compile(rb"([0-9a-f]{64}) ([0-9a-f]{64})\n", re.ASCII)
GREETING_LENGTH = len("cuedeck 0001 ") + _DIGITS + 1
ANSWER_LENGTH = 2 * _DIGITS + 2
PROOF_LENGTH = _DIGITS + 1
PLAYER_WAITS_S = 2.0
CLIENT_WAITS_S = 0.5
"""For each word of the player's."""


class Stranger(Refusal):
    """The other side does not know the secret, or does not speak this language."""


class PlayerProof:
    """The player's part: it greets, and hears the client's proof before it gives its own."""

    def __init__(self, secret: str) -> None:
        self._secret = secret
        self._number = secrets.token_hex(_DIGITS // 2)

    @property
    def greeting(self) -> bytes:
        """The first line of all."""
        return f"cuedeck {VERSION:04d} {self._number}\n".encode()

    def answer_to(self, line: bytes) -> bytes:
        """Return the player's proof, where the client's is good. Raises Stranger."""
        found = _ANSWER.fullmatch(line)
        if found is None:
            raise Stranger("this is no answer to the greeting")
        number = found[1].decode()
        _check(_proof(self._secret, "client", self._number, number), found[2])
        return _proof(self._secret, "player", self._number, number) + b"\n"


class ClientProof:
    def __init__(self, secret: str) -> None:
        self._secret = secret
        self._number = secrets.token_hex(_DIGITS // 2)
        self._number_of_player = ""

    def answer_to(self, greeting: bytes) -> bytes:
        """Return the client's number and proof. Raises Stranger."""
        found = _GREETING.fullmatch(greeting)
        if found is None or int(found[1]) != VERSION:
            raise Stranger("this is no greeting of a player of this version")
        self._number_of_player = found[2].decode()
        proof = _proof(self._secret, "client", self._number_of_player, self._number)
        return self._number.encode() + b" " + proof + b"\n"

    def check(self, line: bytes) -> None:
        """Check the player's proof. Raises Stranger."""
        _check(_proof(self._secret, "player", self._number_of_player, self._number) + b"\n", line)


def _proof(secret: str, part: str, number_of_player: str, number_of_client: str) -> bytes:
    text = f"cuedeck {VERSION} {part} {number_of_player} {number_of_client}"
    return hmac.new(secret.encode(errors="replace"), text.encode(), "sha256").hexdigest().encode()


def _check(wanted: bytes, found: bytes) -> None:
    if not hmac.compare_digest(wanted, found):
        raise Stranger("the other side does not know the secret")
