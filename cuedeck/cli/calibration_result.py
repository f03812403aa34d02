"""The result of a calibration: prints the curve that was measured and writes it into the show."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from cuedeck.cli.printing import say
from cuedeck.cli.prompts import ask
from cuedeck.errors import Refusal

if TYPE_CHECKING:
    from cuedeck.folder.folder import ShowFolder
    from cuedeck.rig.calibration import Calibration
    from cuedeck.rig.parameters import PatchedFixture
    from cuedeck.show.fixtures import FixtureType
    from cuedeck.timeline.opening import OpenedShow


KEPT = "all readings are kept: mend this, and give the command again; it goes on from them, and needs no light"


def write_curve(folder: ShowFolder, opened: OpenedShow, fixture: PatchedFixture, calibration: Calibration) -> bool:
    """Print the curve and write it into the show, unless it is doubtful and not wanted. Raises Refusal."""
    from cuedeck.report.dimming import bottom_sentences, fit_plot, fit_table
    from cuedeck.rig.fit import bottom_of, curve_through, dimmer_text, fit_rows, steps_of

    readings = calibration.net_readings()
    if not readings:
        raise Refusal("too many levels were skipped for a curve: begin anew with --restart")
    rows, bottom = fit_rows(readings), bottom_of(readings, steps_of(opened.patch, fixture))
    for line in (*fit_table(rows, calibration.unit), "", *fit_plot(curve_through(readings)), ""):
        print(line)
    for line in bottom_sentences(rows, bottom):
        print(line)
    _print_room(calibration)
    _print_drift(calibration)
    if not _is_wanted(calibration):
        return False
    _write(folder, fixture, dimmer_text(readings, calibration.unit))
    return True


def _is_wanted(calibration: Calibration) -> bool:
    """Return whether to write the curve; the user decides where full has drifted too far."""
    from cuedeck.rig.calibration import MOST_DRIFT_STOPS

    if abs(calibration.drift_stops) <= MOST_DRIFT_STOPS:
        return True
    say(f"full has drifted by {calibration.drift_stops:+.2f} stop, and {MOST_DRIFT_STOPS:g} is the most for a curve")
    return ask("write the curve all the same? yes, or Enter to leave the show as it is: ") in ("y", "yes")


def _print_room(calibration: Calibration) -> None:
    from cuedeck.show.units import print_number

    if calibration.ambient:
        print(f"room: the {print_number(calibration.ambient)} read at 0 % was taken off every reading")


def _print_drift(calibration: Calibration) -> None:
    from cuedeck.rig.calibration import MOST_DRIFT

    drift = calibration.drift
    if drift is None:
        say("warning: full was not read again at the end: nothing tells whether the lamp or the meter has drifted")
        return
    percent = f"{float(drift) * 100:+.1f} %"
    print(f"drift: full reads {percent} against the first reading; the middle of both is the scale")
    if abs(drift) > MOST_DRIFT:
        say(
            f"warning: full has drifted by {percent} since the first reading: the lamp was not warm, or the meter"
            " moved.\n         Let it warm up, and begin anew with --restart"
        )


def _write(folder: ShowFolder, fixture: PatchedFixture, dimmer: dict[str, str]) -> None:
    """Write the curve into the file that holds the light's type now.

    The show is opened again: reading a ladder takes long enough to edit the show meanwhile.
    """
    from cuedeck.rig.fit import lights_of_type
    from cuedeck.rig.types import types_of
    from cuedeck.show.yamltext.edit import SetValue

    try:
        opened = folder.open()
        kind, source = fixture.hung.type, opened.source
        if kind not in types_of(opened.show):
            raise Refusal(f"the show has no type '{kind}' any more")
        is_own = kind in source.names("types")
        path = ("types", kind, "dimmer") if is_own else ("types", kind)
        value: Any = dimmer if is_own else type_as_written(fixture.type) | {"dimmer": dimmer}
        shared = ", ".join(lights_of_type(opened.patch.fixtures, kind))
        (file,) = folder.change(opened, [SetValue(path, value)])
    except Refusal as refusal:
        raise Refusal(f"{refusal}\n{KEPT}") from refusal
    print(f"written: {len(dimmer)} readings as the dimmer of type '{kind}' ({shared}) in {folder.path / file}")


def type_as_written(kind: FixtureType) -> dict[str, Any]:
    """Return a built-in type as a show writes one, since a type of a show's own replaces all of it."""
    description = kind.model_dump(mode="json", by_alias=True, exclude_defaults=True)
    bits = {1: "", 2: " 16-bit", 3: " 24-bit"}
    description["channels"] = [f"{one.attribute}{bits[one.width_slots]}" for one in kind.channels or ()]
    return description
