"""What a take hears from the floor: contacts, OSC and a live axis, put together for it."""

from __future__ import annotations

import os
import re
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, ExitStack
from dataclasses import dataclass, field
from types import TracebackType
from typing import TYPE_CHECKING, Self

from cuedeck.errors import Refusal

if TYPE_CHECKING:
    from cuedeck.clock import Clock
    from cuedeck.input.axis import AxisFollower, AxisSerialPort
    from cuedeck.input.osc import OscServer
    from cuedeck.player.channel.requests import Begin
    from cuedeck.player.take.control import TakeControl
    from cuedeck.show.floor import FloorActionKind
    from cuedeck.timeline.plan import ShotPlan


@dataclass
class Floor:
    """The ways in of one take. Used as `with floor:` while the take runs."""

    plan: ShotPlan
    """The plan of the shot, with its axes live where they are followed."""
    tell_client: Callable[[str], None]
    waits_for_start: bool = False
    osc: OscServer | None = None
    line: AxisSerialPort | None = None
    follower: AxisFollower | None = None
    inputs: list[AbstractContextManager[object]] = field(default_factory=list)
    told: list[str] = field(default_factory=list)
    """What went wrong on the way."""
    _opened: ExitStack = field(default_factory=ExitStack)

    def __enter__(self) -> Self:
        """Open every way in. Raises InputUnusable."""
        with ExitStack() as opened:
            for one in self.inputs:
                opened.enter_context(one)
            self._opened = opened.pop_all()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, traceback: TracebackType | None
    ) -> None:
        self._opened.close()

    def tell(self, what: str) -> None:
        """Say at once what went wrong, and keep it for the summary."""
        self.told.append(what)
        self.tell_client(what)

    def lines(self) -> Iterator[tuple[str, str]]:
        """Yield what the summary says about the floor: a label and a text."""
        if self.osc is not None:
            yield "osc", str(self.osc)
        if self.line is not None:
            yield "axis", str(self.line)
        for what in self.follower.lines() if self.follower is not None else ():
            yield "axis", what
        if self.plan.is_axis_live:
            yield "positions", "came from the rig  (packets --axis-from fired)"
        for what in self.told:
            yield "floor", what


def floor_of(asked: Begin, plan: ShotPlan, control: TakeControl, clock: Clock, tell: Callable[[str], None]) -> Floor:
    """Put together what a take listens to. Raises Refusal where it does not fit the shot."""
    from dataclasses import replace

    from cuedeck.show.floor import FloorActionKind

    floor = Floor(replace(plan, is_axis_live=asked.axis_from is not None), tell)
    actions = {one.does.kind for one in plan.shot.trigger} if asked.contacts else set()
    floor.waits_for_start = asked.arm or FloorActionKind.START in actions
    follower = _follower(floor, control, clock) if asked.axis_from else None
    floor.follower = follower
    _refuse_what_cannot_be(asked, floor, actions)
    _add_contacts(floor, asked, control, clock)
    if asked.axis_from not in (None, "osc") and follower is not None:
        floor.line = _axis_line(asked.axis_from, follower, clock, floor)
        floor.inputs.append(floor.line)
    if asked.osc or asked.axis_from == "osc":
        _add_osc(floor, control, follower if asked.axis_from == "osc" else None)
    return floor


def _refuse_what_cannot_be(asked: Begin, floor: Floor, actions: set[FloorActionKind]) -> None:
    from cuedeck.show.model import LIVE
    from cuedeck.timeline.chased import assumed_start

    plan = floor.plan
    if asked.chase and (asked.arm or asked.axis_from or asked.contacts or asked.osc):
        raise Refusal(
            "a take that follows timecode is started and run by it: leave out --arm, --contacts, --osc and --axis-from"
        )
    if asked.contacts and not plan.shot.trigger and plan.shot.signal is None:
        what = f"shot {plan.name} has no contact to watch and no signal to give"
        raise Refusal(f"{what}: write 'trigger: {{line: CTS, does: start}}' in the shot, or leave --contacts out")
    _refuse_shared_ports(asked)
    if asked.arm and not asked.osc and not any(kind == "start" for kind in actions):
        raise Refusal("nothing could start the take: add --osc, or --contacts PORT and a trigger that does: start")
    if plan.shot.move == LIVE and not asked.axis_from and not asked.chase:
        raise Refusal(f"the move of shot {plan.name} is live: add --axis-from osc, or --axis-from serial:PORT")
    if asked.axis_from and not plan.position_cues:
        raise Refusal(f"shot {plan.name} has no cue tied to a position: write one such as 'at: slide 60 mm'")
    if asked.chase and (assumed := assumed_start(plan)):
        floor.tell_client(assumed)
    if plan.shot.trigger and not asked.contacts:
        floor.tell_client(f"the contacts of shot {plan.name} are not armed: name their port with --contacts PORT")


def _refuse_shared_ports(asked: Begin) -> None:
    """Raise Refusal where one serial port, by whichever of its names, is to do two things."""
    lights = {_port_of(one) for one in asked.to if one.startswith(("serial:", "framed:"))}
    contacts = _port_of(f"serial:{asked.contacts}") if asked.contacts else ""
    axis = _port_of(asked.axis_from) if asked.axis_from and asked.axis_from.startswith("serial:") else ""
    if contacts in lights:
        raise Refusal(f"{asked.contacts} cannot carry light and watch contacts: the contacts need a port of their own")
    if axis and axis in {*lights, contacts}:
        raise Refusal(f"{asked.axis_from} is used for light or contacts: the axis needs a port of its own")


def _port_of(text: str) -> str:
    """Return the port in a text such as serial:PORT,slots=24, the same for every name of it."""
    return os.path.normcase(os.path.realpath(text.partition(":")[2].partition(",")[0]))


def _add_contacts(floor: Floor, asked: Begin, control: TakeControl, clock: Clock) -> None:
    from cuedeck.input.contacts import ContactPort

    shot = floor.plan.shot
    if asked.contacts:
        floor.inputs.append(ContactPort(asked.contacts, shot.trigger, shot.signal, control, clock, floor.tell))


def _add_osc(floor: Floor, control: TakeControl, follower: AxisFollower | None) -> None:
    from cuedeck.input.osc import OscServer

    plan = floor.plan
    floor.osc = OscServer(
        plan.show.osc, control, plan.operator_cues, waits_for_start=floor.waits_for_start, follower=follower
    )
    floor.inputs.append(floor.osc)


def _follower(floor: Floor, control: TakeControl, clock: Clock) -> AxisFollower:
    from cuedeck.input.axis import AxisFollower
    from cuedeck.show.model import MoveKeys
    from cuedeck.timing.outliers import greatest_speeds

    plan = floor.plan
    shot, is_recorded = plan.shot, not isinstance(plan.shot.move, MoveKeys)
    greatest = greatest_speeds(shot.cues, plan.move, is_recorded, shot.top_speed)
    return AxisFollower(shot.cues, control, clock, floor.tell, greatest=greatest)


def _axis_line(source: str, follower: AxisFollower, clock: Clock, floor: Floor) -> AxisSerialPort:
    from cuedeck.input.axis import BAUD, AxisSerialPort

    match = re.fullmatch(r"serial:(?P<port>.+?)(?:,baud=(?P<baud>\d{1,7}))?", source, re.ASCII)
    if match is None:
        raise Refusal(f"'{source}' tells no positions: write --axis-from osc, serial:PORT or serial:PORT,baud=115200")
    return AxisSerialPort(match["port"], int(match["baud"] or BAUD), follower, clock, floor.tell)
