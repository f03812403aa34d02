"""A show that is far larger than any studio is refused in a moment, rather than worked on for minutes."""

from __future__ import annotations

from cuedeck.show.problems import MOST_PROBLEMS
from cuedeck.show.spelling import nearest
from tests.timeline.shows import opened


def whats(text: str) -> list[str]:
    return [problem.what for problem in opened(text).problems]


def test_more_lights_than_a_show_can_hold_are_one_problem() -> None:
    rig = "".join(f"  l{n}: {{type: dimmer, address: {1 + n // 512}.{1 + n % 512}}}\n" for n in range(2001))
    assert whats(f"cuedeck: 2\nrig:\n{rig}") == ["'rig' has too many entries"]


def test_looks_times_lights_have_a_limit() -> None:
    rig = "".join(f"  l{n}: {{type: rgbww, address: {1 + n // 100}.{1 + 5 * (n % 100)}}}\n" for n in range(1500))
    looks = "".join(f"  k{n}: {{everything: full}}\n" for n in range(300))
    assert whats(f"cuedeck: 2\nrig:\n{rig}looks:\n{looks}") == [
        "300 looks for 1,500 lights are more than one show can hold"
    ]


def test_a_look_may_be_like_another_only_so_far() -> None:
    looks = "".join(f"  k{n}: {{like: k{n - 1}}}\n" for n in range(1, 60))
    found = whats(f"cuedeck: 2\nlooks:\n  k0: {{everything: full}}\n{looks}")
    assert found == [f"look 'k{n}' is like another by way of more than 50 looks" for n in range(50, 60)]


def test_a_mistake_made_thousands_of_times_is_told_a_few_hundred_times() -> None:
    rig = "".join(f"  light {n}: {{type: dimmer, address: 1.{1 + n % 512}}}\n" for n in range(1500))
    look = "".join(f"    lihgt {n}: full\n" for n in range(1500))
    found = opened(f"cuedeck: 2\nrig:\n{rig}looks:\n  a:\n{look}").problems
    assert MOST_PROBLEMS <= len(found) <= 3 * MOST_PROBLEMS


def test_the_nearest_of_thousands_of_names_is_found_by_how_it_begins_or_ends() -> None:
    known = [f"light {n:05}" for n in range(5000)]
    assert nearest("ligth 04321", known) == "light 04321"
    assert nearest("Light 00007", known) == "light 00007"
    assert nearest("something else", known) is None
