"""What leaves when: ANSI E1.31-2018, clauses 6.2.6, 6.6.2 and 6.7.2 [source seen]."""

from __future__ import annotations

from collections.abc import Iterable
from uuid import UUID

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from cuedeck.output.base import Line
from cuedeck.output.e131 import SacnSource
from cuedeck.output.sacn_streams import Streams
from tests.output.sacn_receiver import Receiver

SOURCE = SacnSource(UUID(int=7), "harrow")
MS = 1_000_000


def streams(line: Line, sequences: dict[int, int] | None = None, synchronisation: int = 0) -> Streams:
    """Return streams that have been heard before, unless sequences are given."""
    known = dict.fromkeys(line.universes, 255) if sequences is None else sequences
    return Streams(SOURCE, line, synchronisation, known)


def levels(*values: int) -> np.ndarray:
    """Return slots that are all alike within each universe."""
    return np.repeat(np.array(values, np.uint8)[:, None], 512, axis=1)


def sent_at(line: Line, values: Iterable[int]) -> list[int]:
    """Return when a universe leaves in milliseconds, where its packets have these values."""
    one = streams(line)
    period_ns = round(1e9 / line.refresh_hz)
    times = [number * period_ns for number, value in enumerate(values) if one.load(levels(value), number * period_ns)]
    return [time_ns // MS for time_ns in times]


def test_what_changes_leaves_with_every_packet() -> None:
    assert sent_at(Line((1,), 512, 50.0), [1, 2] * 50) == list(range(0, 2000, 20))


def test_what_stands_still_is_sent_three_times_more_and_then_kept_alive() -> None:
    assert sent_at(Line((1,), 512, 50.0), [9] * 150) == [0, 20, 40, 60, 960, 1860, 2760]


def test_a_change_after_standing_still_leaves_at_once() -> None:
    assert sent_at(Line((1,), 512, 50.0), [9] * 10 + [8] * 10) == [0, 20, 40, 60, 200, 220, 240, 260]


@given(st.integers(5, 830), st.lists(st.sampled_from([7, 7, 7, 7, 7, 8]), min_size=1, max_size=60))
def test_no_universe_is_silent_for_a_second_nor_kept_alive_before_800_ms(refresh_hz: int, values: list[int]) -> None:
    line = Line((1,), 24, float(refresh_hz))
    one, period_ns = streams(line), round(1e9 / refresh_hz)
    standing = [value for value in values for _ in range(refresh_hz // 4)]
    last_ns, same = 0, 0
    for number, value in enumerate(standing):
        same = same + 1 if number and value == standing[number - 1] else 0
        if one.load(levels(value), number * period_ns):
            assert same <= 3 or number * period_ns - last_ns >= 800 * MS
            last_ns = number * period_ns
        else:
            assert same > 3, "three packets of the unchanged values come before suppression"
        assert number * period_ns - last_ns < 1000 * MS


def test_universes_leave_each_by_itself_and_are_numbered_each_by_itself() -> None:
    one = streams(Line((3, 7), 512, 50.0))
    for number in range(5):
        one.load(levels(1, number), number * 20 * MS)
    assert one.load(levels(1, 99), 100 * MS) == [1]
    assert [row[111] for row in one.rows] == [3, 5]
    assert [row[113] * 256 + row[114] for row in one.rows] == [3, 7]


def test_a_sequence_runs_from_0_to_255_and_round_again_and_counts_keep_alives() -> None:
    one = streams(Line((1,), 24, 50.0))
    numbers = []
    for number in range(300):
        one.load(levels(number % 256), number * 20 * MS)
        numbers.append(one.rows[0][111])
    assert numbers == [number % 256 for number in range(300)]
    standing = [one.load(levels(1), (300 + number) * 20 * MS) for number in range(100)]
    assert one.rows[0][111] == (299 + sum(map(len, standing))) % 256


def test_a_sequence_goes_on_over_a_change_of_line() -> None:
    sequences: dict[int, int] = {}
    before = streams(Line((1, 2), 512, 50.0), sequences)
    for number in range(10):
        before.load(levels(number, number), number * 20 * MS)
    before.leave()
    after = streams(Line((2, 3), 24, 50.0), sequences)
    after.load(levels(1, 1), 0)
    assert [row[111] for row in after.rows] == [10, 0]


@pytest.mark.parametrize("last", range(256))
def test_a_source_that_was_killed_and_counts_anew_is_heard_though_nothing_changes(last: int) -> None:
    """ANSI E1.31-2018, clause 6.7.2, sequence [source seen]: the receiver is written from the standard alone."""
    receiver = Receiver()
    before = streams(Line((1,), 24, 50.0), {1: (last - 1) % 256})
    before.load(levels(7), 0)
    receiver.hear(bytes(before.rows[0]), 0.0)
    after = streams(Line((1,), 24, 50.0), {})
    for number in range(40):
        if after.load(levels(9), number * 20 * MS):
            receiver.hear(bytes(after.rows[0]), 0.1 + number * 0.02)
    assert receiver.looks[1][0] == 9
    assert after.rows[0][111] == 23, "24 packets, and then it is only kept alive"


def test_a_clock_that_went_back_silences_nothing() -> None:
    one = streams(Line((1,), 512, 50.0))
    for number in range(10):
        one.load(levels(1), 10**12 + number * 20 * MS)
    assert one.load(levels(1), 0) == [0]


def test_what_was_dropped_goes_with_the_next_packet() -> None:
    one = streams(Line((1,), 512, 50.0))
    assert [bool(one.load(levels(1), number * 20 * MS)) for number in range(5)] == [True] * 4 + [False]
    one.load(levels(2), 100 * MS)
    one.dropped(0)
    assert [bool(one.load(levels(2), number * 20 * MS)) for number in range(6, 11)] == [True] * 4 + [False]


@pytest.mark.parametrize(
    ("is_rehearsal", "synchronisation", "options"),
    [(False, 0, 0x00), (True, 0, 0x80), (False, 5, 0x20), (True, 5, 0xA0)],
)
def test_the_options_say_rehearsal_and_that_lost_synchronisation_holds_nothing(
    is_rehearsal: bool, synchronisation: int, options: int
) -> None:
    one = streams(Line((1,), 512, 50.0, is_rehearsal=is_rehearsal), synchronisation=synchronisation)
    one.load(levels(1), 0)
    assert one.rows[0][112] == options
    assert one.rows[0][109:111].tobytes() == bytes([0, synchronisation])
    assert [packet[112] for _, packet in one.ending({1})] == [options | 0x40] * 3


def test_a_stream_ends_with_three_packets_that_go_on_counting() -> None:
    one = streams(Line((1, 2), 512, 50.0))
    one.load(levels(1, 1), 0)
    ends = [(row, packet[111]) for row, packet in one.ending({2})]
    assert ends == [(1, 1), (1, 2), (1, 3)]
    assert one.rows[0][112] == 0


def test_a_stream_that_never_began_is_not_ended() -> None:
    assert not list(streams(Line((1,), 512, 50.0)).ending({1}))
