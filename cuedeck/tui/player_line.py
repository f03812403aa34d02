"""What stands on the screen about the player: one line while there is one, and above it what is not to be missed."""

from __future__ import annotations

import textwrap

from textual.content import Content
from textual.message import Message
from textual.widgets import Static

from cuedeck.player import words
from cuedeck.player.channel.events import Snapshot
from cuedeck.player.channel.silence import Silence
from cuedeck.tui.lines import EndsLine
from cuedeck.tui.player_link import News, is_snapshot
from cuedeck.visible import visible_line

MOST_NOTICE_LINES = 4


class PlayerNews(Message):
    """Something came from the player."""

    def __init__(self, news: News) -> None:
        self.news = news
        super().__init__()

    def can_replace(self, message: Message) -> bool:
        """Let a snapshot give way to the one behind it."""
        return isinstance(message, PlayerNews) and is_snapshot(self.news) and is_snapshot(message.news)


class PlayerLine(EndsLine):
    """Says what the player does, what reaches the outputs, and who has control."""

    def show_snapshot(self, snapshot: Snapshot | None, silence: Silence | None) -> None:
        """Say how everything stands; without a snapshot, that there is no player yet."""
        is_alarming = silence is not None or (snapshot is not None and words.is_alarming(snapshot))
        self.set_class(is_alarming, "-alarm")
        if silence is not None:
            self.left, self.rights = f"{silence}".upper(), ("nothing is sent", "")
        elif snapshot is None:
            self.left, self.rights = "no player yet", ("",)
        else:
            self.left, self.rights = words.state_text(snapshot), words.right_texts(snapshot)


class NoticeBox(Static):
    """What stays until it is dismissed, the newest first."""

    def show_notices(self, notices: list[str], width: int) -> int:
        """Say the newest of them on lines of some width; return how many lines that takes."""
        if not notices:
            self.styles.height = 0
            return 0
        more = f"({len(notices)} to read) " if len(notices) > 1 else ""
        lines = textwrap.wrap(f"{more}{visible_line(notices[-1])} · esc dismisses", max(width, 10))[:MOST_NOTICE_LINES]
        self.update(Content("\n".join(lines)))
        self.styles.height = len(lines)
        return len(lines)
