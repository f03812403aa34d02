"""What the player does, in short texts made of its snapshots: for the command line and the screen alike."""

from __future__ import annotations

import shlex
from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from cuedeck.output.words import LOST, NOT_THERE, reason_alone
from cuedeck.player.channel.silence import silent_text
from cuedeck.player.states import PlayerState
from cuedeck.show.problems import counted

if TYPE_CHECKING:
    from cuedeck.player.channel.events import Ended, OutputState, Snapshot

ON_TIME_MS = 1.0
"""A packet that leaves less than this after its time is called on time."""
SLOW = 0.9
"""An output that reaches less of its refresh than this is said to: a rate over one second sways by a packet or two."""
BLACKOUT_WAITS = (
    "the blackout is written down: the line is dark as soon as the player goes on; until then only cutting the power"
    " makes sure of it"
)
BLACKOUT_KEPT = (
    "BLACKOUT: what goes to the line begins dark. r lets the light back once a player runs, else"
    " 'cuedeck player SHOW release'"
)
SHORT_CELLS = 8
"""Characters of an output where two are of a kind and room is short."""


def state_text(snapshot: Snapshot, name: str = "player ") -> str:
    """Return what the player does; its name may be left out where it stands beside that."""
    blackout = "BLACKOUT · " if snapshot.is_blacked_out else ""
    log = f" · log: {snapshot.log_problem}" if snapshot.log_problem else ""
    return f"{blackout}{_doing_text(snapshot, name)}{log}"


def _doing_text(snapshot: Snapshot, name: str) -> str:
    if snapshot.state == PlayerState.FAULTED:
        return f"{name}BROKE, the light is held"
    if snapshot.shot:
        return _running_text(snapshot)
    if snapshot.state == PlayerState.IDLE:
        return f"{name}sends nothing"
    return f"{name}holds {'a look' if snapshot.is_lit or snapshot.is_blacked_out else 'the lights out'}"


def _running_text(snapshot: Snapshot) -> str:
    what = running_name(snapshot)
    length_s = snapshot.time_s / snapshot.packet * (snapshot.packet_count - 1) if snapshot.packet > 0 else 0.0
    place = f"{snapshot.time_s:.1f}/{length_s:.1f} s" if length_s else f"{snapshot.time_s:.1f} s"
    if snapshot.waits_for:
        return f"{what} waits for cue {snapshot.waits_for} · {snapshot.time_s:.1f} s"
    match snapshot.state:
        case PlayerState.COUNTING:
            return f"{what} starts in {snapshot.counting_s:.1f} s"
        case PlayerState.STANDING_BY:
            return f"{what} stands by"
        case PlayerState.HOLDING if snapshot.is_held:
            return f"{what} held at {place}"
        case PlayerState.HOLDING:
            return f"{what} is over"
    chased = f" · {snapshot.chased}" if snapshot.chased else ""
    return f"{what} rolls {place}{chased}"


def packet_text(snapshot: Snapshot) -> str:
    """Return which packet of its shot a take is at, or what it waits for past the last."""
    if snapshot.waits_for:
        return f"waiting for cue {snapshot.waits_for}"
    if snapshot.packet >= snapshot.packet_count:
        return "past its length"
    return f"packet {snapshot.packet + 1} of {snapshot.packet_count}"


def running_name(snapshot: Snapshot) -> str:
    """Return what runs: take 1-C, or a rehearsal."""
    return f"take {snapshot.slate}" if snapshot.slate else "rehearsal"


def right_texts(snapshot: Snapshot) -> tuple[str, ...]:
    """Return outputs, lateness and control, from the longest text to the shortest; what is wrong is always kept."""
    outputs, late = [output_text(one, snapshot) for one in snapshot.outputs], lateness_text(snapshot)
    control = control_text(snapshot)
    lost = sum(one.is_lost for one in snapshot.outputs)
    count = counted(len(outputs), "output") if outputs else ""
    some = f"{lost} of {count} {LOST}" if lost else count
    bad = f"{lost} {LOST}" if lost else ""
    return (
        _joined(*outputs, late, control),
        _joined(short_outputs_text(snapshot.outputs), late, control),
        _joined(some, late, control),
        _joined(some, control),
        _joined(bad, control),
        bad,
        bad,
    )


def short_outputs_text(outputs: Sequence[OutputState]) -> str:
    """Return the outputs by their kinds, each with its rate in whole packets a second, or that it is lost."""
    kinds = [one.name.partition(":")[0] for one in outputs]
    texts = []
    for kind, one in zip(kinds, outputs, strict=True):
        name = kind if kinds.count(kind) == 1 else f"{kind} {one.name.rpartition('/')[2][-SHORT_CELLS:]}"
        texts.append(f"{name} {_lost_word(one) if one.is_lost else format(one.refresh_hz, '.0f')}")
    return f"{', '.join(texts)} Hz" if texts and not outputs[-1].is_lost else ", ".join(texts)


def _joined(*parts: str) -> str:
    return " · ".join(part for part in parts if part)


def output_text(output: OutputState, snapshot: Snapshot) -> str:
    """Return an output and the rate it reaches, or that it is lost."""
    if output.is_lost:
        return f"{output.name} {_lost_word(output)}"
    return f"{output.name} {_rate_text(output, snapshot)}" if output.refresh_hz else output.name


def output_lines(snapshot: Snapshot) -> Iterator[tuple[str, str]]:
    """Yield the name of each output and how it fares, in full."""
    for one in snapshot.outputs:
        how = f"well, {_rate_text(one, snapshot)}"
        if one.is_lost:
            how = f"{LOST}: {reason_alone(one.name, one.why)}" if one.is_there else one.why
        missed = f", {one.missed} missed" if one.missed else ""
        yield one.name, _joined(f"{how} · {one.sent} packets sent{missed}", lateness_text(snapshot))


def _rate_text(output: OutputState, snapshot: Snapshot) -> str:
    is_slow = 0 < output.refresh_hz < SLOW * snapshot.refresh_hz
    return f"{output.refresh_hz:.1f}{f' of {snapshot.refresh_hz:g}' if is_slow else ''} Hz"


def _lost_word(output: OutputState) -> str:
    return LOST if output.is_there else NOT_THERE


def status_lines(snapshot: Snapshot) -> Iterator[tuple[str, str]]:
    """Yield how everything stands: labels and texts."""
    place = f", {packet_text(snapshot)}" if snapshot.slate and not snapshot.waits_for else ""
    yield "player", f"{state_text(snapshot, '')}{place}"
    for name, how in output_lines(snapshot):
        yield "output", f"{name}: {how}"
    last = snapshot.last_take
    if last is not None:
        yield "last take", f"{last.slate} ({last.status}){'' if last.was_watched else ', ended while nobody watched'}"
    if snapshot.show_problem:
        yield "problem", snapshot.show_problem
    if snapshot.controller is not None and not snapshot.has_control:
        yield "control", "another window or command has it; --take-over takes it"
    yield "priority", snapshot.priority


def lateness_text(snapshot: Snapshot) -> str:
    """Return how punctual the packets are; nothing where no shot rolls."""
    if not snapshot.shot or snapshot.state in (PlayerState.COUNTING, PlayerState.STANDING_BY):
        return ""
    return "on time" if snapshot.late_ms < ON_TIME_MS else f"{snapshot.late_ms:.1f} ms late"


def control_text(snapshot: Snapshot) -> str:
    if snapshot.controller is None:
        return "control free"
    return "control here" if snapshot.has_control else "control elsewhere"


def is_alarming(snapshot: Snapshot) -> bool:
    """Whether the line of the player is to catch the eye."""
    is_lost = any(one.is_lost for one in snapshot.outputs)
    return snapshot.is_blacked_out or is_lost or bool(snapshot.log_problem) or snapshot.state == PlayerState.FAULTED


def missed_text(snapshot: Snapshot) -> str:
    """Return which take ended while nobody watched, and what is left of it; nothing where none did."""
    last = snapshot.last_take
    if last is None or last.was_watched:
        return ""
    if snapshot.shot and snapshot.slate != last.slate:
        left = f"{running_name(snapshot)} has begun since"
    elif snapshot.is_blacked_out:
        left = "the line is blacked out"
    else:
        left = "its last look still holds" if snapshot.is_lit else "the lights are out"
    return f"take {last.slate} ended unwatched: {last.status}, {left}"


def blackout_text(snapshot: Snapshot) -> str:
    """Return that a blackout has come or gone."""
    return "BLACKOUT: r lets the light back" if snapshot.is_blacked_out else "the blackout is over"


def hang_text(pid: int, snapshot: Snapshot | None) -> str:
    """Return that the player does not answer, what that means for the light, and what to do."""
    outputs = () if snapshot is None else snapshot.outputs
    return silent_text(pid, (one.name for one in outputs), "and another sends its last look on")


def problem_text(problem: str) -> str:
    """Return that the show on the disk is wrong; of what is wrong, the first line."""
    return f"the show as it is on the disk cannot run: {problem.partition(chr(10))[0]}"


def gone_text(what: str, before: Snapshot | None, *, has_light: bool, is_only_watched: bool = False) -> str:
    """Return that the player is gone, and what becomes of the light."""
    if not has_light:
        return f"{what}; it left no light on the line"
    if is_only_watched:
        cure = "a window that takes, or 'cuedeck player SHOW resume', sends its last look on"
        return f"{_ended_take(before)}the player is gone; {cure}"
    return f"{_ended_take(before)}the player is gone; a new one is being started with its last look"


def resumed_text(pid: int, before: Snapshot | None, *, is_lit: bool) -> str:
    """Return that another player has taken the place of one that is gone."""
    holds = "holds the last look" if is_lit else "goes on, with the lights out"
    return f"the player is gone; a new one (process {pid}) {holds}{_kept_take(before)}"


def _ended_take(before: Snapshot | None) -> str:
    return f"{running_name(before)} is over: " if before is not None and before.shot else ""


def _kept_take(before: Snapshot | None) -> str:
    return f"; take {before.slate} is over, and kept as broken" if before is not None and before.slate else ""


def ended_text(ended: Ended) -> str:
    """Return how a take ended; nothing for a rehearsal."""
    if not ended.slate:
        return ""
    if ended.counting_was_cut:
        return "stopped before the start: no take was kept"
    from cuedeck.player.take.result import reason_of  # it knows the timeline, which the command line does without

    reason = reason_of(ended)
    how = "cut" if ended.was_cut else "incomplete" if reason else "complete"
    return f"take {ended.slate} is {how}{': ' if reason else ''}{reason}"


def farewell_lines(snapshot: Snapshot, show: str) -> Iterator[str]:
    """Yield what goes on without the screen, and how to come back to it or end it."""
    show = shlex.quote(show)
    if snapshot.shot:
        look = "; its last look will hold" if snapshot.has_control else ""
        yield f"{running_name(snapshot)} goes on{look}"
        yield f"'cuedeck open {show}' comes back to it, 'cuedeck player {show} stop' stops it"
    elif snapshot.is_blacked_out:
        yield f"the line stays blacked out; 'cuedeck player {show} release' ends that"
    elif snapshot.is_lit:
        yield f"the player holds the look that is on the line; 'cuedeck player {show} release' lets go of it"
