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
from cuedeck.cli.arguments import add_outputs, add_shot, add_show, add_speed, parsed
from cuedeck.cli.blackout_words import BlackoutTold
from cuedeck.cli.look_client import LookClient
from cuedeck.cli.opening import open_shot, print_left_out_universes
from cuedeck.cli.printing import say
from cuedeck.errors import Refusal

if TYPE_CHECKING:
    from cuedeck.clock import Clock
    from cuedeck.timeline.plan import ShotPlan
    from cuedeck.timeline.stepping import FrameSteps

LEAST_EVERY_S = 0.1


def add_arguments(parser: argparse.ArgumentParser) -> None:
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
    from cuedeck.clock import MonotonicClock
    from cuedeck.folder.folder import ShowFolder
    from cuedeck.timeline.stepping import WORDS

    every_s = _every(options.every)
    folder = ShowFolder(options.show)
    plan = open_shot(folder, options.shot, options.speed)
    steps = _steps(plan, options.first)
    clock, targets = MonotonicClock(), options.to or ["simulator"]
    told = BlackoutTold(folder.path)
    light = LookClient(folder.path, targets, plan.patch.universes, told, holds_at_end=plan.show.on_stop == "hold")
    print_left_out_universes(targets, plan.patch)
    say(WORDS)
    words = StepWords(told.obeys)
    words.listen()
    try:
        with exits.interruptible(), _contacts(options.contacts, plan, words, clock), light:
            _walk(steps, light, words.wait_for_each(every_s, clock))
        code = exits.DONE
    except KeyboardInterrupt:
        code = exits.STOPPED
    if not steps.is_over:
        say(f"stopped at frame {steps.frame}; --from {steps.frame} goes on from there")
    return code


def _every(text: str | None) -> float | None:
    from cuedeck.show.units import Duration

    if text is None:
        return None
    seconds = float(
        parsed("--every", text, lambda text: Duration.parse(text if text.strip()[-1:].isalpha() else f"{text} s"))
    )
    if seconds < LEAST_EVERY_S:
        raise Refusal(f"--every {text} is too short for a frame to be held: write {LEAST_EVERY_S} s or more")
    return seconds


def _steps(plan: ShotPlan, first: str) -> FrameSteps:
    from cuedeck.timeline.stepping import FrameSteps

    steps = FrameSteps(plan)
    steps.frame = parsed("--from", first, steps.frame_of)
    return steps


def _contacts(port: str | None, plan: ShotPlan, words: StepWords, clock: Clock) -> AbstractContextManager[object]:
    """Return the contacts of a shot, which put their words in from a thread of their own. Raises Refusal."""
    from cuedeck.input.contacts import ContactPort

    if port is None:
        return nullcontext()
    if not plan.shot.trigger:
        raise Refusal(f"shot {plan.name} has no contact to watch: write 'trigger: {{line: CTS, does: start}}' in it")
    return ContactPort(port, plan.shot.trigger, None, ContactSteps(words), clock, say)


class ContactSteps:
    """A walk through the frames of a shot, as the take that a contact acts on."""

    is_started = True
    is_rolling = True

    def __init__(self, words: StepWords) -> None:
        self._words = words

    def start(self) -> None:
        """Go on to the next frame."""
        self._words.put("")

    def hold(self, is_held: bool | None = None) -> None:
        """Do nothing: a frame is held anyway."""

    def fire_next(self) -> None:
        self._words.put("fire")

    def fire(self, cue: str) -> None:
        self._words.put(f"fire {cue}")


class StepWords:
    """The words that come while a frame is held, from the keyboard or a pipe, and from whoever else calls `put`.

    A contact goes on with `put("")` from its own thread. `blackout` and `release` are obeyed at once, before others.
    """

    def __init__(self, obeys: Callable[[str], str] = lambda _: "") -> None:
        self._obeys = obeys
        self._queue: queue.SimpleQueue[str | None] = queue.SimpleQueue()

    def put(self, word: str | None) -> None:
        """Add a word; None is the end of the input."""
        self._queue.put(word)

    def listen(self) -> None:
        """Take words from the standard input, in a thread of its own."""
        threading.Thread(target=self._read, name="keyboard", daemon=True).start()

    def _read(self) -> None:
        for line in iter(sys.stdin.readline, "") if sys.stdin is not None else ():
            if obeyed := self._obeys(line.strip()):
                say(obeyed)
            else:
                self.put(line.strip())
        self.put(None)

    def wait_for_each(self, every_s: float | None, clock: Clock) -> Iterator[str]:
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
            return self._queue.get(timeout=left_s)
        except queue.Empty:
            return ""


def _walk(steps: FrameSteps, light: LookClient, words: Iterator[str]) -> None:
    """Hold frame after frame until the end of the shot or of the words."""
    from cuedeck.show.units import UnitError

    _hold(steps, light)
    for word in words:
        try:
            steps.follow(word)
        except UnitError as error:
            say(f"  {error.what}\n    {error.cure}")
            continue
        if steps.is_over:
            return
        _hold(steps, light)


def _hold(steps: FrameSteps, light: LookClient) -> None:
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
