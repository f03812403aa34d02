"""What the application has of takes that were shot: their banner, a circle, a rejection, a note."""

from __future__ import annotations

from collections.abc import Callable

from textual.geometry import Size

from cuedeck.errors import Refusal
from cuedeck.player.channel.events import Ended
from cuedeck.show.spelling import as_one
from cuedeck.takes.store import TakeStore
from cuedeck.takes.take import Take, TakeMark
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
    _ended_ns = 0

    def __init__(self, *arguments: object, **named: object) -> None:
        super().__init__(*arguments, **named)  # type: ignore[arg-type]
        self.banner = TakeBanner(id="banner")

    def heard(self, news: News) -> None:
        """Remember how the last take ended, for some seconds."""
        super().heard(news)
        if isinstance(news, Ended):
            self._ended, self._ended_ns = news, self.clock.now_ns()
            self.set_timer(ENDED_S + 0.1, self.draw_shot)

    def player_lines(self, size: Size) -> int:
        """Draw what there is of the player, the banner too, and return how many lines that takes."""
        snapshot = None if self.player is None else self.player.snapshot
        silence = None if self.player is None else self.player.silence
        banner = banner_of(snapshot, self._ended, (self.clock.now_ns() - self._ended_ns) / 1e9, silence)
        band = self.banner.show(banner, size.width, size.height, is_watching=self.is_watching)
        lines = super().player_lines(size) + band
        self._lines_before = lines
        return lines

    # What keys do.

    def action_circle(self) -> None:
        """Circle the last take of the shot, or take the circle off."""
        self._mark(TakeMark.CIRCLED)

    def action_reject(self) -> None:
        """Reject the last take of the shot, or take that back."""
        self._mark(TakeMark.REJECTED)

    def _mark(self, mark: TakeMark) -> None:
        def change(store: TakeStore, take: Take) -> None:
            new = TakeMark.NONE if take.mark is mark else mark
            store.set_mark(take, new)
            self.say(f"take {take.slate} is {new or 'neither circled nor rejected'}")

        self._with_last(change)

    def action_note(self) -> None:
        """Write a note to the last take of the shot, even where another has begun before it is written."""

        def ask(_: TakeStore, take: Take) -> None:
            def answer(text: str) -> None:
                with self._opened_takes() as store:
                    store.set_note(take, text)
                self.say(f"note of take {take.slate}: {' '.join(text.split()) or 'none'}")

            self.ask(Question(f"note of take {take.slate}", take.note, "what the editor should know", answer))

        self._with_last(ask)

    def _with_last(self, do: Callable[[TakeStore, Take], None]) -> None:
        """Do something with the last take of the shot on the screen, or say why not."""
        try:
            with self._opened_takes() as store:
                shot = "" if self.rehearsal is None else self.rehearsal.plan.name
                takes = [take for take in store.takes() if as_one(take.shot) == shot]
                if not takes:
                    raise Refusal(f"shot {shot} has no take yet: t takes one")
                do(store, takes[-1])
        except Refusal as refused:
            self.say(str(refused), is_warning=True)

    def _opened_takes(self) -> TakeStore:
        if self.is_watching:
            raise Refusal("this window only looks on: mark takes in the one that takes them")
        if self.open_takes is None or self.rehearsal is None:
            raise Refusal("there are no takes here")
        return self.open_takes()
