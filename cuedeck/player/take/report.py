"""How a take and its outputs fared, as clients are told."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace

from cuedeck.output.base import Output
from cuedeck.output.handlers import SCHEME, name_of, receiver_of
from cuedeck.output.tally import Tally
from cuedeck.output.words import NOT_FOUND
from cuedeck.player.channel.events import Ended, OutputState
from cuedeck.player.take.preparing import Prepared
from cuedeck.player.take.result import TakeResult


def stretch(before: Tally, after: Tally) -> Tally:
    """Return what an output did in between; one that was lost when it began was lost in it."""
    stretch = after - before
    return replace(stretch, incidents=(before.lost, *stretch.incidents)) if before.lost else stretch


def ended(prepared: Prepared, result: TakeResult) -> Ended:
    """Return what is told when a take has ended."""
    recording = prepared.recording
    return Ended(
        take=0 if recording is None else recording.take.id,
        slate=prepared.slate,
        was_cut=result.was_cut,
        counting_was_cut=result.counting_was_cut,
        missed=result.missed,
        blacked_out=result.blacked_out,
        lost=result.lost,
        missed_on=result.missed_on,
        chase_fault=result.chase_fault,
        log="" if recording is None else str(recording.path),
        told=tuple(prepared.told),
        handed_over=result.handed_over,
        outputs=tuple(output_state(tally) for tally in prepared.tallies),
        floor=(*prepared.floor.lines(), *heard_on(outlet.output for outlet in prepared.route.outlets)),
    )


def not_there(target: str) -> OutputState:
    """Return what is told of an output that is expected and whose port is not there."""
    return OutputState(name=target, is_lost=True, is_there=False, why=NOT_FOUND)


def output_state(tally: Tally) -> OutputState:
    """Return how an output fares, as clients are told."""
    return OutputState(
        name=tally.name,
        is_lost=bool(tally.lost),
        why=tally.lost,
        refresh_hz=tally.refresh_hz,
        sent=tally.sent,
        missed=tally.missed,
    )


def heard_on(outputs: Iterable[Output]) -> Iterator[tuple[str, str]]:
    """Yield a label and a text for each simulated line: what was outside ANSI E1.11 since the player began."""
    for output in outputs:
        port = output.port
        if port is not None and port.startswith(SCHEME):
            receiver = receiver_of(name_of(port))
            remarks = ", ".join(f"{count} times {remark}" for remark, count in receiver.remarks.items())
            yield "line", f"{port} heard {receiver.count} packets; {remarks or 'nothing outside ANSI E1.11'}"
