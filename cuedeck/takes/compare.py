"""Whether takes are the same, byte for byte, and where they part."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from cuedeck.arrays import Slots
from cuedeck.show.spelling import as_one
from cuedeck.takes.carried import numbers_of
from cuedeck.takes.store import TakeStore
from cuedeck.takes.take import Status, Take
from cuedeck.takes.times import LEAST_STANDSTILL_NS, Standstill, standstills

if TYPE_CHECKING:
    from cuedeck.timeline.timeline import Timeline  # only named: a list of takes loads no show


def is_as_rendered(store: TakeStore, take: Take, timeline: Timeline) -> bool:
    """Whether every packet that a take recorded is what the shot renders to, without a clock."""
    if not take.chase and not take.carried:
        return all(np.array_equal(slots, timeline.slots(numbers)) for numbers, slots in store.blocks(take))
    from cuedeck.timeline.chased import slots_of

    carried, done = numbers_of(take.carried), 0
    for numbers, slots in store.blocks(take):
        block = carried[done : done + len(numbers)]
        if len(block) < len(numbers) or not np.array_equal(slots, slots_of(timeline, block)):
            return False
        done += len(numbers)
    return True


def stood_still(store: TakeStore, take: Take) -> list[Standstill]:
    """Return where nothing left for a while, as the machine or the player stood still."""
    times = None if take.status is Status.COMPLETE else store.times(take)
    if times is None:
        return []
    found, sent = list(standstills(times, take.refresh_hz)), len(times.due_ns)
    done = sent + sum(one.last - one.first + 1 for one in found)
    worst_s = take.lateness.worst_ms / 1000 if take.lateness else 0.0
    if take.status is Status.INCOMPLETE and done < take.packets_due and worst_s >= LEAST_STANDSTILL_NS / 1e9:
        found.append(Standstill(sent, done, take.packets_due - 1, worst_s))  # to its end, so it is the worst
    return found


def same_as(store: TakeStore, take: Take) -> list[Take]:
    """Return the other takes with the same packets, the oldest first."""
    return [one for one in store.takes() if one.sha256 == take.sha256 and one.id != take.id]


def last_complete_before(store: TakeStore, take: Take) -> Take | None:
    """Return the latest take of the same shot before this one that is whole and sent the same packets, or None.

    Takes that followed timecode send others each time, as the timecode ran.
    """
    earlier = (one for one in store.takes() if as_one(one.shot) == as_one(take.shot) and one.id < take.id)
    earlier = (one for one in earlier if one.carried == take.carried)
    return next((one for one in reversed(list(earlier)) if one.status is Status.COMPLETE), None)


def first_difference(store: TakeStore, one: Take, other: Take) -> int | None:
    """Return the number of the first packet in which two whole takes differ, or None where none does."""
    ours, theirs = _all_slots(store, one), _all_slots(store, other)
    if ours.shape[1:] != theirs.shape[1:] or one.refresh_hz != other.refresh_hz:
        return 0
    common = min(len(ours), len(theirs))
    differing = np.flatnonzero((ours[:common] != theirs[:common]).any(axis=(1, 2)))
    if differing.size:
        return int(differing[0])
    return None if len(ours) == len(theirs) else common


def why_different(one: Take, other: Take) -> str:
    """Return why two takes of a shot differ, as far as the log says it."""
    if one.speed != other.speed:
        return f"it ran at speed {other.speed}, and {one.slate} at speed {one.speed}"
    if one.refresh_hz != other.refresh_hz:
        return f"its refresh was {float(other.refresh_hz):g} Hz, and that of {one.slate} {float(one.refresh_hz):g} Hz"
    if one.universes != other.universes:
        return "the show has other universes"
    if one.fired != other.fired:
        return "what was fired is not the same"
    return "the show is not the same"


def _all_slots(store: TakeStore, take: Take) -> Slots:
    blocks = [slots for _, slots in store.blocks(take)]
    return np.concatenate(blocks) if blocks else np.zeros((0, len(take.universes), 512), dtype=np.uint8)
