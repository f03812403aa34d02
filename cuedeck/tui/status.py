"""What the status line says: where the playhead is, what it does, and the keys that matter now."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from cuedeck.player.channel.events import Snapshot
from cuedeck.player.states import PlayerState
from cuedeck.tui.player_side import PlayerSide
from cuedeck.tui.rehearsal import Moment, Rehearsal
from cuedeck.tui.selection import KeyPlace

STANDING_HINTS: Mapping[KeyPlace, Sequence[str]] = {
    KeyPlace.PLAYHEAD: ("space run  tab cues  n new cue  ? keys  q quit", "space run  ? keys  q quit", "? keys"),
    KeyPlace.CUES: (
        "←→ move  ↑↓ field  +- change  enter type  ? keys",
        "←→ move  +- change  ? keys",
        "? keys",
    ),
    KeyPlace.LIGHTS: ("←→ nudge  +- colour  k keep  i alone  ? keys", "←→ nudge  k keep  ? keys", "? keys"),
}
"""Each from the longest to the shortest; for all but the shortest, the axes make room."""
TO_TAKE = "t take  "
RUNNING_HINTS = ("space stop  ? keys  q quit", "? keys")
FIRING_HINTS = ("space stop  ? keys", "? keys", "")
"""Behind what fires the next cue."""
TAKE_HINTS = ("h hold  s stop  ? keys", "s stop  ? keys", "s stop")
BLACKOUT_HINTS = ("r ends blackout  s stop  ? keys", "r ends blackout  ? keys", "r ends blackout")
SILENT_HINTS = ("no answer: b writes a blackout down  q quit", "no answer  b black  q quit", "no answer")
WATCHING_HINTS = ("c take control  ? keys  q quit", "? keys")
LOOKING_ON_HINTS = ("watching  b black  ? keys  q quit", "b black  ? keys", "? keys")


def state_text(rehearsal: Rehearsal, moment: Moment, player: PlayerSide | None) -> str:
    """Return the label of the frame, the time, and whether the shot stands or runs."""
    label = "the end" if moment.frame is None else rehearsal.plan.labels.label(moment.frame)
    snapshot = player.snapshot if player is not None and rehearsal.is_led else None
    is_silent = snapshot is not None and player is not None and player.silence is not None
    return f"{label:<11}  {float(moment.time_s):6.2f} s  {_doing(moment, snapshot, is_silent=is_silent):<8}"


def _doing(moment: Moment, snapshot: Snapshot | None, *, is_silent: bool) -> str:
    if is_silent:
        return "? silent"
    if snapshot is None or not snapshot.slate:
        return "▶ runs" if moment.is_running else "■ stands"
    if snapshot.is_held:
        return "■ held"
    return {PlayerState.ROLLING: "▶ rolls", PlayerState.COUNTING: "■ counts"}.get(
        PlayerState(snapshot.state), "■ waits"
    )


def hints(
    rehearsal: Rehearsal,
    moment: Moment,
    player: PlayerSide | None,
    place: KeyPlace,
    *,
    can_fire: bool,
    is_watching: bool = False,
) -> tuple[str, ...]:
    """Return the keys that matter now, from the longest text to the shortest."""
    snapshot = None if player is None else player.snapshot
    if player is not None and player.silence is not None:
        return SILENT_HINTS
    if player is not None and snapshot is not None and snapshot.is_blacked_out:
        may_stop = player.is_running and not is_watching and (snapshot.has_control or snapshot.controller is None)
        return BLACKOUT_HINTS[0 if may_stop else 1 :]
    if is_watching:
        return LOOKING_ON_HINTS
    if player is not None and not player.is_free:
        if player.can("control"):
            return WATCHING_HINTS
        return _fire_hints(rehearsal, TAKE_HINTS) if can_fire else TAKE_HINTS[0 if player.can("hold") else 1 :]
    if moment.is_running:
        return _fire_hints(rehearsal, FIRING_HINTS) if rehearsal.waiting_cues else RUNNING_HINTS
    standing = STANDING_HINTS[place]
    if place is KeyPlace.PLAYHEAD and player is not None and player.can("take"):
        return (f"{TO_TAKE}{standing[0]}", *standing)
    return tuple(standing)


def _fire_hints(rehearsal: Rehearsal, others: Sequence[str]) -> tuple[str, ...]:
    """Return the key that fires with the name of the cue that is next, before other keys."""
    name = rehearsal.waiting_cues[0] if rehearsal.waiting_cues else ""
    look = next((cue.look for cue in rehearsal.plan.shot.cues if cue.cue == name), "")
    whole, short = f"ENTER fires cue {name}, {look}", f"ENTER fires {name}" if name else "enter fire"
    return (*(f"{whole if name else short}  {other}".rstrip() for other in others), short)
