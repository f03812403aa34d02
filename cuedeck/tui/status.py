"""What the status line says: where the playhead is, what it does, and the keys that matter now."""

from __future__ import annotations

from cuedeck.player.messages import Snapshot
from cuedeck.player.states import State
from cuedeck.tui.player_side import PlayerSide
from cuedeck.tui.rehearsal import Moment, Rehearsal

STANDING_HINTS = ("space run  ←→ frame  ? keys  q quit", "space run  ? keys  q quit", "? keys")
STANDING_HINTS_TO_TAKE = ("space run  t take  ? keys  q quit", *STANDING_HINTS[1:])
RUNNING_HINTS = ("space stop  ? keys  q quit", "? keys")
FIRING_HINTS = ("enter fire  space stop  ? keys", "enter fire  ? keys", "enter fire")
TAKE_HINTS = ("enter fire  h hold  s stop  ? keys", "h hold  s stop  ? keys", "s stop  ? keys", "s stop")
BLACKOUT_HINTS = ("r ends blackout  s stop  ? keys", "r ends blackout  ? keys", "r ends blackout")
WATCHING_HINTS = ("c take control  ? keys  q quit", "? keys")
"""Each from the longest to the shortest; for all but the shortest, the axes make room."""


def state_text(rehearsal: Rehearsal, moment: Moment, player: PlayerSide | None) -> str:
    """Return the label of the frame, the time, and whether the shot stands or runs."""
    label = rehearsal.plan.labels.label(moment.frame)
    snapshot = player.snapshot if player is not None and rehearsal.is_led else None
    return f"{label}  {float(moment.time_s):6.2f} s  {_doing(moment, snapshot):<8}"


def _doing(moment: Moment, snapshot: Snapshot | None) -> str:
    if snapshot is None or not snapshot.slate:
        return "▶ runs" if moment.is_running else "■ stands"
    if snapshot.is_held:
        return "■ held"
    return {State.ROLLING: "▶ rolls", State.COUNTING: "■ counts"}.get(State(snapshot.state), "■ waits")


def hints(rehearsal: Rehearsal, moment: Moment, player: PlayerSide | None, *, can_fire: bool) -> tuple[str, ...]:
    """Return the keys that matter now, from the longest text to the shortest."""
    snapshot = None if player is None else player.snapshot
    if player is not None and snapshot is not None and snapshot.is_blacked_out:
        return BLACKOUT_HINTS[0 if player.is_running else 1 :]
    if player is not None and not player.is_free:
        if player.can("control"):
            return WATCHING_HINTS
        return TAKE_HINTS[0 if can_fire else 1 if player.can("hold") else 2 :]
    if not moment.is_running:
        return STANDING_HINTS_TO_TAKE if player is not None and player.can("take") else STANDING_HINTS
    return FIRING_HINTS if rehearsal.waiting_cues else RUNNING_HINTS
