"""Opening a show: read it, its moves and its cues, and report everything that is wrong with it."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from fractions import Fraction
from functools import cached_property

import numpy as np

from cuedeck.arrays import Values
from cuedeck.rig.check_limits import check_limits
from cuedeck.rig.check_looks import check_looks
from cuedeck.rig.check_rig import check_rig
from cuedeck.rig.looks import ancestry
from cuedeck.rig.patch import Patch, build_patch
from cuedeck.show import SHOW_FILE
from cuedeck.show.load import LoadedShow, load_show
from cuedeck.show.model import LIVE, MoveFile, MoveKeys, Show
from cuedeck.show.problems import MOST_PROBLEMS, Place, Problem, ProblemsFound, Severity, choice_of, why_unread
from cuedeck.show.references import check_floor, places_of_cues, problems_of
from cuedeck.show.source import Path, PathRefused, ReadFile, Source
from cuedeck.show.units import print_number
from cuedeck.timeline.checks import check_moves, check_rates, check_starts
from cuedeck.timeline.groups import groups_of
from cuedeck.timeline.plan import ShotPlan, plan_shot, targets_of
from cuedeck.timeline.timeline import StartedCue, Timeline
from cuedeck.timing.move_table import ColumnMap, read_csv
from cuedeck.timing.moves import Move, move_from_keys

LONGEST_SHOT_S = 24 * 3600
MOST_VALUES = 2_000_000
"""Parameters times looks, or times the cues of a shot: 400 lights of five channels with a thousand looks."""


@dataclass(frozen=True)
class OpenedShow:
    """A show with its moves, and every problem found on the way."""

    show: Show
    source: Source
    moves: Mapping[str, Move]
    """The move of each shot that has one."""
    found: tuple[Problem, ...]
    """Every problem, once for each part of the show that it is in: a move may be that of several shots."""
    patch: Patch = field(repr=False)
    targets: Mapping[str, Values] = field(repr=False)
    """What each look that a cue goes to asks of each parameter of the patch."""

    @cached_property
    def problems(self) -> tuple[Problem, ...]:
        """Every problem once, in the order of places."""
        return _once(self.found)

    @property
    def errors(self) -> tuple[Problem, ...]:
        return tuple(problem for problem in self.problems if problem.is_error)

    @cached_property
    def errors_of_all(self) -> tuple[Problem, ...]:
        """The problems that keep every shot from running."""
        return _once(_errors(self.source, self.found, {"shots": (), "looks": (), "groups": ()}))

    def errors_of(self, shot: str) -> tuple[Problem, ...]:
        """Return the problems that keep a shot from running: its own, and those of the looks that it goes to.

        The rig, the camera and what is included belong to every shot. So does every error where not all that is
        wrong is known.
        """
        looks = set(_looks_of(self.show, shot))
        groups = {name for look in looks for name in self.source.names("looks", look)}
        return _once(_errors(self.source, self.found, {"shots": {shot}, "looks": looks, "groups": groups}))

    @property
    def shots_with_errors(self) -> tuple[str, ...]:
        """The shots that cannot run, those too that cannot be read."""
        return tuple(shot for shot in self.source.names("shots") if self.errors_of(shot))

    def plan(self, shot: str, speed: Fraction = Fraction(1)) -> ShotPlan:
        """Prepare a shot, to run so many times as fast. Raises KeyError where there is none of that name."""
        plan = plan_shot(self.show, shot, self.moves.get(shot), self.patch, self.targets, speed)
        return replace(plan, errors=self.errors_of(shot))


def _once(problems: Iterable[Problem]) -> tuple[Problem, ...]:
    return tuple(sorted(dict.fromkeys(problems)))


def open_show(read_file: ReadFile) -> OpenedShow:
    """Read the show file, the files it includes and its moves through `read_file`, and check all of it.

    Raises ProblemsFound where there is nothing that can be called a show.
    """
    loaded = load_show(read_file(SHOW_FILE), read_file)
    moves, move_problems = _read_moves(loaded, read_file)
    patch = build_patch(loaded.show)
    if too_large := list(_check_size(loaded, patch)):
        stopped = (problem.about(()) for problem in too_large)  # no look of any shot is worked out
        return OpenedShow(loaded.show, loaded.source, moves, (*problems_of(loaded), *stopped), patch, {})
    targets = targets_of(loaded.show, patch)
    problems = [
        *problems_of(loaded),
        *check_floor(loaded),
        *check_rig(loaded),
        *check_looks(loaded, patch),
        *check_limits(loaded, patch),
        *move_problems,
        *check_moves(loaded, moves),
        *check_rates(loaded, patch),
    ]
    broken_moves = set(_broken_moves(loaded, moves))
    if not broken_moves:
        problems += _check_rides(loaded, moves)
    for shot_name in loaded.show.shots:
        plan = plan_shot(loaded.show, shot_name, moves.get(shot_name), patch, targets)
        problems += _check_shot(loaded.source, plan, shot_name in broken_moves)
    return OpenedShow(loaded.show, loaded.source, moves, tuple(problems), patch, targets)


def _check_size(loaded: LoadedShow, patch: Patch) -> Iterator[Problem]:
    """Yield a problem where looks or cues times lights are more than can be worked out in a moment."""
    show = loaded.show
    cure = "split the show into several, or take out what is not used"
    if len(show.looks) * len(patch.parameters) > MOST_VALUES:
        what = f"{len(show.looks):,} looks for {len(patch.fixtures):,} lights are more than one show can hold"
        yield Problem(loaded.source.place_of_key(("looks",)), what, cure)
    for name, shot in show.shots.items():
        if len(shot.cues) * len(patch.parameters) > MOST_VALUES:
            what = f"{len(shot.cues):,} cues for {len(patch.fixtures):,} lights are more than one shot can hold"
            yield Problem(loaded.source.place_of_key(("shots", name)), what, cure)


def _broken_moves(loaded: LoadedShow, moves: Mapping[str, Move]) -> Iterator[str]:
    """Yield the shots whose written move cannot be read or has a misspelt key."""
    for name, shot in loaded.show.shots.items():
        path = ("shots", name, "move")
        is_written = path in loaded.source.keys or loaded.source.is_rejected(*path)
        if loaded.source.is_incomplete(*path) or (name not in moves and shot.move != LIVE and is_written):
            yield name


def _read_moves(loaded: LoadedShow, read_file: ReadFile) -> tuple[dict[str, Move], list[Problem]]:
    moves: dict[str, Move] = {}
    problems: list[Problem] = []
    for name, shot in loaded.show.shots.items():
        path = ("shots", name, "move")
        move = None if shot.move == LIVE else shot.move
        file = move.file if isinstance(move, MoveFile) else move if isinstance(move, str) else None
        place = loaded.source.place_of_value((*path, "file") if isinstance(move, MoveFile) else path)
        try:
            if isinstance(move, MoveKeys):
                moves[name] = move_from_keys(loaded.source, path, move)
            elif file is not None:
                columns = _columns(loaded.source, path, move)
                moves[name] = read_csv(file, read_file(file), loaded.show.camera.fps_on_set, columns)
        except OSError as error:
            why, cure = why_unread(error, "write the path of a file in the show folder, such as moves/slide-in.csv")
            problems.append(Problem(place, f"the move file '{file}' cannot be read: {why}", cure))
        except PathRefused as refused:
            problems.append(Problem(place, refused.what, refused.cure))
        except ProblemsFound as found:
            problems += [problem.about(path) for problem in found.problems]
    return moves, problems


def _columns(source: Source, path: Path, move: object) -> ColumnMap | None:
    if not isinstance(move, MoveFile) or not move.columns:
        return None
    where = (*path, "columns")
    return ColumnMap(
        move.columns,
        lambda name: source.place_of_key((*where, name)),
        lambda name: source.place_of_value((*where, name)),
    )


def _check_shot(source: Source, plan: ShotPlan, has_broken_move: bool) -> Iterator[Problem]:
    paths = places_of_cues(source, plan.name)
    yield from check_starts(source, plan, paths, has_broken_move)
    timeline = plan.timeline()
    length_s = timeline.length_s
    if length_s > LONGEST_SHOT_S:
        yield Problem(
            source.place_of_key(("shots", plan.name)),
            f"shot {plan.name} lasts {print_number(Fraction(round(length_s)))} s, more than a day",
            "shorten its waits and fades",
        )
    if length_s == 0 and plan.operator_cues and not has_broken_move:
        yield Problem(
            source.place_of_key(("shots", plan.name)),
            f"shot {plan.name} has nothing but operator cues: without a keyboard it ends at once",
            "say how long it lasts at least: 'length: 20 s'",
            Severity.WARNING,
        )
    yield from _overtaken(source, plan, timeline, paths)


def _overtaken(source: Source, plan: ShotPlan, timeline: Timeline, paths: Mapping[str, Path]) -> Iterator[Problem]:
    """Yield a warning for each fade that the next cue on the same light cuts short."""
    groups = groups_of(plan.patch)
    latest = np.full(len(plan.patch.parameters), -1)  # for each parameter, which of the cues moved it last
    for number, cue in enumerate(timeline.cues):
        moved = np.flatnonzero(~np.isnan(cue.target)) if cue.target is not None else np.array([], dtype=np.intp)
        for earlier in np.unique(latest[moved]).tolist():
            before = timeline.cues[earlier]
            own = moved[latest[moved] == earlier]
            if earlier < 0 or before.end_s <= cue.start_s:
                continue
            ends_s = groups.ends_s(own, before.start_s, before.fade_s)
            cut = [column for column, end_s in zip(own, ends_s, strict=True) if end_s > cue.start_s]
            if cut:
                place = source.place_of_value((*paths.get(before.name, ("shots", plan.name)), "fade"))
                yield _cut_short(place, before, cue, plan.patch.parameters[cut[0]].fixture)
        latest[moved] = number


def _cut_short(place: Place, before: StartedCue, cue: StartedCue, light: str) -> Problem:
    room_s = cue.start_s - before.start_s
    shorter = f"shorten the fade to {float(room_s):.3g} s or less, or " if room_s else ""
    return Problem(
        place,
        f"cue {before.name} fades for {before.cue.fade}, and cue {cue.name} takes over '{light}' after"
        f" {float(room_s):.3g} s",
        f"{shorter}start cue {cue.name} later",
        Severity.WARNING,
    )


def _check_rides(loaded: LoadedShow, moves: Mapping[str, Move]) -> Iterator[Problem]:
    axes = {name for move in moves.values() for name in move.axes}
    for name, hung in loaded.show.rig.items():
        if hung.rides is not None and hung.rides not in axes:
            yield Problem(
                loaded.source.place_of_value(("rig", name, "rides")),
                f"'{name}' rides '{hung.rides}', and no move has such an axis",
                choice_of(hung.rides, sorted(axes), none="give a shot a move with that axis"),
                Severity.WARNING,
            )


def _errors(source: Source, problems: Collection[Problem], own: Mapping[str, Collection[str]]) -> tuple[Problem, ...]:
    errors = tuple(problem for problem in problems if problem.is_error)
    if source.unread_files or len(problems) >= MOST_PROBLEMS:
        return errors  # what else is wrong was not read, or not told
    own_errors = tuple(problem for problem in errors if _belongs(problem.place.path, own))
    is_affected = any(_belongs(path, own) for path in source.rejected)
    return own_errors if own_errors or not is_affected else errors


def _belongs(path: Path, own: Mapping[str, Collection[str]]) -> bool:
    return len(path) < 2 or path[0] not in own or str(path[1]) in own[str(path[0])]


def _looks_of(show: Show, shot: str) -> Iterator[str]:
    named = {cue.look for cue in show.shots[shot].cues} if shot in show.shots else set()
    for name in named:
        yield name
        for look in ancestry(show, name):
            if look.like is not None:
                yield look.like
