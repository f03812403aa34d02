"""Where a player's packets go: outputs that are opened, kept from take to take, and let go of.

`ready`, `forget` and `let_go_of_unused` may wait, for each other too, and are called where nothing is kept waiting;
`take_up` is called in the thread that sends, between two packets. Owned here: an output that was made ready is not
let go of before it is taken up, or forgotten.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from cuedeck.arrays import Slots
from cuedeck.clock import Clock
from cuedeck.output.base import Line, Output, OutputLost, Renewable
from cuedeck.output.outlet import Outlet
from cuedeck.output.targets import outputs_for
from cuedeck.player.line.last_look import LastLook, Route
from cuedeck.player.line.line_out import LineOut
from cuedeck.player.priority import starting_senders

if TYPE_CHECKING:
    from cuedeck.rig.patch import Patch


class Routes:
    """The outputs of one player."""

    def __init__(self, line_out: LineOut, clock: Clock, last_look: Path, tell: Callable[[str], None]) -> None:
        self._line_out = line_out
        self._clock = clock
        self._path = last_look
        self._tell = tell
        self._open: list[Outlet] = []
        self._opening = threading.Lock()
        """Held while outputs are opened or closed."""
        self._promised: Route | None = None
        """Made ready last, and not taken up yet."""
        self._last_look: LastLook | None = None
        self.current: Route | None = None
        """Where packets go now."""

    def ready(self, targets: Sequence[str], patch: Patch | None, line: Line, dark: Slots) -> Route:
        """Open what is not open yet. Raises Refusal, and OutputLost where an output does not open."""
        stays_lit = patch is not None and any(light.stays_lit for light in patch.lights)
        return self._opened(Route(tuple(dict.fromkeys(targets)), line, dark, stays_lit), patch, must=True)

    def ready_again(self, before: Route, line: Line) -> Route:
        """Open the outputs of a way that was; one that does not open is tried again until it does. Raises Refusal."""
        return self._opened(replace(before, line=line), None, must=False)

    def _opened(self, route: Route, patch: Patch | None, *, must: bool) -> Route:
        outputs = outputs_for(route.targets, patch, self._clock)
        with self._opening:
            outlets = self._outlets(outputs, route.line, must=must)
            self._promised = replace(route, outlets=outlets, asked=tuple(outputs))
            return self._promised

    def _outlets(self, outputs: Sequence[Output], line: Line, *, must: bool) -> tuple[Outlet, ...]:
        """Return an outlet for each output, the one that is open already where there is one."""
        kept = {outlet.name: outlet for outlet in self._open}
        self._free_ports(outputs)  # before the new ones are opened, and so with a gap on that port alone
        outlets: list[Outlet] = []
        new: list[Outlet] = []
        try:
            for output in outputs:
                outlet = kept.get(output.name)
                if outlet is None:
                    outlet = Outlet(output, self._clock, self._tell)
                    new.append(outlet)
                    with starting_senders():
                        outlet.open(line, must=must)
                outlets.append(outlet)
        except BaseException:  # all or none: what was open before stays, what was opened here does not
            for outlet in new:
                outlet.close()
            raise
        self._open += new
        return tuple(outlets)

    def take_up(self, route: Route) -> None:
        """Send there from the next packet on."""
        before = self.current
        for outlet, asked in zip(route.outlets, route.asked, strict=True):
            is_renewed = isinstance(outlet.output, Renewable) and outlet.output.renew(asked)
            if is_renewed or outlet.line != route.line:
                with suppress(OutputLost):  # it is told, and tried again
                    # A line of its own, so that it changes over.
                    outlet.open(replace(route.line), must=False, waits=False)
        if before is None or _leads_elsewhere(before, route):
            self._line_out.change(route.outlets, route.dark, self._kept_in_file(route))
        self.current = route
        if self._promised is route:  # in this order: whoever looks finds it in one place or the other
            self._promised = None

    def forget(self) -> bool:
        """Take what was made ready last for not wanted; return whether the current way lacks an output through it."""
        with self._opening:
            self._promised = None
            # `_free_ports` may have closed one that is still sent to, to make room for what is not wanted now.
            current = self.current
            return current is not None and not set(current.outlets) <= set(self._open)

    def leave_to_spare(self) -> tuple[str, ...]:
        """Send no more, from the next packet on, where a spare lights the lamps; return the names of these outputs.

        In the thread that sends. They are unused then, and their streams end with what was on the line.
        """
        route = self.current
        left = [] if route is None else [outlet for outlet in route.outlets if outlet.has_spare]
        if route is None or not left:
            return ()
        kept = [number for number, outlet in enumerate(route.outlets) if outlet not in left]
        self.current = replace(
            route,
            targets=tuple(route.targets[number] for number in kept),
            outlets=tuple(route.outlets[number] for number in kept),
            asked=tuple(route.asked[number] for number in kept),
            stays_lit=route.stays_lit and bool(kept),
        )
        self._line_out.change(self.current.outlets, route.dark, self._kept_in_file(self.current) if kept else None)
        if not kept:
            self._forget_look()
        return tuple(outlet.name for outlet in left)

    def let_go(self) -> None:
        """Send nowhere from the next packet on, and forget the last look; in the thread that sends."""
        self._line_out.let_go()
        self.current = None
        self._forget_look()

    def _forget_look(self) -> None:
        if self._last_look is not None:
            self._last_look.close()
            self._last_look = None
        with suppress(OSError):
            self._path.unlink()

    def let_go_of_unused(self) -> None:
        """Close the outputs that packets go to no more, and are not about to; waits for each."""
        with self._opening:
            routes = [route for route in (self._promised, self.current) if route is not None]
            used = {outlet for route in routes for outlet in route.outlets}
            for outlet in [one for one in self._open if one not in used]:
                self._open.remove(outlet)
                outlet.close()

    def sync(self) -> None:
        """Bring the last look to the disk; waits for that."""
        if self._last_look is not None:
            self._last_look.sync()

    def close(self, *, keeps_look: bool = False) -> None:
        """Close every output, and forget the last look unless the next player is to find it; safe to call twice."""
        self.current = self._promised = None
        self.let_go_of_unused()
        if not keeps_look:
            self._forget_look()

    def _kept_in_file(self, route: Route) -> LastLook | None:
        before, self._last_look = self._last_look, None
        if before is not None:
            before.close()
        look = self._line_out.look
        # What was sent may be of another rig; nothing has left on this route yet, so its dark is what is known of it.
        slots = look if look is not None and look.shape == route.dark.shape else route.dark
        try:
            self._last_look = LastLook(self._path, route, slots)
        except OSError as error:
            self._tell(f"{self._path} cannot be written, so a player that crashes cannot resume its light: {error}")
        return self._last_look

    def _free_ports(self, outputs: Sequence[Output]) -> None:
        """Close outputs on ports that are asked for in another way: a port can be opened once only."""
        names, ports = {output.name for output in outputs}, {output.port for output in outputs} - {None}
        for outlet in [one for one in self._open if one.name not in names]:
            if outlet.output.port in ports:
                self._open.remove(outlet)
                outlet.close()


def _leads_elsewhere(before: Route, route: Route) -> bool:
    one, other = ((each.targets, each.line, each.outlets) for each in (before, route))
    return one != other or not np.array_equal(before.dark, route.dark)
