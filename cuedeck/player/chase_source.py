"""What takes and offline rendering have in common where a shot follows timecode."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING

from cuedeck.errors import Refusal

if TYPE_CHECKING:
    from cuedeck.clock import Clock
    from cuedeck.input.timecode import TimecodeSource
    from cuedeck.timeline.plan import ShotPlan
    from cuedeck.timing.chase import Chased, Chaser


def chaser_of(plan: ShotPlan) -> Chaser:
    """Return what follows timecode for a shot. Raises Refusal where its rate has none."""
    from cuedeck.timeline.chased import first_label
    from cuedeck.timing.chase import Chaser

    return Chaser(first_label(plan))


def require_counted_alike(chaser: Chaser, plan: ShotPlan) -> None:
    """Refuse timecode that was passed over since the shot counts other frames."""
    from cuedeck.timeline.chased import first_label

    if chaser.foreign is not None:
        raise Refusal(
            f"the timecode counts {chaser.foreign.rate}, and the camera {first_label(plan).rate}:"
            " write 'fps:' and 'timecode:' of the camera as the timecode is, or send the other"
        )


def assumed_start(plan: ShotPlan) -> str:
    """Return what is taken for the first frame of a shot that does not say it; nothing where it does.

    Raises Refusal where its rate has no timecode.
    """
    from cuedeck.timeline.chased import first_label

    if plan.shot.starts_at is not None:
        return ""
    return f"shot {plan.name} has no 'starts at': its first frame is taken for timecode {first_label(plan)}"


@contextmanager
def listening(text: str | None, clock: Clock) -> Iterator[TimecodeSource | None]:
    """Listen to the source of timecode that a text names, where there is one. Raises Refusal."""
    from cuedeck.input.timecode_sources import timecode_source

    source = timecode_source(text, clock) if text else None
    try:
        if source is not None:
            source.open()
        yield source
    finally:
        if source is not None:
            source.close()


def chased_in_words(chased: Chased) -> str:
    """Return how sure a position is, and the label it has."""
    if chased.foreign is not None:
        return f"{chased.state}: the timecode counts {chased.foreign.rate}, not as the camera does"
    if chased.label is None:
        return f"{chased.state}, no timecode yet"
    return f"{chased.state} at {chased.label}"
