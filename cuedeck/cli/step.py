"""`cuedeck step`: the light of one camera frame after the other, held until it is time for the next."""

from __future__ import annotations

import argparse
import queue
import sys
import threading
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, nullcontext
from typing import TYPE_CHECKING

from cuedeck.cli import exits
from cuedeck.cli.blackout_words import BlackoutTold
from cuedeck.cli.exits import interruptible
from cuedeck.cli.outputs import add_outputs, tell_of_universes
from cuedeck.cli.shown_light import ShownLight
from cuedeck.cli.shows import add_shot, add_show, add_speed, open_shot
from cuedeck.errors import Refusal

if TYPE_CHECKING:
    from cuedeck.clock import Clock
    from cuedeck.player.stepping import FrameSteps
    from cuedeck.timeline.plan import ShotPlan

LEAST_EVERY_S = 0.1


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of this command."""
    add_show(parser)
    add_shot(parser)
    add_outputs(parser)
    parser.add_argument(
        "--contacts",
        metavar="PORT",
        help="the serial port of the shot's trigger: one that starts goes on, one that fires fires the next cue",
    )
    parser.add_argument("--every", metavar="SECONDS", help="go on by itself after so many seconds")
    parser.add_argument("--from", metavar="FRAME", dest="first", default="0", help="begin at this frame or timecode")
    add_speed(parser)
    parser.epilog = (
        "While a frame is held: Enter goes on, 'back' and 'goto FRAME' (or a timecode) go elsewhere, 'fire' fires"
        " the next operator cue, 'stop' ends, 'blackout' and 'release' do so at once. The words may be piped in, one a"
        " line."
    )


def run(options: argparse.Namespace) -> int:
    """Walk through the shot."""
    from cuedeck.clock import MonotonicClock
    from cuedeck.folder.folder import ShowFolder
    from cuedeck.player.stepping import WORDS

    every_s = _every(options.every)
    folder = ShowFolder(options.show)
    plan = open_shot(folder, options.shot, options.speed)
    steps = _steps(plan, options.first)
    clock, targets = MonotonicClock(), options.to or ["simulator"]
    told = BlackoutTold(folder.path)
    light = ShownLight(folder.path, targets, plan.patch.universes, told, holds_at_end=plan.show.on_stop == "hold")
    tell_of_universes(targets, plan.patch)
    print(WORDS, file=sys.stderr)
    words = TypedWords(told.obeys)
    words.listen()
    try:
        with (
            interruptible(),
            _contacts(options.contacts, plan, words, clock),
            light,
        ):
            _walk(steps, light, words.each(every_s, clock))
            if not steps.is_over:
                print(f"stopped at frame {steps.frame}; --from {steps.frame} goes on from there", file=sys.stderr)
    except KeyboardInterrupt:
        print(f"stopped at frame {steps.frame}; --from {steps.frame} goes on from there", file=sys.stderr)
        return exits.STOPPED
    return exits.DONE


def _every(text: str | None) -> float | None:
    from cuedeck.show.units import Duration, UnitError

    if text is None:
        return None
    try:
        seconds = float(Duration.parse(text if text.strip()[-1:].isalpha() else f"{text} s"))
    except UnitError as error:
        raise Refusal(f"--every {text}: {error.what}: {error.cure}") from error
    if seconds < LEAST_EVERY_S:
        raise Refusal(f"--every {text} is too short for a frame to be held: write {LEAST_EVERY_S} s or more")
    return seconds


def _steps(plan: ShotPlan, first: str) -> FrameSteps:
    from cuedeck.player.stepping import FrameSteps
    from cuedeck.show.units import UnitError

    steps = FrameSteps(plan)
    try:
        steps.frame = steps.frame_of(first)
    except UnitError as error:
        raise Refusal(f"--from {first}: {error.what}: {error.cure}") from error
    return steps


def _contacts(port: str | None, plan: ShotPlan, words: TypedWords, clock: Clock) -> AbstractContextManager[object]:
    """Return the contacts of a shot, which say their words from a thread of their own. Raises Refusal."""
    from cuedeck.input.contacts import ContactPort

    if port is None:
        return nullcontext()
    if not plan.shot.trigger:
        raise Refusal(f"shot {plan.name} has no contact to watch: write 'trigger: {{line: CTS, does: start}}' in it")
    return ContactPort(port, plan.shot.trigger, None, StepsByContact(words), clock, _say)


def _say(what: str) -> None:
    print(what, file=sys.stderr)


class StepsByContact:
    """What a contact may ask of a walk through a shot, in the terms of a take."""

    is_started = True
    is_rolling = True

    def __init__(self, words: TypedWords) -> None:
        self._words = words

    def start(self) -> None:
        """Go on to the next frame."""
        self._words.say("")

    def hold(self, is_held: bool | None = None) -> None:
        """Do nothing: a frame is held anyway."""

    def fire_next(self) -> None:
        """Fire the next operator cue."""
        self._words.say("fire")

    def fire(self, cue: str) -> None:
        """Fire a cue by name."""
        self._words.say(f"fire {cue}")


class TypedWords:
    """What is said while a frame is held: from the keyboard or a pipe, and from whoever else calls `say`.

    A contact, or anything else in another thread, goes on with `say("")`. What is obeyed at once goes before all.
    """

    def __init__(self, obeys: Callable[[str], str] = lambda _: "") -> None:
        self._obeys = obeys
        self._said: queue.SimpleQueue[str | None] = queue.SimpleQueue()

    def say(self, word: str | None) -> None:
        """Say a word; None is the end of the input."""
        self._said.put(word)

    def listen(self) -> None:
        """Take words from the standard input, in a thread of its own."""
        threading.Thread(target=self._read, name="keyboard", daemon=True).start()

    def _read(self) -> None:
        for line in iter(sys.stdin.readline, "") if sys.stdin is not None else ():
            if obeyed := self._obeys(line.strip()):
                _say(obeyed)
            else:
                self.say(line.strip())
        self.say(None)

    def each(self, every_s: float | None, clock: Clock) -> Iterator[str]:
        """Yield each word; an empty one where none came in time. Ends with the input where there is no timer."""
        while True:
            due_ns = None if every_s is None else clock.now_ns() + round(every_s * 1e9)
            word = self._next(due_ns, clock)
            while word is None and due_ns is not None:
                word = self._next(due_ns, clock)
            if word is None or word == "stop":
                return
            yield word

    def _next(self, due_ns: int | None, clock: Clock) -> str | None:
        left_s = None if due_ns is None else max(due_ns - clock.now_ns(), 0) / 1e9
        try:
            return self._said.get(timeout=left_s)
        except queue.Empty:
            return ""


def _walk(steps: FrameSteps, light: ShownLight, words: Iterator[str]) -> None:
    """Hold frame after frame until the last has been left or nothing more is said."""
    from cuedeck.show.units import UnitError

    _hold(steps, light)
    for word in words:
        try:
            steps.follow(word)
        except UnitError as error:
            print(f"  {error.what}\n    {error.cure}", file=sys.stderr)
            continue
        if steps.is_over:
            return
        _hold(steps, light)


def _hold(steps: FrameSteps, light: ShownLight) -> None:
    from cuedeck.report.cue_sheet import moment_at
    from cuedeck.timing.moves import print_position

    light.show(steps.slots())
    if not light.has_output:
        raise Refusal(f"no output is left at frame {steps.frame}: mend the line, and go on with --from {steps.frame}")
    moment = moment_at(steps.plan, steps.time_s, steps.timeline.length_s)
    axes = "  ".join(f"{place.axis} {print_position(place.position, place.unit)}" for place in moment.axes)
    fired = f"  fired {', '.join(one.cue for one in steps.fired)}" if steps.fired else ""
    timecode = f"{moment.timecode}  " if moment.timecode else ""
    where = f"frame {steps.frame} of {steps.last_frame + 1}  {timecode}{float(moment.set_s):.3f} s  {axes}{fired}"
    print(f"{where.rstrip()}{'  BLACKOUT' if light.blackouts[0] else ''}", flush=True)
