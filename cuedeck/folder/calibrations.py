"""The readings of calibrations that are under way, in the hidden folder .calibration of a show.

One small file for each light, replaced as a whole and on the disk before the next level is asked for: a
program that is killed loses no reading that it took in.
"""

from __future__ import annotations

import json
import re
from pathlib import Path

from cuedeck.errors import Refusal
from cuedeck.folder.durable import make_folder, reason_and_cure, replace_file, sweep
from cuedeck.folder.inside import own_path
from cuedeck.rig.calibration import FULL, Calibration, parse_reading
from cuedeck.show.problems import ProblemsFound
from cuedeck.show.source import Data, read_source
from cuedeck.show.units import Percent, UnitError, print_number

FOLDER = ".calibration"
SKIPPED = "skipped"
_NOT_IN_NAMES = re.compile(r'[%/\\:*?"<>|.\x00-\x1f]')


class CalibrationFile:
    """The readings of one light so far, on disk."""

    def __init__(self, show: Path, fixture: str) -> None:
        """Raises Foreign where a link or something other than a file stands there."""
        self._fixture = fixture
        name = _NOT_IN_NAMES.sub(lambda found: f"%{ord(found[0]):02x}", fixture) + ".yaml"
        self.path = own_path(show, FOLDER, name)

    def load(self) -> Calibration | None:
        """Return what was read so far; None where there is nothing. Raises Refusal for a file that was spoilt."""
        try:
            source = read_source(self.path.name, self.path.read_bytes())
            return _calibration(source.data)
        except FileNotFoundError:
            return None
        except OSError as error:
            raise Refusal(f"{self.path} cannot be read: {_why(error)}") from error
        except (ProblemsFound, UnitError, KeyError, TypeError) as error:
            raise Refusal(f"{self.path} is no file of readings any more: begin anew with --restart") from error

    def save(self, calibration: Calibration) -> None:
        """Put the readings on the disk, all or nothing. Raises Refusal."""
        try:
            make_folder(self.path.parent)
            sweep(self.path.parent)
            replace_file(self.path, _text(self._fixture, calibration).encode())
        except OSError as error:
            raise Refusal(f"{self.path} cannot be written: {_why(error)}") from error

    def discard(self) -> None:
        """Forget the readings, and the folder where it holds no others. Raises Refusal."""
        try:
            self.path.unlink(missing_ok=True)
            if self.path.parent.is_dir() and not any(self.path.parent.iterdir()):
                self.path.parent.rmdir()
        except OSError as error:
            raise Refusal(f"{self.path} cannot be taken away: {_why(error)}") from error


def _text(fixture: str, calibration: Calibration) -> str:
    levels = ", ".join(str(Percent.of(level)) for level in calibration.levels)
    answers = ", ".join(SKIPPED if answer is None else print_number(answer) for answer in calibration.answers)
    return (
        "# A calibration that is under way: 'cuedeck calibrate' goes on with it.\n"
        f"light: {json.dumps(fixture, ensure_ascii=False)}\n"
        f"unit: {json.dumps(calibration.unit)}\n"
        f"levels: [{levels}]\n"
        f"readings: [{answers}]   # full first, then the levels from below, then full again\n"
    )


def _calibration(data: dict[str, Data]) -> Calibration:
    levels = tuple(Percent.parse(level).base for level in _texts(data["levels"]))
    if not levels or list(levels) != sorted(set(levels)) or levels[-1] != FULL:
        raise UnitError("the levels do not rise to full", "")
    calibration = Calibration(levels, unit="lux" if data["unit"] == "lux" else "")
    for answer in _texts(data["readings"]):
        if calibration.is_finished:
            raise UnitError("there are more readings than levels", "")
        is_skipped = answer == SKIPPED
        calibration = calibration.skipped() if is_skipped else calibration.with_reading(parse_reading(answer))
    return calibration


def _texts(data: Data) -> list[str]:
    if not isinstance(data, list) or not all(isinstance(item, str) for item in data):
        raise TypeError("a list of texts is expected")
    return [str(item) for item in data]


def _why(error: OSError) -> str:
    return "; ".join(reason_and_cure(error))
