"""Edits of cues: adding, moving, stretching, naming, copying, leaving out and taking out.

Times and frames are those of the shot as it is written, at whatever speed it is rehearsed.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from fractions import Fraction
from itertools import chain, count
from typing import get_args

from pydantic import ValidationError

from cuedeck.draft.first_shot import BLACK
from cuedeck.draft.starts import STARTS, Start, moved_start, start_keys, start_of, time_in_same_frame, typed_start
from cuedeck.draft.steps import Edit
from cuedeck.errors import Refusal
from cuedeck.light.curves import CURVES
from cuedeck.show.camera import context_of, parse_time_in_shot
from cuedeck.show.load import message_of
from cuedeck.show.model import ColourPathName, Cue
from cuedeck.show.problems import choice_of
from cuedeck.show.source import Data, Path
from cuedeck.show.triggers import AfterCue, AtTime
from cuedeck.show.units import Duration, UnitError, print_number
from cuedeck.show.yamltext.changes import Append, Change, Insert, Remove, SetValue
from cuedeck.timeline.opening import OpenedShow
from cuedeck.timeline.plan import ShotPlan
from cuedeck.timing.labels import frame_at

CURVE_NAMES: Sequence[str] = tuple(CURVES)
COLOUR_PATHS: Sequence[str] = get_args(ColourPathName)


# Finding.


def _path(opened: OpenedShow, shot: str, cue: str) -> tuple[Path, Cue]:
    """Return the path of a cue, and the cue. Raises Refusal."""
    for index, one in enumerate(opened.show.shots[shot].cues):
        if one.cue == cue:
            return ("shots", shot, "cues", index), one
    raise Refusal(f"shot {shot} has no cue {cue} any more")


def _set(path: Path, data: Data, keys: Mapping[str, str | None]) -> list[Change]:
    """Return the changes that set keys of a cue; None takes a key out, and what is so already is left alone."""
    written = data if isinstance(data, dict) else {}
    changes: list[Change] = []
    for key, text in keys.items():
        if text is None:
            changes += [Remove((*path, key))] if key in written else []
        elif written.get(key) != text:
            changes.append(SetValue((*path, key), text))
    return changes


def _of_cue(
    opened: OpenedShow, shot: str, cue: str, name: str, keys: Mapping[str, str | None], joins: str = ""
) -> Edit:
    """Return the edit that sets keys of a cue, after checking that the cue can be read. Raises Refusal."""
    path, _ = _path(opened, shot, cue)
    data = opened.source.node(path)
    written = data if isinstance(data, dict) else {}
    _read_cue(opened, {key: text for key, text in {**written, **keys}.items() if text is not None})
    return Edit(name, tuple(_set(path, data, keys)), f"{joins} {shot} {cue}" if joins else "")


def _read_cue(opened: OpenedShow, data: Mapping[str, Data]) -> Cue:
    try:
        return Cue.model_validate(dict(data), context=context_of(opened.show.camera))
    except ValidationError as error:
        raise Refusal(message_of(error)) from error


# When it starts.


def move_by_frames(opened: OpenedShow, shot: str, cue: str, frames: int) -> Edit:
    """Return the edit that starts a cue so many camera frames later."""
    plan = opened.plan(shot)
    start_s = plan.start_times().get(cue)
    _, one = _path(opened, shot, cue)
    frame = 0 if start_s is None else frame_at(start_s, plan.fps_on_set)
    return _moved(opened, plan, one, max(frame + frames, 0))


def move_to(opened: OpenedShow, shot: str, cue: str, at_s: Fraction) -> Edit:
    """Return the edit that starts a cue in the camera frame of a time."""
    plan = opened.plan(shot)
    _, one = _path(opened, shot, cue)
    return _moved(opened, plan, one, frame_at(at_s, plan.fps_on_set))


def _moved(opened: OpenedShow, plan: ShotPlan, cue: Cue, frame: int) -> Edit:
    start = moved_start(plan, cue, frame)
    where = plan.labels.label(frame)
    start_text = start.get("at") or f"{start.get('wait', '0 s')} behind cue {start.get('after', start.get('with'))}"
    name = f"move cue {cue.cue} to {start_text}" + ("" if start_text == where else f", {where}")
    return _of_cue(opened, plan.name, cue.cue, name, _start_or_none(start), "move cue")


def _start_or_none(start: Start) -> dict[str, str | None]:
    return {key: start.get(key) for key in STARTS}


def set_start(opened: OpenedShow, shot: str, cue: str, text: str) -> Edit:
    """Return the edit that starts a cue where a person typed. Raises Refusal."""
    start = typed_start(text)
    other = start.get("after", start.get("with"))
    if other is not None:
        _require_no_circle(opened, shot, cue, other)
    edit = _of_cue(opened, shot, cue, f"cue {cue} starts {_start_words(start)}", _start_or_none(start))
    plan = opened.plan(shot)
    _, one = _path(opened, shot, cue)
    trigger = _read_cue(opened, {"cue": cue, "look": one.look, **start}).trigger
    is_never = start_of(plan, one, trigger) is None and other is None and start.get("at") != "operator"
    if is_never and not plan.is_axis_live and plan.shot.move != "live":
        raise Refusal(f"the shot never comes to {start.get('at')}: {_reach(plan)}")
    return edit


def _start_words(start: Start) -> str:
    if "at" in start:
        return f"at {start['at']}" if start["at"] != "operator" else "when fired"
    key = "after" if "after" in start else "with"
    return f"{key} cue {start[key]}" + (f", wait {start['wait']}" if "wait" in start else "")


def _reach(plan: ShotPlan) -> str:
    if plan.move is None:
        return "it has no move; write a time such as 2 s"
    return "its move has " + ", ".join(f"{axis.name} {axis.reach()}" for axis in plan.move.axes.values())


def _require_no_circle(opened: OpenedShow, shot: str, cue: str, other: str) -> None:
    by_name = {one.cue: one for one in opened.show.shots[shot].cues}
    if other not in by_name:
        raise Refusal(
            f"shot {shot} has no cue '{other}': {choice_of(other, [name for name in by_name if name != cue])}"
        )
    step: str | None = other
    for _ in by_name:
        if step == cue:
            raise Refusal(f"cue {other} starts by way of cue {cue} itself: choose another")
        trigger = by_name[step].trigger if step in by_name else None
        step = trigger.cue if isinstance(trigger, AfterCue) else None


# What it does.


def _duration(opened: OpenedShow, text: str) -> Duration:
    try:
        return parse_time_in_shot(text, context_of(opened.show.camera))
    except UnitError as error:
        raise Refusal(f"{error.what}: {error.cure}") from error


def lengthen_fade(opened: OpenedShow, shot: str, cue: str, by_s: Fraction) -> Edit:
    """Return the edit that makes a fade longer or shorter; it is never shorter than nothing."""
    _, one = _path(opened, shot, cue)
    base = max(one.fade.base + by_s, Fraction(0))
    fade = Duration(base * 1000, "ms") if one.fade.unit == "ms" else Duration.of(base)
    return _fade(opened, shot, cue, fade)


def set_fade(opened: OpenedShow, shot: str, cue: str, text: str) -> Edit:
    """Return the edit that sets how long a fade takes. Raises Refusal."""
    return _fade(opened, shot, cue, _duration(opened, "0 s" if text.strip() in ("0", "") else text))


def _fade(opened: OpenedShow, shot: str, cue: str, fade: Duration) -> Edit:
    text = str(fade) if fade.base else None
    return _of_cue(opened, shot, cue, f"fade of cue {cue}: {text or 'at once'}", {"fade": text}, "fade of cue")


def set_curve(opened: OpenedShow, shot: str, cue: str, text: str) -> Edit:
    """Return the edit that fades along another curve. Raises Refusal."""
    return _word(opened, shot, cue, "curve", text, CURVE_NAMES)


def turn_curve(opened: OpenedShow, shot: str, cue: str, by: int) -> Edit:
    """Return the edit that fades along the next curve, or the one before."""
    _, one = _path(opened, shot, cue)
    return set_curve(opened, shot, cue, CURVE_NAMES[(CURVE_NAMES.index(one.curve) + by) % len(CURVE_NAMES)])


def set_colour_path(opened: OpenedShow, shot: str, cue: str, text: str) -> Edit:
    """Return the edit that crosses colours in another way. Raises Refusal."""
    return _word(opened, shot, cue, "colour path", text, COLOUR_PATHS)


def turn_colour_path(opened: OpenedShow, shot: str, cue: str, by: int) -> Edit:
    """Return the edit that crosses colours in the other way."""
    _, one = _path(opened, shot, cue)
    return set_colour_path(opened, shot, cue, COLOUR_PATHS[(COLOUR_PATHS.index(one.colour_path) + by) % 2])


def _word(opened: OpenedShow, shot: str, cue: str, key: str, text: str, words: Sequence[str]) -> Edit:
    word = " ".join(text.split())
    if word not in words:
        raise Refusal(f"'{word}' is no {key}: {choice_of(word, words)}")
    written = None if word == words[0] else word  # the first is meant where nothing is written
    return _of_cue(opened, shot, cue, f"{key} of cue {cue}: {word}", {key: written}, f"{key} of cue")


def set_look(opened: OpenedShow, shot: str, cue: str, text: str) -> Edit:
    """Return the edit that sends a cue to another look. Raises Refusal."""
    look = text.strip()
    if look not in opened.show.looks:
        raise Refusal(f"the show has no look '{look}': {choice_of(look, opened.show.looks)}")
    return _of_cue(opened, shot, cue, f"cue {cue} goes to look {look}", {"look": look}, "look of cue")


def turn_look(opened: OpenedShow, shot: str, cue: str, by: int) -> Edit:
    """Return the edit that sends a cue to the next look of the show, or the one before."""
    _, one = _path(opened, shot, cue)
    looks = list(opened.show.looks)
    at = looks.index(one.look) if one.look in looks else 0
    return set_look(opened, shot, cue, looks[(at + by) % len(looks)])


def set_title(opened: OpenedShow, shot: str, cue: str, text: str) -> Edit:
    """Return the edit that says what a cue is for."""
    title = text.strip()
    return _of_cue(opened, shot, cue, f"title of cue {cue}: {title or 'none'}", {"title": title or None})


def toggle_skip(opened: OpenedShow, shot: str, cue: str) -> Edit:
    """Return the edit that leaves a cue out of the shot, or takes it in again."""
    _, one = _path(opened, shot, cue)
    name = f"take cue {cue} in again" if one.skip else f"leave cue {cue} out"
    return _of_cue(opened, shot, cue, name, {"skip": None if one.skip else "yes"})


# Cues that come and go.


def add(opened: OpenedShow, shot: str, at_s: Fraction, look: str | None = None) -> Edit:
    """Return the edit that adds a cue in the camera frame of a time. Raises Refusal."""
    plan = opened.plan(shot)
    frame = frame_at(at_s, plan.fps_on_set)
    probe = Cue.model_validate({"cue": "new", "at": str(AtTime(Duration.of(0))), "look": "new"})
    return _added(opened, plan, moved_start(plan, probe, frame), look)


def add_at(opened: OpenedShow, shot: str, text: str, look: str | None = None) -> Edit:
    """Return the edit that adds a cue where a person typed. Raises Refusal."""
    return _added(opened, opened.plan(shot), typed_start(text), look)


def _added(opened: OpenedShow, plan: ShotPlan, start: Start, look: str | None) -> Edit:
    cues = plan.shot.cues
    other = start.get("after", start.get("with"))
    names = [one.cue for one in cues]
    if other is not None and other not in names:
        raise Refusal(f"shot {plan.name} has no cue '{other}': {choice_of(other, names)}")
    probe = _read_cue(opened, {"cue": "new", "look": "new", **start})
    start_s = start_of(plan, probe, probe.trigger)
    starts = plan.start_times()
    if start_s is None and start.get("at") != "operator" and "at" in start and plan.shot.move != "live":
        raise Refusal(f"the shot never comes to {start['at']}: {_reach(plan)}")
    before = [one for one in cues if start_s is None or ((own_s := starts[one.cue]) is not None and own_s <= start_s)]
    index = cues.index(before[-1]) + 1 if before else 0
    name = free_name(opened, plan.name, index)
    latest = max(before, key=lambda one: starts[one.cue] or Fraction(-1), default=None)
    wanted = look or (latest.look if latest else next(iter(opened.show.looks), BLACK))
    value: dict[str, Data] = {"cue": name, **start, "look": wanted}
    _read_cue(opened, value)
    changes = [] if opened.show.looks else [SetValue(("looks", BLACK), {"everything": "out"})]
    return Edit(f"add cue {name} {_start_words(start)}", (*changes, _put(opened, plan.name, index, value)))


def _put(opened: OpenedShow, shot: str, index: int, value: Data) -> Change:
    """Return the change that puts a cue at an index, into a list that may not be written yet."""
    path = ("shots", shot, "cues")
    cues = opened.source.node(path)
    if not isinstance(cues, list):
        return SetValue(path, [value])
    return Append(path, value) if index >= len(cues) else Insert((*path, index), value)


def free_name(opened: OpenedShow, shot: str, index: int) -> str:
    """Return a name for a new cue at an index: the next number, or one between its neighbours."""
    names = [cue.cue for cue in opened.show.shots[shot].cues]
    numbers = [_number(name) for name in names]
    before = next((number for number in reversed(numbers[:index]) if number is not None), Fraction(0))
    after = next((number for number in numbers[index:] if number is not None), None)
    highest = max((number for number in numbers if number is not None), default=Fraction(0))
    between = (before + Fraction(step, 10**digits) for digits in (1, 2, 3) for step in (5, *range(1, 10)))
    beyond = (Fraction(number) for number in count(1))
    for number in chain([Fraction(before // 1 + 1)], between, beyond):
        fits = after is None or number < after or number > highest
        if fits and print_number(number) not in names:
            return print_number(number)
    raise AssertionError("numbers go on")


def _number(name: str) -> Fraction | None:
    try:
        return Fraction(name) if "/" not in name else None
    except ValueError:
        return None


def duplicate(opened: OpenedShow, shot: str, cue: str) -> Edit:
    """Return the edit that adds a cue like another, just behind it in the file."""
    path, _ = _path(opened, shot, cue)
    data = opened.source.node(path)
    written: dict[str, Data] = data if isinstance(data, dict) else {}
    index = int(path[-1]) + 1
    name = free_name(opened, shot, index)
    value = {key: name if key == "cue" else part for key, part in written.items()}
    return Edit(f"add cue {name}, like cue {cue}", (_put(opened, shot, index, value),))


def delete(opened: OpenedShow, shot: str, cue: str, *, retie: bool = False) -> Edit:
    """Return the edit that takes a cue out; with `retie`, what started by way of it starts at the same time without it.

    Raises Refusal where others start by way of it, or where they cannot be retied.
    """
    path, _ = _path(opened, shot, cue)
    cues = opened.show.shots[shot].cues
    tied = [one for one in cues if isinstance(one.trigger, AfterCue) and one.trigger.cue == cue]
    if tied and not retie:
        names = ", ".join(one.cue for one in tied)
        raise Refusal(f"cue {names} starts by way of cue {cue}: enter on its 'starts' gives it another start")
    plan = opened.plan(shot)
    starts = plan.start_times()
    changes: list[Change] = []
    for one in tied:
        start_s = starts[one.cue]
        if start_s is None:
            raise Refusal(
                f"cue {one.cue} starts by way of cue {cue}, which waits for the operator: enter on its 'starts' types"
                " another start"
            )
        where, _ = _path(opened, shot, one.cue)
        at = {"at": str(AtTime(Duration(time_in_same_frame(plan, start_s), "s")))}
        changes += _set(where, opened.source.node(where), _start_or_none(at))
    also = f", and let cue {', '.join(one.cue for one in tied)} start by itself" if tied else ""
    return Edit(f"delete cue {cue}{also}", (*changes, Remove(path)))


# Names.


def rename(opened: OpenedShow, shot: str, cue: str, text: str) -> Edit:
    """Return the edit that gives a cue another name, wherever it is named. Raises Refusal."""
    name = text.strip()
    if any(one.cue == name for one in opened.show.shots[shot].cues if one.cue != cue):
        raise Refusal(f"there is a cue {name} in this shot already: choose another name")
    _, one = _path(opened, shot, cue)
    _read_cue(opened, {"cue": name, "look": one.look, **start_keys(one.trigger)})
    return Edit(f"cue {cue} is now cue {name}", tuple(_renamed(opened, shot, {cue: name})))


def renumber(opened: OpenedShow, shot: str) -> Edit:
    """Return the edit that names the cues of a shot 1, 2, 3 in the order in which they start."""
    plan = opened.plan(shot)
    starts = plan.start_times()
    order = sorted(plan.shot.cues, key=lambda one: (starts[one.cue] is None, starts[one.cue] or 0))
    new = {one.cue: str(number) for number, one in enumerate(order, start=1) if one.cue != str(number)}
    if not new:
        raise Refusal("the cues are numbered in order already")
    return Edit(f"renumber the cues of shot {shot}", tuple(_renamed(opened, shot, new)))


def _renamed(opened: OpenedShow, shot: str, new: Mapping[str, str]) -> list[Change]:
    changes: list[Change] = []
    for index, one in enumerate(opened.show.shots[shot].cues):
        path: Path = ("shots", shot, "cues", index)
        if one.cue in new:
            changes.append(SetValue((*path, "cue"), new[one.cue]))
        for key, other in (("after", one.after), ("with", one.with_)):
            if other is not None and other in new:
                changes.append(SetValue((*path, key), new[other]))
    return changes + _renamed_triggers(opened, shot, new)


def _renamed_triggers(opened: OpenedShow, shot: str, new: Mapping[str, str]) -> list[Change]:
    path: Path = ("shots", shot, "trigger")
    node = opened.source.node(path)
    rows = [(path, node)] if isinstance(node, dict) else []
    if isinstance(node, list):
        rows = [((*path, index), one) for index, one in enumerate(node) if isinstance(one, dict)]
    changes: list[Change] = []
    for where, row in rows:
        does = row.get("does")
        name = does.removeprefix("cue ").strip() if isinstance(does, str) and does.startswith("cue ") else None
        if name is not None and name in new:
            changes.append(SetValue((*where, "does"), f"cue {new[name]}"))
    return changes
