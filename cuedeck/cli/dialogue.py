"""Asking for the readings of a light meter, level by level, on the terminal or from a pipe."""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING, Protocol

if TYPE_CHECKING:
    from fractions import Fraction

    from cuedeck.folder.calibrations import CalibrationFile
    from cuedeck.rig.calibration import Calibration

WORDS = (
    "a number, or: back (redo the one before), full (read full again), skip, stop (keep what was read), blackout,"
    " release"
)
NO_READING = "BLACKOUT: no reading is taken; type release (or Enter, once it is released elsewhere), or stop: "

DOUBTED_DRIFT = 0.5
"""No lamp warms up by half: a reading at full so far over the first one was mistyped."""


class MeteredLight(Protocol):
    """The light that is read."""

    def show(self, control: Fraction) -> None:
        """Put it at a control value. Raises Refusal where no output is left."""

    @property
    def blackouts(self) -> tuple[bool, int]:
        """Whether a blackout lies over it, and how many there were."""

    def obeys(self, word: str) -> str:
        """Black out or release, where a word says so; return what is to be said then."""

    def require_output(self) -> None:
        """Raise Refusal where no output is left: what the meter reads now means nothing."""


class Dialogue:
    """Shows each level, asks for its reading, and keeps what was typed on the disk before the next one."""

    def __init__(self, calibration: Calibration, kept: CalibrationFile) -> None:
        self.calibration = calibration
        """What was read so far."""
        self._kept = kept
        self._doubted = ""

    def run(self, light: MeteredLight) -> bool:
        """Ask until every level was read; return False where it was stopped before."""
        from cuedeck.rig.calibration import FULL

        while (level := self.calibration.next_level) is not None:
            light.show(level)
            text = _asked(light, self._question(level))
            if text is None or text == "stop":
                return False
            if text == "full" and self.calibration.answers:
                light.show(FULL)
                self._take("full", _asked(light, "control 100 %, once more: reading? ") or "")
            elif text:
                self._take(text, text)
        return True

    def _question(self, level: Fraction) -> str:
        from cuedeck.show.units import Percent

        calibration = self.calibration
        count = f"{len(calibration.answers) + 1} of {len(calibration.order)}"
        again = " again" if calibration.answers and level == 1 else ""
        return f"({count}) control {Percent.of(level)}{again}: reading? "

    def _take(self, word: str, text: str) -> None:
        """Take in a word or a reading and put it on the disk, or say why not."""
        from cuedeck.show.units import UnitError

        try:
            self.calibration = self._answered(word, text)
        except UnitError as error:
            say(f"  {error.what}\n    {error.cure}")
        else:
            self._kept.save(self.calibration)

    def _answered(self, word: str, text: str) -> Calibration:
        from cuedeck.rig.calibration import parse_reading

        match word:
            case "back":
                return self.calibration.without_last_reading()
            case "skip":
                return self.calibration.skipped()
            case "full":
                return self.calibration.with_full(parse_reading(text))
            case "?" | "help":
                say(f"  {WORDS}")
                return self.calibration
            case _:
                return self._read(text)

    def _read(self, text: str) -> Calibration:
        """Return the calibration with a reading; full far over its first reading must be typed twice."""
        from cuedeck.rig.calibration import parse_reading
        from cuedeck.show.units import UnitError, print_number

        after = self.calibration.with_reading(parse_reading(text))
        if after.drift is not None and after.drift > DOUBTED_DRIFT and text != self._doubted:
            self._doubted = text
            numbers = [print_number(answer) for answer in after.answers if answer is not None]
            what = f"100 % reads {numbers[-1]}, and read {numbers[0]} at the start"
            raise UnitError(what, "read again; if the meter does say so, type it once more")
        return after


def _asked(light: MeteredLight, question: str) -> str | None:
    """Ask for a reading of the light. What is typed while a blackout lies over it is none."""
    while True:
        is_black, before = light.blackouts
        text = ask(NO_READING if is_black else question)
        light.require_output()
        if text is None or text == "stop":
            return text
        if obeyed := light.obeys(text):
            say(obeyed)
        elif not is_black and light.blackouts == (False, before):
            return text
        else:
            say("that was no reading: a blackout lay over the light")


def ask(question: str) -> str | None:
    """Ask on standard error; return the words of the answer, or None at the end of the input."""
    if sys.stdin is None:
        return None
    print(question, end="", file=sys.stderr, flush=True)
    text = sys.stdin.readline()
    if not sys.stdin.isatty():
        print(text.strip(), file=sys.stderr)
    return " ".join(text.split()) if text else None


def say(text: str) -> None:
    """Tell the user something that is not data."""
    print(text, file=sys.stderr)
