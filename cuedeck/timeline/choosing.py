"""Choosing a shot by name, at a speed; one that cannot run is refused."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from typing import TYPE_CHECKING

from cuedeck.errors import Refusal

if TYPE_CHECKING:
    from cuedeck.show.problems import Problem
    from cuedeck.timeline.opening import OpenedShow  # only named: the help of every command loads this module
    from cuedeck.timeline.plan import ShotPlan

SLOWEST = Fraction(1, 1000)
MOST_EXACT_SPEED = 1_000_000
"""Largest numerator and denominator of a speed."""
MOST_NAMED = 12
"""How many shots are named in a line."""


def require_sound(opened: OpenedShow) -> None:
    """Raise Refusal, with every error, where no shot of a show can run."""
    _refuse(opened.errors_of_all, "in the show")


def sound_plan_of(opened: OpenedShow, shot: str | None, speed: str = "1") -> ShotPlan:
    """Return the plan of a shot, or of the only one, that can run. Raises Refusal as `plan_of` does, and for errors.

    What is wrong with other shots alone keeps none from running.
    """
    require_sound(opened)
    name = _name_of(opened, shot)
    _refuse(opened.errors_of(name), f"in shot {name}, or in what it uses")
    return plan_of(opened, name, speed)


def _refuse(errors: Sequence[Problem], where: str) -> None:
    if errors:
        lines = "\n".join(str(problem) for problem in errors)
        raise Refusal(f"{'an error' if len(errors) == 1 else f'{len(errors)} errors'} {where}:\n{lines}")


def _name_of(opened: OpenedShow, shot: str | None) -> str:
    """Return the shot that is asked for, read or not. Raises Refusal where that is not clear, or there is none."""
    from cuedeck.show.problems import choice_of
    from cuedeck.show.spelling import as_one

    shots = list(dict.fromkeys([*opened.show.shots, *opened.source.names("shots")]))
    if shot is None and len(shots) == 1:
        return shots[0]
    if shot is None:
        cure = choice_of("", shots, none="add one under 'shots:' (see README)")
        raise Refusal(f"which shot? {cure}" if shots else f"the show has no shot yet: {cure}")
    shot = as_one(shot)
    if shot not in shots:
        raise Refusal(f"the show has no shot '{shot}': {choice_of(shot, shots)}")
    return shot


def plan_of(opened: OpenedShow, shot: str | None, speed: str = "1") -> ShotPlan:
    """Return the plan of a shot, or of the only one, at a speed, be it one that cannot run.

    Raises Refusal where it is not clear which shot, where there is none of that name that can be read, and for a
    wrong speed.
    """
    from cuedeck.timeline.opening import LONGEST_SHOT_S

    name = _name_of(opened, shot)
    if name not in opened.show.shots:
        _refuse(opened.errors_of(name), f"in shot {name}")
        raise Refusal(f"shot {name} cannot be read")
    plan = opened.plan(name, speed_of(speed))
    if plan.speed < 1 and plan.timeline().length_s > LONGEST_SHOT_S:
        raise Refusal(f"at --speed {speed} shot {name} lasts more than a day: write a higher speed")
    return plan


def other_errors(opened: OpenedShow, shot: str | None = None) -> str:
    """Return the line that says which other shots cannot run, or where else errors are; nothing where all is well."""
    others = [name for name in opened.shots_with_errors if name != shot]
    own = opened.errors_of(shot) if shot is not None else ()
    if others:
        noun, has = ("shot", "has") if len(others) == 1 else ("shots", "have")
        shown = ", ".join(others[:MOST_NAMED]) + (", ..." if len(others) > MOST_NAMED else "")
        return f"{noun} {shown} {has} errors and cannot run: 'cuedeck check' says which"
    if len(opened.errors) > len(own):
        return "there are errors in what no shot uses: 'cuedeck check' says which"
    return ""


def speed_of(text: str) -> Fraction:
    """Return the factor after --speed. Raises Refusal."""
    from cuedeck.show.units import UnitError, parse_number

    cure = "write a factor such as 1/4 or 2, from 1/1000 to 1000"
    try:
        speed = parse_number(text)
    except UnitError as error:
        raise Refusal(f"--speed {text}: {error.what}: {cure}") from error
    if not SLOWEST <= speed <= 1 / SLOWEST or max(speed.as_integer_ratio()) > MOST_EXACT_SPEED:
        raise Refusal(f"--speed {text} is out of range: {cure}")
    return speed
