"""Asking for the readings of a light meter, level by level, on the terminal or from a pipe."""

from __future__ import annotations

from typing import TYPE_CHECKING

from cuedeck.cli.printing import say
from cuedeck.cli.prompts import ask
from cuedeck.errors import Refusal

if TYPE_CHECKING:
    from fractions import Fraction

    from cuedeck.cli.blackout_words import BlackoutTold
    from cuedeck.cli.look_client import LookClient
    from cuedeck.folder.calibrations import CalibrationFile
    from cuedeck.rig.calibration import Calibration
    from cuedeck.rig.parameters import PatchedFixture
    from cuedeck.rig.patch import Patch

WORDS = (
    "a number, or: back (redo the one before), full (read full again), skip, stop (keep what was read), blackout,"
    " release"
)
NO_READING = "BLACKOUT: no reading is taken; type release (or Enter, once it is released elsewhere), or stop: "

IMPLAUSIBLE_DRIFT = 0.5
"""No lamp warms up by half: a reading at full so far over the first one was mistyped."""


class MeteredLight:
    """The light that is read: the only one that is lit on the line."""

    def __init__(self, client: LookClient, told: BlackoutTold, patch: Patch, fixture: PatchedFixture) -> None:
        self._client, self._told, self._patch, self._fixture = client, told, patch, fixture

    def show(self, control: Fraction) -> None:
        """Put it at a control value, 0 to 1. Raises Refusal where no output is left."""
        from cuedeck.rig.fit import level_slots

        self._client.show(level_slots(self._patch, self._fixture, float(control)))
        self.require_output()

    @property
    def blackouts(self) -> tuple[bool, int]:
        """Whether a blackout lies over it, and how many there were."""
        return self._client.blackouts

    def obeys(self, word: str) -> str:
        """Black out or release, where a word says so; return the message about it."""
        return self._told.obeys(word)

    def require_output(self) -> None:
        """Raise Refusal where no output is left: what the meter reads now means nothing."""
        if not self._client.has_output:
            raise Refusal("no output is left. The readings so far are kept: mend the line, and give the command again")


class MeterReadings:
    """Shows each level and asks for its reading. Each answer is on the disk before the next question."""

    def __init__(self, calibration: Calibration, kept: CalibrationFile) -> None:
        self.calibration = calibration
        """What was read so far."""
        self._kept = kept
        self._unconfirmed = ""

    def run(self, light: MeteredLight) -> bool:
        """Ask until every level was read; return False where it was stopped before."""
        from cuedeck.rig.calibration import FULL

        while (level := self.calibration.next_level) is not None:
            light.show(level)
            text = _ask_reading(light, self._question(level))
            if text is None or text == "stop":
                return False
            if text == "full" and self.calibration.answers:
                light.show(FULL)
                self._add("full", _ask_reading(light, "control 100 %, once more: reading? ") or "")
            elif text:
                self._add(text, text)
        return True

    def _question(self, level: Fraction) -> str:
        from cuedeck.show.units import Percent

        calibration = self.calibration
        count = f"{len(calibration.answers) + 1} of {len(calibration.order)}"
        again = " again" if calibration.answers and level == 1 else ""
        return f"({count}) control {Percent.of(level)}{again}: reading? "

    def _add(self, word: str, text: str) -> None:
        """Add a word or a reading and save it, or say what is wrong with it."""
        from cuedeck.show.units import UnitError

        try:
            self.calibration = self._after(word, text)
        except UnitError as error:
            say(f"  {error.what}\n    {error.cure}")
        else:
            self._kept.save(self.calibration)

    def _after(self, word: str, text: str) -> Calibration:
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
                return self._with_reading(text)

    def _with_reading(self, text: str) -> Calibration:
        """Return the calibration with a reading; full far over its first reading must be typed twice."""
        from cuedeck.rig.calibration import parse_reading
        from cuedeck.show.units import UnitError, print_number

        after = self.calibration.with_reading(parse_reading(text))
        if after.drift is not None and after.drift > IMPLAUSIBLE_DRIFT and text != self._unconfirmed:
            self._unconfirmed = text
            numbers = [print_number(answer) for answer in after.answers if answer is not None]
            what = f"100 % reads {numbers[-1]}, and read {numbers[0]} at the start"
            raise UnitError(what, "read again; if the meter does say so, type it once more")
        return after


def _ask_reading(light: MeteredLight, question: str) -> str | None:
    """Ask for a reading of the light. What is typed during a blackout is no reading."""
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
