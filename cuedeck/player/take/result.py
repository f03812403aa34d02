"""What a take did, in numbers and names."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from cuedeck.output.words import was_lost
from cuedeck.show.problems import counted
from cuedeck.timeline.plan import FiredCue
from cuedeck.timeline.timeline import Timeline

if TYPE_CHECKING:
    from cuedeck.player.channel.events import Ended


def reason_of(take: TakeResult | Ended) -> str:
    """Return why a take is not the whole shot, in words; nothing where all of it went out."""
    reasons = [take.chase_fault] if take.chase_fault else []
    reasons += [was_lost(name) for name in take.lost]
    if take.missed:
        reasons.append(f"{counted(take.missed, 'packet')} missed")
    reasons += [f"{counted(count, 'packet')} missed on {name}" for name, count in take.missed_on.items()]
    if take.blacked_out:
        reasons.append(f"a blackout lay over {counted(take.blacked_out, 'packet')}")
    return ", ".join(reasons)


@dataclass
class TakeResult:
    """What a take did."""

    timeline: Timeline
    was_cut: bool = False
    packets_sent: int = 0
    missed: int = 0
    """Packets whose time had passed before they could be sent."""
    blacked_out: int = 0
    """Packets of the take that a blackout lay over."""
    missed_on: dict[str, int] = field(default_factory=dict)
    """Packets that an output was still too busy for, by its name."""
    late_ns: list[int] = field(default_factory=list)
    """How late each sent packet was; after missed ones, and at an end with missed ones, since the first of them."""
    lost: dict[str, str] = field(default_factory=dict)
    """Outputs that were lost, and why."""
    fired: list[FiredCue] = field(default_factory=list)
    counting_was_cut: bool = False
    handed_over: tuple[str, ...] = ()
    """Outputs that were not put out at the end, because a spare has their lamps."""
    carried: list[int] | None = None
    """Which packet of the shot each sent packet was, where they follow timecode or the shot was held; otherwise
    as they are numbered."""
    chase_fault: str = ""
    """What was missing of the timecode that the take followed; nothing where it ran through the whole shot."""

    @property
    def packets_due(self) -> int:
        """Packets that the shot has; where it follows timecode, those whose time came."""
        return self.timeline.packet_count if self.carried is None else self.packets_sent + self.missed

    @property
    def is_complete(self) -> bool:
        """Whether every packet went out on every output, as the shot has it."""
        return not (self.was_cut or reason_of(self)) and self.packets_sent == self.packets_due
