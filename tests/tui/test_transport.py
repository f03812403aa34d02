"""The playhead, with every time written out."""

from __future__ import annotations

from fractions import Fraction

from hypothesis import given
from hypothesis import strategies as st

from cuedeck.tui.transport import NS_PER_S, Playhead

FILM = Fraction(24000, 1001)
STANDING = Playhead(fps=Fraction(25), length_s=Fraction(4))


def test_it_follows_the_clock_from_where_it_was_started() -> None:
    """A run that starts at 1 s is at 1.5 s half a second later, whatever the clock's origin."""
    running = STANDING.to(Fraction(1)).run(7 * NS_PER_S)
    assert running.tick(7 * NS_PER_S + NS_PER_S // 2).at_s == Fraction(3, 2)


def test_it_stands_at_the_end_of_the_shot() -> None:
    """The clock goes on, the playhead does not."""
    ended = STANDING.run(0).tick(9 * NS_PER_S)
    assert ended.at_s == 4
    assert not ended.is_running
    assert ended.is_at_end


def test_a_run_from_the_end_starts_at_the_beginning() -> None:
    """Nothing is left to run, so the shot is run again."""
    assert STANDING.to(Fraction(4)).run(0).at_s == 0


def test_with_an_open_end_it_runs_on() -> None:
    """A shot that waits for its operator has no end yet."""
    waiting = STANDING.with_length(Fraction(0), has_open_end=True)
    assert waiting.run(0).tick(60 * NS_PER_S).at_s == 60


def test_steps_go_from_frame_to_frame_and_stay_in_the_shot() -> None:
    """Frame f is at f / fps exactly, also where fps is no whole number."""
    film = Playhead(fps=FILM, length_s=Fraction(1))
    assert film.step(1).at_s == 1 / FILM
    assert film.step(-1).at_s == 0
    assert film.step(100).at_s == 1


def test_a_step_ends_a_run() -> None:
    """Whoever scrubs has stopped the shot."""
    assert not STANDING.run(0).tick(NS_PER_S).step(1).is_running


def test_its_packet_is_the_first_at_or_after_it() -> None:
    """At 44 Hz frame 1 of 25 lies after packet 1 (22.7 ms) and before packet 2 (45.5 ms)."""
    assert STANDING.packet(Fraction(44)) == 0
    assert STANDING.step(1).packet(Fraction(44)) == 2
    assert STANDING.to(Fraction(1)).packet(Fraction(44)) == 44


@given(st.integers(0, 10**6), st.sampled_from([Fraction(25), FILM, Fraction(50)]))
def test_a_frame_stepped_to_is_the_frame_it_stands_in(frame: int, fps: Fraction) -> None:
    """No rounding loses a frame, however long the shot."""
    assert Playhead(fps=fps, length_s=Fraction(10**6)).step(frame).frame == frame
