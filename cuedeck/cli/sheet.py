"""`cuedeck sheet`: the cues of a shot, when they happen on set and on the screen, and where the axes are then."""

from __future__ import annotations

import argparse
import json
from typing import TYPE_CHECKING, Any

from cuedeck.cli import exits
from cuedeck.cli.arguments import add_shot, add_show, add_speed
from cuedeck.cli.opening import print_errors
from cuedeck.cli.printing import print_table
from cuedeck.timeline.choosing import plan_of

if TYPE_CHECKING:
    from fractions import Fraction

    from cuedeck.report.cue_sheet import CueRow
    from cuedeck.timeline.plan import ShotPlan


def add_arguments(parser: argparse.ArgumentParser) -> None:
    add_show(parser)
    add_shot(parser)
    add_speed(parser)
    parser.add_argument("--json", action="store_true", help="print the sheet as JSON")


def run(options: argparse.Namespace) -> int:
    from cuedeck.folder.folder import ShowFolder
    from cuedeck.report.cue_sheet import cue_rows

    opened = ShowFolder(options.show).open()
    plan = plan_of(opened, options.shot, options.speed)
    is_wrong = print_errors(opened, plan.name)
    rows = cue_rows(plan)
    if options.json:
        print(json.dumps(_as_data(plan, rows), indent=2))
    else:
        print(_headline(plan))
        heading = ("cue", "starts", "on set", "on screen", "frame", "timecode", "axes", "look", "fade", "curve")
        print_table(heading, map(_cells, rows))
    return exits.WRONG if is_wrong else exits.DONE


def _headline(plan: ShotPlan) -> str:
    camera, length_s = plan.show.camera, plan.timeline().length_s
    title = f" {plan.shot.title}" if plan.shot.title else ""
    on_screen = _seconds(camera.screen_s(length_s))
    rates = f"{float(camera.fps):.6g} frames a second"
    if camera.fps_on_set != camera.fps:
        rates = f"shot at {float(camera.fps_on_set):.6g} and played at {rates}"
    return f"shot {plan.name}{title}: {_seconds(length_s)} on set, {on_screen} on screen, {rates}, speed {plan.speed}"


def _seconds(time_s: Fraction) -> str:
    return f"{float(time_s):.3f} s"


def _cells(row: CueRow) -> tuple[str, ...]:
    from cuedeck.timing.moves import print_position

    moment = row.moment
    fade = "at once" if not row.fade_set_s else _seconds(row.fade_set_s)
    if row.fade_screen_s != row.fade_set_s:
        fade += f" ({_seconds(row.fade_screen_s)} on screen)"
    if moment is None:
        return row.cue, row.start, "when fired", "", "", "", "", row.look, fade, row.curve
    axes = ", ".join(f"{place.axis} {print_position(place.position, place.unit)}" for place in moment.axes)
    times = (_seconds(moment.set_s), _seconds(moment.screen_s), _frame(moment.frame), moment.timecode)
    return row.cue, row.start, *times, axes, row.look, fade, row.curve


def _frame(frame: int | None) -> str:
    return "the end" if frame is None else str(frame)


def _as_data(plan: ShotPlan, rows: list[CueRow]) -> dict[str, Any]:
    camera, length_s = plan.show.camera, plan.timeline().length_s
    return {
        "shot": plan.name,
        "speed": str(plan.speed),
        "play_fps": str(camera.fps),
        "shoot_fps": str(camera.fps_on_set),
        "refresh_hz": str(plan.refresh_hz),
        "length_set_s": float(length_s),
        "length_screen_s": float(camera.screen_s(length_s)),
        "cues": [_row_data(row) for row in rows],
    }


def _row_data(row: CueRow) -> dict[str, Any]:
    moment = row.moment
    return {
        "cue": row.cue,
        "starts": row.start,
        "set_s": None if moment is None else float(moment.set_s),
        "screen_s": None if moment is None else float(moment.screen_s),
        "frame": None if moment is None else moment.frame,
        "timecode": (moment.timecode or None) if moment else None,
        "axes": {} if moment is None else {f"{place.axis} {place.unit}": place.position for place in moment.axes},
        "look": row.look,
        "fade_set_s": float(row.fade_set_s),
        "fade_screen_s": float(row.fade_screen_s),
        "curve": row.curve,
    }
