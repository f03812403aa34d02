"""What the application has of takes that were shot: their banner, a circle, a rejection, a note."""

from __future__ import annotations

import time
from collections.abc import Callable

from textual.geometry import Size

from cuedeck.errors import Refusal
from cuedeck.player.messages import Ended
from cuedeck.takes.store import Mark, Take, TakeStore
from cuedeck.tui.list_app import ListApp
from cuedeck.tui.player_link import News
from cuedeck.tui.prompt import Question
from cuedeck.tui.take_banner import ENDED_S, TakeBanner, banner_of

OpenTakes = Callable[[], TakeStore]
"""Opens the file of takes to write in it. Raises Refusal."""


class TakeApp(ListApp):
    """Marks takes, and says from across the room what the one that runs does."""

    open_takes: OpenTakes | None = None
    _ended: Ended | None = None
    _ended_s = 0.0

    def __init__(self, *arguments: object, **named: object) -> None:
        super().__init__(*arguments, **named)  # type: ignore[arg-type]
        self.banner = TakeBanner(id="banner")

    def heard(self, news: News) -> None:
        """Remember how the last take ended, for some seconds."""
        super().heard(news)
        if isinstance(news, Ended):
            self._ended, self._ended_s = news, time.monotonic()
            self.set_timer(ENDED_S + 0.1, self.draw_shot)

    def player_lines(self, size: Size) -> int:
        """Draw what there is of the player, the banner too, and return how many lines that takes."""
        snapshot = None if self.player is None else self.player.snapshot
        banner = banner_of(snapshot, self._ended, time.monotonic() - self._ended_s)
        lines = super().player_lines(size) + self.banner.show(banner, size.width, size.height)
        self._lines_before = lines
        return lines

    # What keys do.

    def action_circle(self) -> None:
        """Circle the last take of the shot, or take the circle off."""
        self._mark(Mark.CIRCLED)

    def action_reject(self) -> None:
        """Reject the last take of the shot, or take that back."""
        self._mark(Mark.REJECTED)

    def _mark(self, mark: Mark) -> None:
        def change(store: TakeStore, take: Take) -> None:
            new = Mark.NONE if take.mark is mark else mark
            store.set_mark(take, new)
            self.say(f"take {take.slate} is {new or 'neither circled nor rejected'}")

        self._with_last(change)

    def action_note(self) -> None:
        """Write a note to the last take of the shot."""

        def ask(_: TakeStore, take: Take) -> None:
            def answer(text: str) -> None:
                self._with_last(lambda again, last: again.set_note(last, text), refuses=True)
                self.say(f"note of take {take.slate}: {' '.join(text.split()) or 'none'}")

            self.ask(Question(f"note of take {take.slate}", take.note, "what the editor should know", answer))

        self._with_last(ask)

    def _with_last(self, do: Callable[[TakeStore, Take], None], *, refuses: bool = False) -> None:
        """Do something with the last take of the shot on the screen."""
        if self.open_takes is None or self.rehearsal is None:
            self.say("there are no takes here", is_warning=True)
            return
        try:
            with self.open_takes() as store:
                takes = [take for take in store.takes() if take.shot == self.rehearsal.plan.name]
                if not takes:
                    raise Refusal(f"shot {self.rehearsal.plan.name} has no take yet: t takes one")
                do(store, takes[-1])
        except Refusal as refused:
            if refuses:
                raise
            self.say(str(refused), is_warning=True)
