"""Opens the show of a command, and prints what is wrong with it."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from cuedeck.cli.printing import say
from cuedeck.show import SHOW_FILE

if TYPE_CHECKING:
    from cuedeck.folder.folder import ShowFolder
    from cuedeck.rig.patch import Patch
    from cuedeck.timeline.opening import OpenedShow
    from cuedeck.timeline.plan import ShotPlan


def show_path(named: str) -> Path:
    """Return the folder of a show, and load nothing that reads one. Raises NoShow."""
    if (Path(named) / SHOW_FILE).is_file():
        return Path(named)
    from cuedeck.folder.folder import ShowFolder

    return ShowFolder(named).path


def open_runnable_show(folder: ShowFolder) -> OpenedShow:
    """Open a show that has a shot which can run, and print its warnings. Raises Refusal."""
    from cuedeck.timeline.choosing import require_sound

    opened = folder.open()
    require_sound(opened)
    print_warnings(opened)
    return opened


def open_shot(folder: ShowFolder, shot: str | None, speed: str) -> ShotPlan:
    """Open a shot that can run, at a speed, and print the warnings of its show. Raises Refusal."""
    from cuedeck.timeline.choosing import sound_plan_of

    opened = folder.open()
    plan = sound_plan_of(opened, shot, speed)
    print_warnings(opened, plan.name)
    return plan


def print_warnings(opened: OpenedShow, shot: str | None = None) -> None:
    """Print the warnings of a show, and which other shots have errors."""
    from cuedeck.timeline.choosing import other_errors

    for problem in opened.problems:
        if not problem.is_error:
            say(str(problem))
    if line := other_errors(opened, shot):
        say(line)


def print_errors(opened: OpenedShow, shot: str | None = None) -> bool:
    """Print the errors of a show, or of one shot; return whether there are any."""
    from cuedeck.timeline.choosing import other_errors

    errors = opened.errors if shot is None else opened.errors_of(shot)
    for problem in errors:
        say(str(problem))
    if shot is not None and (line := other_errors(opened, shot)):
        say(line)
    return bool(errors)


def print_left_out_universes(targets: Sequence[str], patch: Patch) -> None:
    """Print which universes of the rig a serial output leaves out. Raises UnknownTarget."""
    from cuedeck.clock import MonotonicClock
    from cuedeck.output.serial_output import SerialOutput
    from cuedeck.output.targets import outputs_for

    for output in outputs_for(targets, patch, MonotonicClock()):
        if not isinstance(output, SerialOutput):
            continue
        carried = patch.universes[0] if output.universe is None else output.universe
        left_out = [str(universe) for universe in patch.universes if universe != carried]
        if left_out and carried in patch.universes:
            say(
                f"{output.name} carries universe {carried}, not {', '.join(left_out)}:"
                f" add --to {output.kind}:PORT,universe={left_out[0]} for another interface"
            )
