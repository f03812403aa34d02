"""`cuedeck move`: what the move of a shot is like: samples, gaps, speeds, and where noise counts."""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

from cuedeck.cli import exits
from cuedeck.cli.arguments import add_shot, add_show, add_speed
from cuedeck.cli.opening import print_errors
from cuedeck.cli.printing import table_lines
from cuedeck.errors import Refusal
from cuedeck.timeline.choosing import plan_of

if TYPE_CHECKING:
    from cuedeck.timing.survey import AxisSurvey, MoveSurvey

MOST_SHOWN = 10
"""Gaps, and noisy stretches of an axis, that are printed; JSON has all."""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    add_show(parser)
    add_shot(parser)
    add_speed(parser)
    parser.add_argument("--json", action="store_true", help="print the report as JSON")


def run(options: argparse.Namespace) -> int:
    from cuedeck.folder.folder import ShowFolder
    from cuedeck.show.model import MoveKeys
    from cuedeck.timing.survey import survey

    opened = ShowFolder(options.show).open()
    plan = plan_of(opened, options.shot, options.speed)
    is_wrong = print_errors(opened, plan.name)
    for problem in opened.found:
        if not problem.is_error and problem.place.path[:3] == ("shots", plan.name, "move"):
            print(problem, file=sys.stderr)
    if plan.move is None:
        cure = "mend the one it names" if plan.shot.move else "add 'move: moves/FILE.csv' to it"
        raise Refusal(f"shot {plan.name} has no move that can be read: {cure}")
    found = survey(plan.move, is_recorded=not isinstance(plan.shot.move, MoveKeys))
    if options.json:
        print(json.dumps(_as_data(found, float(plan.move.duration_s)), indent=2))
    else:
        for line in _lines(found, float(plan.move.duration_s)):
            print(line)
    return exits.WRONG if is_wrong else exits.DONE


def _lines(found: MoveSurvey, duration_s: float) -> Iterator[str]:
    if found.samples is None:
        yield f"written out in keys, {duration_s:g} s"
    else:
        yield f"{found.samples} samples in {duration_s:g} s, one every {1000 / (found.rate_hz or 1):.3g} ms"
        yield f"sample rate {found.rate_hz:.4g} Hz, {len(found.gaps) or 'no'} gap{'' if len(found.gaps) == 1 else 's'}"
    for start_s, end_s in found.gaps[:MOST_SHOWN]:
        yield f"  gap of {end_s - start_s:.3g} s after {start_s:.3f} s"
    yield ""
    heading = ("axis", "travel", "peak speed", "at", "peak acceleration", "at")
    yield from table_lines(heading, [_cells(one) for one in found.axes])
    for one in found.axes:
        yield from _noisy(one)


def _cells(one: AxisSurvey) -> tuple[str, ...]:
    unit, speed, push = one.axis.unit, one.peak_speed, one.peak_acceleration
    moving = (f"{speed.value:.4g} {unit}/s", f"{speed.time_s:.3f} s")
    jumps = ("jumps at its keys", "")
    pushed = jumps if push is None else (f"{push.value:.4g} {unit}/s²", f"{push.time_s:.3f} s")
    return one.axis.name, one.axis.reach(), *moving, *pushed


def _noisy(one: AxisSurvey) -> Iterator[str]:
    if one.noisy:
        yield f"{one.axis.name}: noise passes these positions more than once, so no cue should start at them"
    for stretch in one.noisy[:MOST_SHOWN]:
        low, high = (f"{end + 0:.3f}" for end in (stretch.low, stretch.high))
        yield f"  {low} to {high} {one.axis.unit} from {stretch.start_s:.3f} to {stretch.end_s:.3f} s"
    if len(one.noisy) > MOST_SHOWN:
        yield f"  and {len(one.noisy) - MOST_SHOWN} more, see --json"


def _as_data(found: MoveSurvey, duration_s: float) -> dict[str, Any]:
    return {
        "duration_s": duration_s,
        "samples": found.samples,
        "sample_rate_hz": found.rate_hz,
        "gaps": [{"start_s": start_s, "end_s": end_s} for start_s, end_s in found.gaps],
        "axes": [_axis_data(one) for one in found.axes],
    }


def _axis_data(one: AxisSurvey) -> dict[str, Any]:
    push = one.peak_acceleration
    return {
        "axis": one.axis.name,
        "unit": one.axis.unit,
        "low": float(one.axis.positions.min()),
        "high": float(one.axis.positions.max()),
        "peak_speed": one.peak_speed.value,
        "peak_speed_at_s": one.peak_speed.time_s,
        "peak_acceleration": None if push is None else push.value,
        "peak_acceleration_at_s": None if push is None else push.time_s,
        "noisy": [
            {"low": part.low, "high": part.high, "start_s": part.start_s, "end_s": part.end_s} for part in one.noisy
        ],
    }
