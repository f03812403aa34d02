"""Debounced contacts: which changes count, when they are known, and what happens at arming."""

from __future__ import annotations

from collections.abc import Iterable
from itertools import groupby, pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cuedeck.timing.contacts import NEXT, SETTLED, Contact, ContactState, Edge

MS = 1_000_000


def edges(samples: Iterable[tuple[int, bool]], debounce_ms: int = 20) -> list[tuple[int, Edge]]:
    """Return the edges of samples (milliseconds, closed), each with the time it was known at."""
    contact, found = Contact(debounce_ms * MS), []
    for time_ms, is_closed in samples:
        contact, edge = contact.sampled(time_ms * MS, is_closed)
        if edge is not None:
            found.append((time_ms, edge))
    return found


def every_ms(text: str) -> list[tuple[int, bool]]:
    """Return samples a millisecond apart from a text such as "..##" (open, open, closed, closed)."""
    return [(time_ms, sign == "#") for time_ms, sign in enumerate(text)]


def test_a_contact_that_closes_and_stays_is_closed_after_the_debounce_time() -> None:
    assert edges(every_ms("." * 30 + "#" * 30)) == [(50, Edge.CLOSING)]


def test_a_contact_that_opens_again_has_two_edges() -> None:
    assert edges(every_ms("." * 30 + "#" * 30 + "." * 30)) == [(50, Edge.CLOSING), (80, Edge.OPENING)]


def test_bouncing_counts_from_its_last_bounce_and_is_one_edge() -> None:
    assert edges(every_ms("." * 30 + "#.##..#.#" + "#" * 40)) == [(58, Edge.CLOSING)]


def test_a_pulse_shorter_than_the_debounce_time_never_happened() -> None:
    assert edges(every_ms("." * 30 + "#" * 20 + "." * 30)) == []


def test_a_contact_that_is_closed_at_arming_fires_nothing_until_it_has_opened() -> None:
    assert edges(every_ms("#" * 100)) == []
    assert edges(every_ms("#" * 100 + "." * 30 + "#" * 30)) == [(120, Edge.OPENING), (150, Edge.CLOSING)]


def test_a_contact_that_looks_open_for_an_instant_at_arming_is_still_closed() -> None:
    assert edges(every_ms(".#" + "#" * 100)) == []


def test_without_a_debounce_time_every_change_is_an_edge() -> None:
    assert edges(every_ms("..#.#"), 0) == [(2, Edge.CLOSING), (3, Edge.OPENING), (4, Edge.CLOSING)]


def test_a_port_that_answers_seldom_still_tells_a_change_once_it_has_stood() -> None:
    assert edges([(0, False), (35, False), (70, True), (105, True)]) == [(105, Edge.CLOSING)]


def test_every_state_has_an_answer_to_both_samples() -> None:
    assert set(NEXT) == {(state, is_closed) for state in ContactState for is_closed in (False, True)}
    assert set(SETTLED) == set(ContactState) - {ContactState.UNKNOWN, ContactState.OPEN, ContactState.CLOSED}


samples = st.lists(st.tuples(st.integers(1, 30), st.booleans()), max_size=60)


@given(samples, st.integers(0, 40))
def test_edges_are_those_of_the_runs_that_are_long_enough(steps: list[tuple[int, bool]], debounce_ms: int) -> None:
    """The other way to say it: leave out the runs that are too short, and look where the rest changes."""
    time_ms, timed = 0, []
    for step_ms, is_closed in steps:
        time_ms += step_ms
        timed.append((time_ms, is_closed))
    long_runs: list[tuple[int, bool]] = []
    for is_closed, run in groupby(timed, key=lambda sample: sample[1]):
        times = [at_ms for at_ms, _ in run]
        known = [at_ms for at_ms in times if at_ms - times[0] >= debounce_ms]
        if known:
            long_runs.append((known[0], is_closed))
    expected = [
        (at_ms, Edge.CLOSING if after else Edge.OPENING)
        for (_, before), (at_ms, after) in pairwise(long_runs)
        if before != after
    ]
    assert edges(timed, debounce_ms) == expected


@given(samples, st.integers(0, 40))
def test_edges_alternate(steps: list[tuple[int, bool]], debounce_ms: int) -> None:
    found = [edge for _, edge in edges([(30 * at, closed) for at, (_, closed) in enumerate(steps)], debounce_ms)]
    assert all(before is not after for before, after in pairwise(found))


@pytest.mark.parametrize("is_closed", [False, True])
def test_what_began_when_is_kept(is_closed: bool) -> None:
    contact, _ = Contact().sampled(7, is_closed)
    contact, _ = contact.sampled(9, is_closed)
    assert contact.since_ns == 7
