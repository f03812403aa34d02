"""What `shoot` prints when a take has ended."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from dataclasses import replace
from itertools import pairwise
from shlex import quote

from cuedeck.arrays import Numbers, Slots
from cuedeck.errors import Refusal
from cuedeck.player.channel.events import Ended
from cuedeck.player.take.result import TakeResult
from cuedeck.report.picture import print_picture, shot_picture
from cuedeck.show.problems import counted
from cuedeck.takes.carried import numbers_of
from cuedeck.takes.compare import (
    first_difference,
    is_as_rendered,
    last_complete_before,
    same_as,
    stood_still,
    why_different,
)
from cuedeck.takes.store import TakeStore
from cuedeck.takes.take import Status, Take
from cuedeck.takes.trouble import TakesUnreadable
from cuedeck.timeline.plan import ShotPlan
from cuedeck.timing.labels import frame_at
from cuedeck.visible import visible_line


def print_summary(store: TakeStore, ended: Ended, plan: ShotPlan, *, axes_live: bool) -> TakeResult:
    """Print how a take went, the reports of its inputs, whether it repeats, and the picture of its light.

    Raises Refusal where its log could not be closed, and so does not say how the take went.
    """
    take = next((one for one in store.takes() if one.slate == ended.slate), None)
    if take is None or take.status is Status.ROLLING:
        raise Refusal(f"take {ended.slate} is over, and its log could not be closed: {'; '.join(ended.lost.values())}")
    plan = replace(plan, is_axis_live=axes_live)
    result = _result(take, ended, plan)
    log = [("log", take.log)] if take.log else []
    for label, text in [*_lines(store, take, plan, result), *ended.floor, *log, ("kept in", str(store.path))]:
        print(visible_line(f"{label:9} {text}"))
    print()
    print(_picture(plan, result), end="")
    return result


def _result(take: Take, ended: Ended, plan: ShotPlan) -> TakeResult:
    """Return the result of a take, from the log and from the player's last message."""
    fired = list(take.fired)
    return TakeResult(
        plan.timeline(fired),
        was_cut=ended.was_cut,
        packets_sent=take.packets_sent,
        missed=ended.missed,
        blacked_out=ended.blacked_out,
        missed_on=dict(ended.missed_on),
        lost=dict(ended.lost),
        chase_fault=ended.chase_fault,
        fired=fired,
        handed_over=ended.handed_over,
        carried=list(numbers_of(take.carried)) if take.carried else None,
    )


def _lines(store: TakeStore, take: Take, plan: ShotPlan, result: TakeResult) -> Iterator[tuple[str, str]]:
    title = f" {plan.shot.title}" if plan.shot.title else ""
    length = f"{float(result.timeline.length_s):g} s at {float(plan.refresh_hz):g} Hz"
    if plan.speed != 1:
        length += f" (speed {plan.speed}: packets --speed {plan.speed} renders it again)"
    yield "slate", f"{take.slate}  ({take.status})"
    yield "shot", f"{plan.name}{title}, {length} to {', '.join(take.outputs)}"
    if take.reason:
        yield "reason", take.reason
    standstills = stood_still(store, take)
    busy = result.missed - sum(one.last - one.first + 1 for one in standstills)
    yield "packets", f"{take.packets_sent} of {take.packets_due} sent{_missed(result, busy)}"
    yield "lateness", str(take.lateness)
    for one in standstills:
        packet = result.carried[one.before - 1] + 1 if result.carried else one.first
        at = plan.labels.label(frame_at(packet / plan.refresh_hz, plan.fps_on_set))
        yield "stood", f"still: the machine or the player, at {at} {one}"
    for fired in result.fired:
        again = quote(f"{fired.cue}@{fired.packet}")
        rig = "--axis-from fired " if plan.is_axis_live else ""
        yield "fired", f"cue {fired.cue} at packet {fired.packet}  (packets {rig}--fire {again})"
    for cue in plan.waiting_cues(result.fired):
        yield "not fired", f"cue {cue}, which waits for the operator"
    if take.chase:
        yield "chased", f"{take.chase}{_coverage(result)}  (takes export says which packet of the shot each was)"
    if result.carried is not None and not take.chase:
        held = sum(after == before for before, after in pairwise(result.carried))
        yield "held", f"{counted(held, 'packet')} more than the shot has  (takes export says which packet each was)"
    for cue in plan.unpassed_cues(result.fired):
        yield "not fired", f"cue {cue}, which waits for its position"
    for name, problem in result.lost.items():
        yield "lost", problem if name in problem else f"{name}: {problem}"
    for name, missed in result.missed_on.items():
        slow = "its line is slower than the refresh: write a lower 'refresh:' or fewer 'slots:'"
        yield "missed", f"{counted(missed, 'packet')} on {name}; {slow}"
    if result.blacked_out:
        yield "blackout", f"lay over {counted(result.blacked_out, 'packet')}"
    if result.was_cut:
        lights = "the lights hold what they had"
        if plan.show.on_stop == "out":
            lights = "the spare has the lights" if result.handed_over else "the lights were put out"
        yield "cut", f"after {take.packets_sent / float(plan.refresh_hz):.2f} s; {lights}"
    yield "repeat", _repeat(store, take, result)


def _coverage(result: TakeResult) -> str:
    """Return how much of the shot the timecode covered."""
    timeline = result.timeline
    refresh, last = float(timeline.refresh_hz), timeline.packet_count - 1
    inside = [number for number in result.carried or [] if 0 < number < last]
    if not result.chase_fault:
        return ", which ran through the whole shot"
    if not inside:
        return ", which was never inside the shot"
    return f", which was inside the shot from {min(inside) / refresh:.2f} s to {max(inside) / refresh:.2f} s"


def _missed(result: TakeResult, busy: int) -> str:
    """Return how many packets were missed; `busy` of them not in a standstill."""
    why = ": this computer was busy, close other programs and take it again" if busy > 0 else ""
    return f"; {result.missed} missed{why}" if result.missed else ""


def _repeat(store: TakeStore, take: Take, result: TakeResult) -> str:
    """Say whether the take is what the shot renders to, and how it compares with the takes before."""
    if result.blacked_out:
        return "with the blackout it is not what the shot renders to; the log has what was on the line"
    if not is_as_rendered(store, take, result.timeline):
        return "NOT the bytes that the shot renders to: keep this take and report it"
    if not result.is_complete:
        return "what was sent is byte for byte as rendered offline"
    text = "byte for byte as rendered offline"
    same = [one.slate for one in same_as(store, take)]
    before = last_complete_before(store, take)
    if same:
        text += f" and as {', '.join(same[-5:])}"
    if before is not None and before.sha256 != take.sha256:
        text += f"; DIFFERS from {before.slate} {_where(store, before, take)}: {why_different(before, take)}"
    return f"{text}  (sha256 {take.sha256[:12]})"


def _where(store: TakeStore, before: Take, take: Take) -> str:
    try:
        return f"from packet {first_difference(store, before, take)} on"
    except TakesUnreadable:
        return f"(the packets of {before.slate} cannot be read any more: cuedeck takes SHOW check)"


def _picture(plan: ShotPlan, result: TakeResult) -> str:
    """Draw the light of a take; after a cut the rig is dark, as far as its limits allow."""
    timeline = result.timeline

    def slots_at(packets: Numbers) -> Slots:
        slots = timeline.slots(packets)
        if result.was_cut and result.carried is None and plan.show.on_stop == "out":
            slots[packets >= result.packets_sent] = plan.patch.dark
        return slots

    labels = max(len(row.label) for row in shot_picture(plan, timeline, 1))
    width = min(max(shutil.get_terminal_size((100, 24)).columns, 60), 160) - labels - 2
    return print_picture(shot_picture(plan, timeline, width, move_lines=3, slots_at=slots_at))
