"""`cuedeck packets`: a shot rendered without a clock, as a file of packets."""

from __future__ import annotations

import argparse
import re
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from cuedeck.cli import exits
from cuedeck.cli.arguments import add_shot, add_show, add_speed
from cuedeck.cli.opening import open_shot
from cuedeck.errors import Refusal
from cuedeck.show.spelling import as_one

if TYPE_CHECKING:
    from cuedeck.timeline.plan import FiredCue, ShotPlan
    from cuedeck.timeline.timeline import Timeline


def add_arguments(parser: argparse.ArgumentParser) -> None:
    add_show(parser)
    add_shot(parser)
    add_speed(parser)
    parser.add_argument("--out", metavar="FILE", required=True, type=Path, help="FILE.npz or FILE.csv")
    parser.add_argument(
        "--fire",
        metavar="CUE@PACKET",
        action="append",
        default=[],
        type=as_one,
        help="render as if the operator or the rig had fired this cue at this packet; may be repeated",
    )
    parser.add_argument(
        "--axis-from",
        metavar="SOURCE",
        choices=["move", "fired"],
        default="move",
        help="what starts the cues tied to positions: the move on file (default), or --fire, as in a live take",
    )
    parser.add_argument(
        "--chase", metavar="SOURCE", help="follow the timecode of a recording from its start, such as ltc:FILE.wav"
    )


def run(options: argparse.Namespace) -> int:
    """Render the shot and write its packets."""
    from dataclasses import replace

    import numpy as np

    from cuedeck.folder.folder import ShowFolder
    from cuedeck.show.problems import counted
    from cuedeck.takes.arrays import write_packets

    plan = open_shot(ShowFolder(options.show), options.shot, options.speed)
    plan = replace(plan, is_axis_live=options.axis_from == "fired")
    fired = [_fired(text, plan) for text in options.fire]
    if len({one.cue for one in fired}) < len(fired):
        raise Refusal("a cue can be fired once only: write each --fire CUE@PACKET for another cue")
    timeline = plan.timeline(fired)
    if options.chase:
        return _write_chased(options.out, options.chase, plan, timeline)
    times_s = timeline.times_s(np.arange(timeline.packet_count))
    universes = timeline.patch.universes
    write_packets(options.out, times_s, universes, lambda: (slots for _, slots in timeline.blocks()))
    sizes = f"{counted(timeline.packet_count, 'packet')}, {counted(len(universes), 'universe')}"
    print(f"{options.out}: {sizes}, {float(plan.refresh_hz):g} Hz")
    return exits.DONE


def _write_chased(out: Path, source: str, plan: ShotPlan, timeline: Timeline) -> int:
    """Write what the shot sends while it follows recorded timecode."""
    import numpy as np

    from cuedeck.input.timecode_sources import recorded_timecode
    from cuedeck.takes.arrays import write_packets
    from cuedeck.timeline.chased import (
        assumed_start,
        blocks_of,
        chased_packets,
        chaser_of,
        pace_of,
        require_counted_alike,
    )

    recorded, chaser = recorded_timecode(source), chaser_of(plan)
    carried = np.array(
        chased_packets(recorded.readings, recorded.length_s, chaser, timeline, pace_of(plan)), dtype=np.int64
    )
    require_counted_alike(chaser, plan)
    if assumed := assumed_start(plan):
        print(assumed, file=sys.stderr)
    times_s = timeline.times_s(np.arange(len(carried)))
    write_packets(out, times_s, timeline.patch.universes, lambda: blocks_of(timeline, carried), carried)
    print(f"{out}: {len(carried)} packets after {source}, {float(plan.refresh_hz):g} Hz")
    return exits.DONE


def _fired(text: str, plan: ShotPlan) -> FiredCue:
    from cuedeck.show.problems import choice_of
    from cuedeck.timeline.opening import LONGEST_SHOT_S
    from cuedeck.timeline.plan import FiredCue

    match = re.fullmatch(r"(.+)@(\d{1,9})", text)
    if match is None:
        raise Refusal(f"'{text}' is no fired cue: write CUE@PACKET, such as 4@120, packets counting from 0")
    fireable = (*plan.operator_cues, *plan.position_cues)
    if match[1] not in fireable:
        cure = choice_of(match[1], fireable, none="the shot has none")
        raise Refusal(f"'{match[1]}' is no operator cue of shot {plan.name}: {cure}")
    most = int(LONGEST_SHOT_S * plan.refresh_hz)
    if int(match[2]) > most:
        raise Refusal(f"packet {match[2]} is more than a day into the shot: write a packet from 0 to {most}")
    return FiredCue(match[1], int(match[2]))
