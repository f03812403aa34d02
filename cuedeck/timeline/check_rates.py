"""What is said about the rates of a show: packets a second on the line, and how timecode counts."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from math import ceil

from cuedeck.rig.patch import Patch
from cuedeck.show.frame_rates import TimecodeRate
from cuedeck.show.load import LoadedShow
from cuedeck.show.problems import Problem, Severity
from cuedeck.show.units import FEWEST_SLOTS, FULL_UNIVERSE, Frequency, print_number
from cuedeck.timeline.plan import refresh_of
from cuedeck.timing.line import LOWEST_REFRESH_HZ, allowed_refresh_hz, highest_refresh_hz, most_slots_at

MOST_EXACT = 10**9
"""Largest numerator and denominator of a refresh: a day of packet times still fits 64-bit whole numbers."""


def check_rates(loaded: LoadedShow, patch: Patch) -> list[Problem]:
    """Return the problems with the refresh and with the rate of the timecode."""
    return [*_refresh(loaded, patch), *_timecode(loaded)]


def _refresh(loaded: LoadedShow, patch: Patch) -> Iterator[Problem]:
    written, place = loaded.show.refresh, loaded.source.place_of_value(("refresh",))
    slots, refresh_hz = patch.slots_sent, refresh_of(loaded.show, patch)
    highest, allowed = highest_refresh_hz(slots), allowed_refresh_hz(slots)
    if max(refresh_hz.as_integer_ratio()) > MOST_EXACT:
        shown = f"{print_number(refresh_hz)} Hz"
        yield Problem(
            place, f"{shown} is more exact than a clock can keep", "write it with fewer digits, such as 40 Hz"
        )
    elif isinstance(written, Frequency) and not LOWEST_REFRESH_HZ <= refresh_hz <= allowed:
        yield Problem(
            place,
            f"{written} is outside what ANSI E1.11 allows for {slots} slots",
            f"write {Frequency.of(LOWEST_REFRESH_HZ)} to {Frequency.of(highest)}, or send fewer slots with 'slots:'",
        )
    elif isinstance(written, Frequency) and refresh_hz > highest:
        yield Problem(
            place,
            f"a serial line with its breaks reaches {highest} Hz for {slots} slots, and misses packets at {written}",
            f"write 'refresh: {highest} Hz', or send fewer slots with 'slots:'",
            Severity.WARNING,
        )
    elif written is not None and refresh_hz < loaded.show.camera.fps_on_set and not isinstance(written, Frequency):
        yield _slower_than_camera(loaded, slots, refresh_hz)


def _slower_than_camera(loaded: LoadedShow, slots: int, refresh_hz: Fraction) -> Problem:
    fps, highest = loaded.show.camera.fps_on_set, highest_refresh_hz(slots)
    enough = most_slots_at(fps, FULL_UNIVERSE, FEWEST_SLOTS)
    what = (
        f"the camera takes {_rate(fps)} frames a second, and a line carries {highest} packets a second of"
        f" {slots} slots: one packet goes out every {ceil(fps / highest)} frames, at {_rate(refresh_hz)} Hz"
    )
    cure = f"send at most {enough} slots for a packet to each frame: 'slots: {enough}'"
    if enough is None:
        cure = f"no number of slots is fast enough; write 'refresh: {highest} Hz' where frames may see uneven numbers"
    return Problem(loaded.source.place_of_value(("refresh",)), what, cure, Severity.WARNING)


def _rate(rate: Fraction) -> str:
    return f"{float(rate):.6g}"


def _timecode(loaded: LoadedShow) -> Iterator[Problem]:
    camera = loaded.show.camera
    rate = camera.timecode
    if rate is None or rate.frames_per_second == camera.fps:
        return
    own = TimecodeRate.counting(camera.fps)
    yield Problem(
        loaded.source.place_of_value(("camera", "timecode")),
        f"timecode {rate} does not count the frames of a camera at {own} frames a second",
        f"write 'fps: {str(rate).removesuffix('df')}'" + (f", or 'timecode: {own}'" if own.is_standard else ""),
    )
