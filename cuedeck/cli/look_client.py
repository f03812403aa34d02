"""A client of the player that puts one look after the other on the line. The last one stands if the client dies."""

from __future__ import annotations

import sys
import time
from collections.abc import Sequence
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING, Self

from cuedeck.cli.blackout_words import BlackoutTold
from cuedeck.errors import Refusal

if TYPE_CHECKING:
    from cuedeck.arrays import Slots
    from cuedeck.player.channel.client import Heard, PlayerClient
    from cuedeck.player.channel.requests import AnyRequest

RELEASE_S = 1.0
POLL_S = 0.02


class LookClient:
    """The light of one command. Used as `with LookClient(...) as light:`; at the end the light is released or held."""

    def __init__(
        self,
        folder: Path,
        targets: Sequence[str],
        universes: Sequence[int],
        told: BlackoutTold | None = None,
        *,
        holds_at_end: bool,
    ) -> None:
        self._folder = folder
        self._told = told or BlackoutTold(folder)
        self._targets = tuple(targets)
        self._universes = tuple(universes)
        self._holds_at_end = holds_at_end
        self._client: PlayerClient | None = None

    def __enter__(self) -> Self:
        """Find the player, or start it. Raises PlayerGone."""
        self._client = self._started(is_resumed=False)
        return self

    def __exit__(self, *_: object) -> None:
        from cuedeck.player.channel.requests import Release

        client, self._client = self._client, None
        if client is None:
            return
        if not self._holds_at_end:
            with suppress(Refusal):  # nothing was shown yet, or the player is gone
                client.ask(Release(keeps_blackout=True))
                _wait_until_dark(client)
        client.close()

    @property
    def has_output(self) -> bool:
        """Whether an output is left that is not lost."""
        snapshot = None if self._client is None else self._client.snapshot
        return snapshot is None or not snapshot.outputs or any(not output.is_lost for output in snapshot.outputs)

    @property
    def blackouts(self) -> tuple[bool, int]:
        """Whether a blackout lies over the light, and how many there were."""
        from cuedeck.player.line.blackout_client import blackouts_now

        return blackouts_now(self._folder)

    def show(self, slots: Slots) -> None:
        """Put slots, shape (universes, 512), on the line; returns once a packet of them has left.

        Where the player is gone, another goes on with the last look. Raises PlayerRefused and PlayerGone.
        """
        from cuedeck.player.channel.client import PlayerGone, PlayerSilent
        from cuedeck.player.channel.requests import ShowLook

        show = ShowLook(to=self._targets, universes=self._universes, slots=slots.tobytes())
        try:
            self._ask(show)
        except PlayerSilent:  # it still has the line
            raise
        except PlayerGone as gone:
            print(f"{gone}; a new one goes on with the light", file=sys.stderr, flush=True)
            if self._client is not None:
                self._client.close(leave=False)
            self._client = self._started(is_resumed=True)
            self._ask(show)

    def _ask(self, request: AnyRequest) -> None:
        if self._client is None:
            raise Refusal("the light was released")
        self._client.ask(request)

    def _started(self, *, is_resumed: bool) -> PlayerClient:
        from cuedeck.player.channel.client import start_player

        return start_player(self._folder, resume=is_resumed, on_event=self._on_event)

    def _on_event(self, event: Heard) -> None:
        from cuedeck.player.channel.events import Notice, Snapshot
        from cuedeck.player.channel.silence import Silence

        news = ""
        if isinstance(event, Snapshot):
            news = self._told.news(event)
        elif isinstance(event, Notice):
            news = event.text
        elif isinstance(event, Silence) and (event.is_over or event.lasted_s < 1):  # once, not every second
            news = str(event)
        if news:
            print(f"\n{news}", file=sys.stderr, flush=True)


def _wait_until_dark(client: PlayerClient) -> None:
    """Wait until the line is released: after the command has ended, the user may pull the plug."""
    end_s = time.monotonic() + RELEASE_S
    while client.gone is None and time.monotonic() < end_s:
        if client.snapshot is None or client.snapshot.state == "idle":
            return
        time.sleep(POLL_S)
