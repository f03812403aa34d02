"""What the application has of the rig screen: what it shows, and what is done there."""

from __future__ import annotations

from collections.abc import Sequence

from cuedeck.tui.player_link import News
from cuedeck.tui.rig_screen import RigScreen, RigView
from cuedeck.tui.take_app import TakeApp


class RigApp(TakeApp):
    """Shows the rig, and makes the edits that are made on it."""

    def action_rig(self) -> None:
        """Show the rig."""
        view = self._rig_view()
        if view is not None:
            self.push_screen(RigScreen(view, self.selection.light))

    def _rig_view(self) -> RigView | None:
        rehearsal = self.rehearsal
        if rehearsal is None:
            return None
        snapshot = None if self.player is None else self.player.snapshot
        patch = rehearsal.plan.patch
        slots = self.player.slots if self.player is not None else b""
        universes: Sequence[int] = snapshot.universes if snapshot is not None and slots else patch.universes
        if not slots:
            slots = rehearsal.slots().tobytes()
        silence = None if self.player is None else self.player.silence
        return RigView(self.draft.opened, rehearsal.moment().states, universes, slots, snapshot, silence, self.can_edit)

    def heard(self, news: News) -> None:
        """Show on the rig screen how the outputs fare."""
        super().heard(news)
        if self.rehearsal is not None and not self.can_edit:
            self.rehearsal.found = None
        self.draw_rig()

    def draw_rig(self) -> None:
        """Draw the rig screen, where it is shown."""
        view = self._rig_view() if isinstance(self.screen, RigScreen) else None
        if isinstance(self.screen, RigScreen) and view is not None:
            self.screen.show(view)

    def on_rig_screen_edit_made(self, message: RigScreen.EditMade) -> None:
        """Make the edit."""
        self.edit(lambda: message.edit)
        self.draw_rig()

    def on_rig_screen_light_found(self, message: RigScreen.LightFound) -> None:
        """Light a fixture alone and full, on the line too; or end that."""
        if self.rehearsal is not None:
            self.rehearsal.found = message.name
            self.rehearsal.hears_line = False
            self.draw_moment()
            self.stand_on_line()
            self.draw_rig()
