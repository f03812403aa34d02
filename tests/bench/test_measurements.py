"""Each measurement of the player runs with real processes and reports its lines. No figure is asserted.

What is checked are facts that no busy machine changes: that what was to be done to the player was done, and that
the far end tells a good packet from a bad one.
"""

from __future__ import annotations

from pathlib import Path
from uuid import UUID

import numpy as np
import pytest

from cuedeck.bench import bare_loop, endurance, fire, fuzz, idle, lateness, player_load, resume, screen
from cuedeck.bench.endurance import CheckedOutput
from cuedeck.bench.receivers import Datagram
from cuedeck.bench.shows import fading_text, plan_of, show_folder
from cuedeck.bench.timings import Percentiles, ratio
from cuedeck.cli.bench import MEASUREMENTS
from cuedeck.cli.main import main
from cuedeck.output.e131 import SacnSource, data_packet

LENGTH_S = 2
SOURCE = SacnSource(UUID(int=1), "measured")


def test_lateness_is_reported_for_the_player_and_for_both_bare_loops() -> None:
    measured = lateness.measure(1, "ordinary")
    assert measured.priority == "ordinary"
    assert set(measured.percentiles) == {
        "player",
        "bare loop, sleeping",
        "bare loop, spinning",
        "player, at the socket",
    }
    assert measured.drawn_kilobytes > 0
    for name in ("bare loop, sleeping", "bare loop, spinning"):
        assert measured.percentiles[name].count + measured.missed[name] == lateness.HERTZ


def test_the_load_of_a_player_is_reported_beside_a_bare_loop() -> None:
    assert "the player takes" in player_load.report(1)


def test_a_fired_cue_is_measured_from_the_timeline_before_and_from_nothing() -> None:
    said = fire.report(lights=6, cues=10)
    assert "6 lights, 10 cues, 4 of them fired" in said
    assert "the same packets" in said


@pytest.mark.skipif(not Path("/proc/self/stat").exists(), reason="it is read from /proc")
def test_what_is_idle_is_reported_beside_what_does_nothing() -> None:
    shares = idle.measure(0.1)
    assert len(shares) == 5
    assert all(share >= 0 for share in shares.values())


def test_the_first_paint_is_reported_beside_that_of_the_smallest_application() -> None:
    paints = screen.first_paints(starts=1)
    assert next(iter(paints)) == "open"
    assert len(paints) == 3


def test_a_killed_player_is_resumed_on_the_network_and_on_the_serial_line() -> None:
    resumed = resume.measure(1)
    assert [len(one) for one in (resumed.noticed, resumed.network, resumed.serial, resumed.bare)] == [1, 1, 1, 1]


def test_a_take_endures_that_an_output_is_pulled_and_its_screen_is_killed() -> None:
    endured = endurance.measure(LENGTH_S, pulls=1, kills=1)
    checked = endured.checked
    assert (endured.pulls, endured.kills) == (1, 1)
    assert (checked.lost, checked.out_of_order, checked.wrong) == (0, 0, 0)
    assert endured.status.startswith("1-A ")


def test_a_player_that_is_told_nonsense_still_answers() -> None:
    done = fuzz.measure(300, 1)
    assert done.lines
    assert done.replies
    assert done.datagrams
    assert "malformed" in done.osc


def test_the_far_end_tells_what_is_lost_out_of_order_skipped_and_wrong() -> None:
    with show_folder(fading_text(LENGTH_S)) as folder:
        timeline = plan_of(folder).timeline()
    checked = CheckedOutput(timeline)
    slots = [timeline.slots([number])[0][0].tobytes() for number in range(timeline.packet_count)]

    def hear(sequence: int, content: bytes) -> tuple[int, int, int, int]:
        checked.check(Datagram(0, data_packet(SOURCE, 1, sequence, content)))
        return checked.lost, checked.out_of_order, checked.skipped, checked.wrong

    assert hear(255, slots[0]) == (0, 0, 0, 0)
    assert hear(0, slots[1]) == (0, 0, 0, 0)
    assert hear(2, slots[3]) == (1, 0, 1, 0)
    assert hear(1, slots[2]) == (1, 1, 1, 0)
    assert hear(3, slots[5]) == (1, 1, 2, 0)
    assert hear(4, bytes(512)) == (1, 1, 2, 1)
    assert hear(5, slots[-1])[3] == 1
    assert hear(6, slots[-1])[3] == 1  # the last look stands


def test_every_packet_of_the_made_show_differs_from_the_one_before_in_every_universe() -> None:
    with show_folder(fading_text(600, universes=2, lights=1)) as folder:
        plan = plan_of(folder)
    timeline = plan.timeline()
    assert plan.refresh_hz == lateness.HERTZ
    slots = np.concatenate([block for _, block in timeline.blocks()])
    assert (slots[1:] != slots[:-1]).any(axis=2).all()


def test_a_share_of_times_is_one_of_them() -> None:
    assert Percentiles.of(range(1, 101)) == Percentiles(100, 51, 100, 100, 100)
    assert Percentiles.of(()) == Percentiles(0, 0, 0, 0, 0)
    assert ratio(3, 2) == "1.50 times"
    assert ratio(3, 0) == "no ratio"


def test_a_bare_loop_is_late_or_on_time_at_every_deadline_and_never_early() -> None:
    for way in ("sleep", "spin"):
        loop = bare_loop.start(way, 100, 0.1)
        loop.go(0)
        late = loop.result()
        assert len(late) == 10
        assert min(late) >= 0


def test_help_lists_every_measurement_and_how_long_it_takes(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit):
        main(["bench", "--help"])
    said = capsys.readouterr().out
    for name, one in MEASUREMENTS.items():
        assert f"  {name} " in said
        assert f"{one.what}; {one.takes}" in said


@pytest.mark.parametrize("seconds", ["0", "-1", "901", "nan", "soon"])
def test_a_time_that_cannot_be_measured_is_refused(seconds: str, capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit):
        main(["bench", "--seconds", seconds])
    assert f"'{seconds}' is no time: write seconds, at most 900" in capsys.readouterr().err


def test_a_name_of_no_measurement_is_refused_with_those_there_are(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["bench", "speed"]) != 0
    assert "'speed' is nothing to measure: write start, load" in capsys.readouterr().err


def test_the_screen_is_measured_from_start_to_paint_and_from_key_to_packet() -> None:
    measured = screen.measure(3, 4, run_s=0.2, nudges=2)
    assert measured.name == "3 lights, 4 cues"
    assert measured.key_packets >= 1
