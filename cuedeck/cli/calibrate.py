"""`cuedeck calibrate`: read a light with a meter, level by level, and write its dimmer curve into the show."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence
from typing import TYPE_CHECKING

from cuedeck.cli import exits
from cuedeck.cli.arguments import add_show, parsed
from cuedeck.cli.blackout_words import BlackoutTold
from cuedeck.cli.look_client import LookClient
from cuedeck.cli.meter_readings import WORDS, MeteredLight, MeterReadings
from cuedeck.cli.opening import open_runnable_show
from cuedeck.cli.printing import say
from cuedeck.cli.prompts import ask
from cuedeck.errors import Refusal
from cuedeck.show.spelling import as_one

if TYPE_CHECKING:
    from pathlib import Path

    from cuedeck.folder.calibrations import CalibrationFile
    from cuedeck.output.base import Output
    from cuedeck.rig.calibration import Calibration
    from cuedeck.rig.parameters import PatchedFixture
    from cuedeck.rig.patch import Patch
    from cuedeck.timeline.opening import OpenedShow


def add_arguments(parser: argparse.ArgumentParser) -> None:
    add_show(parser)
    parser.add_argument("fixture", metavar="FIXTURE", type=as_one, help="the name of the light")
    parser.add_argument(
        "--to",
        metavar="OUTPUT",
        action="append",
        required=True,
        help="where packets go: serial:PORT or framed:PORT, with ,universe=N behind; simulator to try without a light",
    )
    parser.add_argument(
        "--levels", metavar="LIST", help="the control values to read, in percent (default 0,5,10,20,...,100)"
    )
    parser.add_argument("--restart", action="store_true", help="begin anew, and forget the readings so far")
    parser.epilog = (
        "Full is read first, then the levels from below, then full again. Readings may be piped in, one a line:"
        f" {WORDS}. Readings so far are kept in the folder .calibration of the show."
    )


def run(options: argparse.Namespace) -> int:
    """Read every level that is still to be read, print the curve, and write it."""
    from cuedeck.cli.calibration_result import write_curve
    from cuedeck.clock import MonotonicClock
    from cuedeck.folder.calibrations import CalibrationFile
    from cuedeck.folder.folder import ShowFolder
    from cuedeck.output.targets import outputs_for

    folder = ShowFolder(options.show)
    opened = open_runnable_show(folder)
    fixture = _fixture_of(opened.patch, options.fixture)
    _require_unlimited(fixture)
    kept = CalibrationFile(folder.path, fixture.name)
    readings = MeterReadings(_calibration_to_run(kept, options.levels, options.restart), kept)
    if not readings.calibration.is_finished:
        targets = list(dict.fromkeys(options.to))
        _require_universe(outputs_for(targets, opened.patch, MonotonicClock()), opened.patch, fixture)
        told = BlackoutTold(folder.path)
        _print_cautions(opened.patch, fixture, targets)
        if not _read_levels(readings, opened, fixture, folder.path, targets, told):
            _print_stop(readings.calibration, kept)
            return exits.STOPPED
    if not write_curve(folder, opened, fixture, readings.calibration):
        say(f"nothing was written; the readings are kept in {kept.path}: --restart begins anew")
        return exits.STOPPED
    kept.discard()
    return exits.DONE


def _fixture_of(patch: Patch, name: str) -> PatchedFixture:
    from cuedeck.show.problems import choice_of

    by_name = {fixture.name: fixture for fixture in patch.lights}
    if name not in by_name:
        raise Refusal(f"the rig has no light '{name}': {choice_of(name, by_name)}")
    return by_name[name]


def _require_unlimited(fixture: PatchedFixture) -> None:
    """Raise Refusal where a limit keeps the light from the levels of a curve, which runs from 0 % to 100 %."""
    hung = fixture.hung
    limits = {"never above": hung.never_above, "never below": hung.never_below}
    written = [f"'{key}: {level}'" for key, level in limits.items() if level is not None]
    if fixture.limits is not None:
        raise Refusal(
            f"'{fixture.name}' is limited, and a curve is read from 0 % to 100 %: where the light may go that far,"
            f" take {' and '.join(written)} out of the show for the calibration, and put it back after it"
        )


def _calibration_to_run(kept: CalibrationFile, levels: str | None, is_restarted: bool) -> Calibration:
    """Return the calibration to go on with, or a new one. Raises Refusal where the two do not agree."""
    from cuedeck.rig.calibration import LADDER, Calibration, parse_ladder

    ladder = None if levels is None else parsed("--levels", levels, parse_ladder)
    if is_restarted:
        kept.discard()
    before = kept.load()
    if before is None:
        return Calibration(ladder or LADDER)
    if ladder not in (None, before.levels):
        raise Refusal(
            f"{kept.path} holds readings at other levels: leave --levels out to go on with them,"
            " or begin anew with --restart"
        )
    done = f"{len(before.answers)} of {len(before.order)}"
    say(f"going on with {done} readings from {kept.path}; --restart begins anew")
    if not before.is_finished:
        say("the meter must stand where it stood: full is read again at the end to see that")
    return before


def _print_cautions(patch: Patch, fixture: PatchedFixture, targets: Sequence[str]) -> None:
    watts, circuit = fixture.type.watts, fixture.hung.circuit
    drawn = f" (it draws {float(watts):g} W)" if watts is not None else ""
    where = f"circuit '{circuit}'" if circuit else "its circuit"
    say(f"'{fixture.name}' goes to FULL on {', '.join(targets)}, and every other light goes out.")
    held = [f"'{light.name}'" for light in patch.lights if light.stays_lit]
    if held:
        stay = "stays at its" if len(held) == 1 else "stay at their"
        say(f"  But {', '.join(held)} {stay} 'never below': keep that light off the meter, or switch the lamp off.")
    say(f"  Check that {where} carries it{drawn}. The lamp gets hot: hands, cloth and gel away from it.")
    say("  Do not look into the light. Darken the room, and fix the meter where it sees this light alone.")
    say("  Let the lamp warm up at full: take a reading once it stands still.")


def _read_levels(
    readings: MeterReadings,
    opened: OpenedShow,
    fixture: PatchedFixture,
    folder: Path,
    targets: Sequence[str],
    told: BlackoutTold,
) -> bool:
    """Read the levels on the outputs; return whether all were. However it ends, the light is released."""
    universes, holds = opened.patch.universes, opened.show.on_stop == "hold"
    try:
        with exits.interruptible():
            if not _is_ready():
                return False
            with LookClient(folder, targets, universes, told, holds_at_end=holds) as light:
                return readings.run(MeteredLight(light, told, opened.patch, fixture))
    except KeyboardInterrupt:
        return False


def _is_ready() -> bool:
    """Wait for Enter where there is a keyboard; return False at the end of the input."""
    has_keyboard = sys.stdin is not None and sys.stdin.isatty()
    return not has_keyboard or ask("press Enter to begin, Ctrl-C to leave it: ") is not None


def _require_universe(outputs: Sequence[Output], patch: Patch, fixture: PatchedFixture) -> None:
    """Raise Refusal where no output carries the universe of the light."""
    from cuedeck.output.serial_output import SerialOutput

    own = fixture.address.universe
    lines = [output for output in outputs if isinstance(output, SerialOutput)]
    carried = [patch.universes[0] if line.universe is None else line.universe for line in lines]
    if lines and len(lines) == len(outputs) and own not in carried:
        raise Refusal(
            f"{lines[0].name} carries universe {carried[0]}, and '{fixture.name}' listens in universe {own}:"
            f" write --to {lines[0].kind}:{lines[0].port},universe={own}"
        )


def _print_stop(calibration: Calibration, kept: CalibrationFile) -> None:
    if calibration.answers:
        say(f"\nstopped; the readings so far are kept in {kept.path}: the same command goes on with them")
    else:
        say("\nstopped: nothing was read")
