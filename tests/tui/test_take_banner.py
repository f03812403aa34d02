"""What the banner says of a take, and how it looks on screens of two sizes."""

from __future__ import annotations

from typing import Any

import pytest
from rich.cells import cell_len
from textual.app import App, ComposeResult

from cuedeck.player.channel.events import Ended, Snapshot
from cuedeck.tui.big_letters import big_text
from cuedeck.tui.look import DARK
from cuedeck.tui.take_banner import OUTLINED, PATTERNS, Banner, TakeBanner, banner_lines, banner_of

SMALL, LARGE = (80, 24), (120, 40)


def snapshot(state: str, **more: Any) -> Snapshot:
    return Snapshot(state=state, shot="1", slate="1-C", time_s=2.14, **more)


def ended(**more: Any) -> Ended:
    return Ended(take=3, slate="1-C", **more)


# Large letters.


def test_letters_are_five_rows_high_where_there_is_room_and_three_where_that_is_asked_for() -> None:
    assert big_text("HI", 40, rows=5) == [
        "██    ██  ██████",
        "██    ██    ██  ",
        "████████    ██  ",
        "██    ██    ██  ",
        "██    ██  ██████",
    ]
    assert big_text("hi", 8, rows=5) == ["█  █ ███", "█  █  █ ", "████  █ ", "█  █  █ ", "█  █ ███"]
    assert big_text("HI", 40, rows=3) == ["█  █ ▀█▀", "█▀▀█  █ ", "▀  ▀ ▀▀▀"]


@pytest.mark.parametrize("rows", [3, 5])
def test_every_letter_of_a_slate_is_drawn_in_rows_of_equal_width_and_none_looks_like_another(rows: int) -> None:
    letters = "ABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789-.:"
    drawn = {letter: tuple(big_text(letter, 40, rows=rows)) for letter in letters}
    assert {len(lines) for lines in drawn.values()} == {rows}
    assert all(len({cell_len(line) for line in lines}) == 1 for lines in drawn.values())
    assert len(set(drawn.values())) == len(letters)


def test_a_text_without_room_or_with_a_letter_that_we_have_not_drawn_is_written_plainly() -> None:
    assert big_text("ROLLING 1-C", 20, rows=5) == ["ROLLING 1-C"]
    assert big_text("ROLLING 1-C", 8, rows=3) == ["ROLLING…"]
    assert big_text("眩光-A", 40, rows=3) == ["眩光-A"]


# What it says.


@pytest.mark.parametrize(
    ("state", "more", "text", "kind"),
    [
        ("standing by", {}, "STAND BY", OUTLINED),
        ("counting", {"counting_s": 3.0}, "3", "counting"),
        ("counting", {"counting_s": 2.04}, "3", "counting"),
        ("counting", {"counting_s": 0.01}, "1", "counting"),
        ("rolling", {}, "ROLLING 1-C", "rolling"),
        ("holding", {"is_held": True}, "HELD 1-C", "held"),
        ("faulted", {}, "BROKE 1-C", "broke"),
        ("rolling", {"is_blacked_out": True}, "BLACKOUT", "blackout"),
    ],
)
def test_each_state_of_a_take_has_a_word_and_a_pattern(state: str, more: dict[str, Any], text: str, kind: str) -> None:
    banner = banner_of(snapshot(state, **more), None, 0.0)
    assert banner is not None
    assert (banner.text, banner.kind) == (text, kind)


def test_a_take_that_waits_for_its_operator_says_for_which_cue() -> None:
    banner = banner_of(snapshot("rolling", waits_for="go", next_cue="go"), None, 0.0)
    assert banner is not None
    assert (banner.small, banner.keys) == ("take 1-C · 2.1 s · waits for cue go", "ENTER fires cue go")


@pytest.mark.parametrize("state", ["idle", "holding"])
def test_a_take_that_is_still_being_prepared_or_written_down_is_neither_rolling_nor_held(state: str) -> None:
    """The player names it from when it was asked for, until its log is closed."""
    assert banner_of(snapshot(state), None, 0.0) is None


def test_a_rehearsal_is_no_take_and_no_player_says_nothing() -> None:
    assert banner_of(Snapshot(state="rolling", shot="1", time_s=1.0), None, 0.0) is None
    assert banner_of(None, None, 0.0) is None


def test_a_blackout_is_said_without_a_take_too_and_over_one_it_says_what_goes_on_beneath() -> None:
    alone = banner_of(Snapshot(state="holding", is_blacked_out=True), None, 0.0)
    over = banner_of(snapshot("rolling", is_blacked_out=True), None, 0.0)
    assert alone is not None
    assert over is not None
    assert (alone.text, alone.small, over.small) == (
        "BLACKOUT",
        "r lets the light back",
        "over take 1-C: rolling · r lets the light back",
    )


@pytest.mark.parametrize(
    ("end", "text", "kind", "small"),
    [
        (ended(), "DONE 1-C", "done", "take 1-C is complete"),
        (ended(missed=2), "INCOMPLETE 1-C", "bad", "take 1-C is incomplete: 2 packets missed"),
        (ended(lost={"sacn": "gone"}), "INCOMPLETE 1-C", "bad", "take 1-C is incomplete: sacn was lost"),
        (ended(chase_fault="no timecode came"), "INCOMPLETE 1-C", "bad", "take 1-C is incomplete: no timecode came"),
        (ended(blacked_out=1), "INCOMPLETE 1-C", "bad", "take 1-C is incomplete: a blackout lay over 1 packet"),
        (ended(was_cut=True), "CUT 1-C", "done", "take 1-C is cut"),
        (ended(was_cut=True, missed=1), "CUT 1-C", "bad", "take 1-C is cut: 1 packet missed"),
    ],
)
def test_the_end_of_a_take_is_said_for_six_seconds(end: Ended, text: str, kind: str, small: str) -> None:
    banner = banner_of(Snapshot(state="holding"), end, 5.9)
    assert banner is not None
    assert (banner.text, banner.kind, banner.small) == (text, kind, small)
    assert banner_of(Snapshot(state="holding"), end, 6.0) is None


def test_an_end_that_left_no_take_is_not_said_and_the_next_take_comes_before_the_end_of_the_last() -> None:
    assert banner_of(None, ended(was_cut=True, counting_was_cut=True), 0.0) is None
    assert banner_of(None, Ended(take=0, slate=""), 0.0) is None
    following = banner_of(snapshot("counting", counting_s=2.0), ended(), 1.0)
    assert following is not None
    assert following.text == "2"


# How it looks.

EVERY_KIND = [Banner("DONE 1-C", kind, "below") for kind in (*PATTERNS, OUTLINED)]


def test_every_state_is_told_from_every_other_without_its_word_and_without_colour() -> None:
    drawn = {banner.kind: tuple(banner_lines(banner, *SMALL)) for banner in EVERY_KIND}
    assert len(set(drawn.values())) == len(drawn) == 9


@pytest.mark.parametrize("size", [SMALL, LARGE, (40, 12), (20, 10), (200, 50)])
@pytest.mark.parametrize("text", ["ROLLING 1-C", "INCOMPLETE macroscopic-AB", "HELD 眩光眩光眩光-A", ""])
def test_a_band_is_as_wide_as_the_screen_and_never_wider(size: tuple[int, int], text: str) -> None:
    for kind in (*PATTERNS, OUTLINED):
        *band, small = banner_lines(Banner(text, kind, "take 眩光眩光眩光-A is complete" * 9), *size)
        assert {cell_len(line) for line in band} == {size[0]}
        assert cell_len(small) <= size[0]


def test_a_shot_with_a_long_name_has_its_state_large_and_its_name_below() -> None:
    banner = banner_of(snapshot("rolling").changed(slate="macroscopic-AB"), None, 0.0)
    assert banner is not None
    lines = banner_lines(banner, *SMALL)
    assert [line.strip("█ ") for line in lines[:3]] == [
        line.strip("█ ") for line in banner_lines(Banner("ROLLING", "rolling"), *SMALL)[:3]
    ]
    assert lines[3].strip() == "take macroscopic-AB · 2.1 s"


def test_a_window_that_looks_on_is_told_no_keys() -> None:
    banner = banner_of(Snapshot(state="holding"), ended(), 1.0)
    assert banner is not None
    assert banner_lines(banner, *SMALL)[-1].strip() == "take 1-C is complete · o circles it, x rejects it, y notes"
    assert banner_lines(banner, *SMALL, is_watching=True)[-1].strip() == "take 1-C is complete"


SAID = {
    "stand-by": banner_of(snapshot("standing by"), None, 0.0),
    "count": banner_of(snapshot("counting", counting_s=2.6), None, 0.0),
    "rolling": banner_of(snapshot("rolling", next_cue="go"), None, 0.0),
    "held": banner_of(snapshot("holding", is_held=True), None, 0.0),
    "cut": banner_of(None, ended(was_cut=True), 0.0),
    "done": banner_of(None, ended(), 0.0),
    "incomplete": banner_of(None, ended(missed=2), 0.0),
    "blackout": banner_of(Snapshot(state="holding", is_blacked_out=True), None, 0.0),
}


class Bands(App[None]):
    """A screen with some banners, one below the other."""

    def __init__(self, *names: str) -> None:
        super().__init__()
        self._names = names
        self.bands = [TakeBanner() for _ in names]

    def compose(self) -> ComposeResult:
        """Yield them."""
        yield from self.bands

    def on_mount(self) -> None:
        """Say what each is to say."""
        self.register_theme(DARK)
        self.theme = DARK.name
        for band, name in zip(self.bands, self._names, strict=True):
            band.show(SAID[name], *self.size)
            band.styles.margin = (0, 0, 1, 0)


@pytest.mark.parametrize("size", [SMALL, LARGE], ids=["80x24", "120x40"])
@pytest.mark.parametrize(
    "names", [("stand-by", "count", "rolling", "held"), ("cut", "done", "incomplete", "blackout")], ids=["runs", "over"]
)
def test_banners(snap_compare: Any, names: tuple[str, ...], size: tuple[int, int]) -> None:
    """Four of them on a screen."""
    assert snap_compare(Bands(*names), terminal_size=size)


async def test_a_banner_takes_no_line_while_nothing_is_to_be_said() -> None:
    app = Bands("rolling")
    async with app.run_test(size=SMALL) as pilot:
        (band,) = app.bands
        assert band.size.height == band.show(SAID["rolling"], *SMALL) == 4
        assert band.show(None, *SMALL) == 0
        await pilot.pause()
        assert not band.display or band.size.height == 0
