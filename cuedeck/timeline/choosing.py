"""What was asked for by name: a shot of a show that can run, at a speed."""

from __future__ import annotations

from fractions import Fraction
from typing import TYPE_CHECKING

from cuedeck.errors import Refusal

if TYPE_CHECKING:
    from cuedeck.timeline.opening import OpenedShow  # only named: the help of every command loads this module
    from cuedeck.timeline.plan import ShotPlan

SLOWEST = Fraction(1, 1000)
MOST_EXACT_SPEED = 1_000_000
"""Largest numerator and denominator of a speed."""


def require_sound(opened: OpenedShow) -> None:
    """Raise Refusal, with every error, where a show cannot run."""
    if opened.errors:
        count = len(opened.errors)
        lines = "\n".join(str(problem) for problem in opened.errors)
        raise Refusal(f"{'an error' if count == 1 else f'{count} errors'} in the show:\n{lines}")


def plan_of(opened: OpenedShow, shot: str | None, speed: str = "1") -> ShotPlan:
    """Return the plan of a shot, or of the only one, at a speed.

    Raises Refusal where it is not clear which shot, where there is none of that name, and for a wrong speed.
    """
    from cuedeck.show.problems import choice_of
    from cuedeck.timeline.opening import LONGEST_SHOT_S

    if shot is None and len(opened.show.shots) == 1:
        shot = next(iter(opened.show.shots))
    if shot is None:
        cure = choice_of("", opened.show.shots, none="add one under 'shots:' (see README)")
        raise Refusal(f"which shot? {cure}" if opened.show.shots else f"the show has no shot yet: {cure}")
    if shot not in opened.show.shots:
        raise Refusal(f"the show has no shot '{shot}': {choice_of(shot, opened.show.shots)}")
    plan = opened.plan(shot, speed_of(speed))
    if plan.speed < 1 and plan.timeline().length_s > LONGEST_SHOT_S:
        raise Refusal(f"at --speed {speed} shot {shot} lasts more than a day: write a higher speed")
    return plan


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
