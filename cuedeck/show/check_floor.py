"""What contacts are to do, and how fast axes go, against the cues that there are."""

from __future__ import annotations

from collections.abc import Iterator

from cuedeck.show.floor import Deed, Does
from cuedeck.show.load import LoadedShow
from cuedeck.show.model import Shot
from cuedeck.show.problems import Problem, choice_of
from cuedeck.show.source import Path, Source
from cuedeck.show.triggers import AtPosition, ByOperator
from cuedeck.show.units import Angle, Length


def check_floor(loaded: LoadedShow) -> Iterator[Problem]:
    """Yield the problems with contacts that would fire what is not there, and with speeds of axes that are not."""
    for name, shot in loaded.show.shots.items():
        for index, trigger in enumerate(shot.trigger):
            fault = _fault(name, shot, trigger.does)
            if fault is not None:
                yield Problem(loaded.source.place_of_value(_path(loaded.source, name, index)), *fault)
        for axis, speed in shot.top_speed.items():
            fault = _speed_fault(name, shot, axis, type(speed))
            if fault is not None:
                yield Problem(loaded.source.place_of_value(("shots", name, "top speed", axis)), *fault)


def _speed_fault(name: str, shot: Shot, axis: str, kind: type[Length | Angle]) -> tuple[str, str] | None:
    kinds = {cue.trigger.axis: type(cue.trigger.position) for cue in shot.cues if isinstance(cue.trigger, AtPosition)}
    if axis not in kinds:
        none = "take it out, or write a cue such as 'at: slide 60 mm'"
        return f"no cue of shot {name} is tied to an axis '{axis}'", choice_of(axis, kinds, none=none)
    if kinds[axis] is not kind:
        example = "300 mm/s" if kinds[axis] is Length else "60 deg/s"
        return f"the cues of shot {name} count axis '{axis}' otherwise", f"write a speed such as {example}"
    return None


def _fault(name: str, shot: Shot, does: Does) -> tuple[str, str] | None:
    operated = [cue.cue for cue in shot.cues if isinstance(cue.trigger, ByOperator)]
    none = "give a cue 'at: operator', or write 'does: start'"
    if does.deed is Deed.NEXT_CUE and not operated:
        return f"the contact would fire the next cue, and shot {name} has no cue for the operator", none
    if does.deed is Deed.CUE and does.cue not in operated:
        return (
            f"the contact would fire cue {does.cue}, which is no operator cue of shot {name}",
            choice_of(does.cue, operated, none=none),
        )
    return None


def _path(source: Source, shot: str, index: int) -> Path:
    """Return where the file says what a contact does: the step of the list is missing where one stands alone."""
    listed: Path = ("shots", shot, "trigger", index, "does")
    return listed if listed in source.values else ("shots", shot, "trigger", "does")
